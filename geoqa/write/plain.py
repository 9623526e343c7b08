"""JSON that every reader takes: no NaN, no infinity, keys in order."""

import json
import math
from collections.abc import Mapping
from typing import Any


def plain(value: Any) -> Any:
    """Turn a value into what JSON can hold: missing is null, infinity is text.

    Examples
    --------
    >>> plain({"mean": float("nan"), "upper": float("inf"), "shots": (1, 2)})
    {'mean': None, 'upper': 'inf', 'shots': [1, 2]}
    """
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        each = [plain(one) for one in value]
        return sorted(each, key=repr) if isinstance(value, (set, frozenset)) else each
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float):
        return plain_float(value)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    return None if value != value else str(value)


def plain_float(value: float) -> float | str | None:
    """NaN as null, infinity as text, every other float as it is."""
    if math.isfinite(value):
        return value
    return None if math.isnan(value) else ("inf" if value > 0 else "-inf")


def as_text(value: Any, *, indent: int | None = 2) -> str:
    """Write a value as JSON, keys sorted."""
    return json.dumps(plain(value), ensure_ascii=False, allow_nan=False, indent=indent, sort_keys=True)
