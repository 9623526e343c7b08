"""From bands of numbers to colours a screen can show: palettes, stretches, and transparency carried right."""

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

SAMPLE = 1_000_000
"""Values that are enough to find a stretch."""
SHARES = (2.0, 98.0)
"""Percentiles that become black and white where values are not bytes."""


def stretched(bands: NDArray[np.generic], valid: NDArray[np.bool_]) -> tuple[Bytes, str]:
    """Make bytes of bands that hold other numbers, with one stretch for all so that colours keep their balance.

    Parameters
    ----------
    bands : (b, h, w) array
        Whole numbers or floats.
    valid : (h, w) bool array
        Pixels that hold something.

    Returns
    -------
    (b, h, w) array of uint8
    str
        The stretch, in words.

    Examples
    --------
    >>> ramp = np.arange(101.0).reshape(1, 1, 101)
    >>> made, told = stretched(ramp, np.ones((1, 101), bool))
    >>> made[0, 0, [0, 2, 50, 98, 100]].tolist(), told
    ([0, 0, 128, 255, 255], 'values 2 to 98 are drawn from black to white')
    """
    seen = bands[:, valid].ravel()
    seen = seen[:: len(seen) // SAMPLE + 1].astype(float)
    seen = seen[np.isfinite(seen)]
    low, high = (float(each) for each in np.percentile(seen, SHARES)) if seen.size else (0.0, 0.0)
    told = f"values {low:.5g} to {high:.5g} are drawn from black to white"
    if high <= low:
        return np.full(bands.shape, 128, np.uint8), told
    share = (np.nan_to_num(bands.astype(np.float32), nan=low) - np.float32(low)) / np.float32(high - low)
    return (np.clip(share, 0, 1) * 255 + 0.5).astype(np.uint8), told


def palette(colours: dict[int, tuple[int, ...]]) -> Bytes:
    """Table of colours, (4, n), weighted as by `weighted`; what a palette does not name is transparent.

    Examples
    --------
    >>> palette({0: (200, 0, 0, 255), 2: (0, 0, 200, 127)}).T.tolist()
    [[200, 0, 0, 255], [0, 0, 0, 0], [0, 0, 100, 127]]
    """
    table = np.zeros((4, max(colours, default=0) + 1), np.uint8)
    for value, colour in colours.items():
        table[:, value] = (*colour, 255)[:4]
    return weighted(table[:3], table[3])


def coloured(values: NDArray[np.integer], table: Bytes, valid: Bytes) -> Bytes:
    """Weighted colours (4, h, w) of palette values (h, w), none where `valid` (h, w) is 0."""
    every = np.zeros((4, np.iinfo(values.dtype).max + 1), np.uint8)
    every[:, : table.shape[1]] = table[:, : every.shape[1]]
    made = np.stack([band[values] for band in every])
    if not valid.all():
        made[:, valid == 0] = 0
    return made


def weighted(colours: Bytes, alpha: Bytes) -> Bytes:
    """Colours (3, h, w) times their opacity, with it as fourth band: what may be averaged without dark fringes."""
    share = alpha.astype(np.uint16)
    made = [((band * share + 127) // 255).astype(np.uint8) for band in colours]
    return np.stack([*made, alpha])


def plain(weights: Bytes) -> Bytes:
    """Undo `weighted`; three bands (3, h, w) where nothing is transparent, else four."""
    alpha = weights[3]
    if (alpha == 255).all():
        return weights[:3]
    share = np.maximum(alpha, 1).astype(np.uint16)
    colours = [np.minimum((band * np.uint16(255) + share // 2) // share, 255).astype(np.uint8) for band in weights[:3]]
    return np.stack([*(np.where(alpha == 0, 0, band).astype(np.uint8) for band in colours), alpha])


def block_means(bands: Bytes, factor: int) -> Bytes:
    """Means of `factor` by `factor` pixels; a block cut off by the edge is thinned by what it lacks.

    Examples
    --------
    >>> block_means(np.array([[[0, 100, 200], [100, 200, 0]]], np.uint8), 2).tolist()
    [[[100, 50]]]
    """
    if factor == 1:
        return bands
    count, height, width = bands.shape
    rows, columns = -(-height // factor), -(-width // factor)
    full = np.zeros((count, rows * factor, columns * factor), np.uint8)
    full[:, :height, :width] = bands
    # down first: whole rows are added at once
    sums = full.reshape(count, rows, factor, columns * factor).sum(axis=2, dtype=np.uint32)
    sums = sums.reshape(count, rows, columns, factor).sum(axis=3, dtype=np.uint32)
    return ((sums + factor * factor // 2) // (factor * factor)).astype(np.uint8)
