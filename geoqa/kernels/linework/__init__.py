"""Lines and pairs that the shots make, and how they lie beside the design."""
