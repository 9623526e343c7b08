"""Tables: their columns, their names, and what a step may do to them."""
