"""Check collected survey shots against control and design, with an uncertainty behind every verdict."""

__version__ = "0.1.0"
