"""Steps that ask what surface was built."""
