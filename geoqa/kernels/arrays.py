"""The kinds of arrays that kernels take and give; shapes and units stand in the docstrings."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""Measured and worked-out numbers; missing is NaN."""

Integers = NDArray[np.int64]
"""Rows, numbers of groups and counts; -1 stands for none."""

Booleans = NDArray[np.bool_]
"""One truth for each row."""
