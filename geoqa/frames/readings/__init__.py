"""Which reading fits points that are known: of a frame, of a blunder of frame, of a scale."""
