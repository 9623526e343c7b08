"""Files in, tables out: one format library a module, imported inside functions."""
