"""What lies beside the tests is a package of its own: it is installed elsewhere, and never imported here."""

collect_ignore = ["walk_width"]
