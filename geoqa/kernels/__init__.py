"""The arithmetic of the trade: arrays in, arrays out, no files, no tables, no frames."""
