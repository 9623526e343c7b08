"""Lines that the shots of a string make, and how they lie beside the design."""
