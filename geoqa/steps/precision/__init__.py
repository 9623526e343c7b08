"""How uncertain each shot is, and what that lets one prove."""
