"""The version, where every room can see it without importing the package above."""

VERSION = "0.1.0"
