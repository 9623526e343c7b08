"""Where along the centre line of the job things are, and what its typical section asks for."""
