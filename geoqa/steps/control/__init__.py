"""Check shots against control marks."""
