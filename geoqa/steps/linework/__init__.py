"""Lines and pairs that the shots made, and numbers of several shots."""
