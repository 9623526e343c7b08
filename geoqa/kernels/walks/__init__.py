"""Whether a walk and its ramps can be used."""
