"""A setting of pyogrio's GDAL for as long as something is written or read, and no longer."""

from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def gdal_setting(name: str, value: str) -> Iterator[None]:
    """Hold a setting, and put back what it was.

    Examples
    --------
    >>> import pyogrio
    >>> with gdal_setting("DXF_INLINE_BLOCKS", "FALSE"):
    ...     print(pyogrio.get_gdal_config_option("DXF_INLINE_BLOCKS"))
    FALSE
    >>> print(pyogrio.get_gdal_config_option("DXF_INLINE_BLOCKS"))
    None
    """
    import pyogrio

    before = pyogrio.get_gdal_config_option(name)
    pyogrio.set_gdal_config_options({name: value})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({name: before})
