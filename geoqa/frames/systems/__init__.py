"""What a coordinate system is: found by its code or definition, measured in its own unit, used in its own area."""
