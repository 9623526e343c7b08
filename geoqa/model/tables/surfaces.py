"""The surfaces of a design that were read: named, and as yet compared with nothing."""

from geoqa.model.tables.layer import Layers


def surfaces(layers: Layers) -> list[str]:
    """Names of the surfaces that were read, sorted; none where no job line names one.

    Examples
    --------
    >>> from geoqa import testing
    >>> surfaces(testing.layers())
    []
    """
    if "surface_points" not in layers:
        return []
    return sorted(map(str, layers["surface_points"]["surface"].unique()))
