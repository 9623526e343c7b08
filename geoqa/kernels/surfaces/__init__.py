"""What surface was built, and how far it lies from the designed one."""
