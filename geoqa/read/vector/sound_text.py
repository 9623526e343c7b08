"""Text from a file that any encoding can write again."""

from __future__ import annotations


def sound_text(text: str) -> str:
    r"""Put the replacement character for halves of characters, which no file can be written with.

    Examples
    --------
    >>> sound_text("curb\ud800") == "curb\ufffd", sound_text("Straße")
    (True, 'Straße')
    """
    if text.isascii():
        return text
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def sound_value(value: object) -> object:
    """Do so where a value is text."""
    return sound_text(value) if isinstance(value, str) else value
