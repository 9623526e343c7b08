"""Names in the table of declared precisions that are no kinds."""


def of_file(source: str) -> str:
    """What the shots of one file are called there.

    Examples
    --------
    >>> of_file("station")
    'file: station'
    """
    return f"file: {source}"
