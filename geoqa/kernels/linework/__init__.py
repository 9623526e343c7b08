"""Which lines and pairs the shots made."""
