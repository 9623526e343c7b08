"""Work of a score spread over the cores of the machine."""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Any

import pytest


def on_every_core(work: Callable[..., Any], items: Sequence[tuple[Any, ...]]) -> list[Any]:
    """Results in the order of the items, whichever process made them."""
    if len(items) == 1:
        return [work(*items[0])]
    # a new interpreter each, so that the libraries below numpy take one core and not all of them
    with (
        pytest.MonkeyPatch.context() as patch,
        ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn")) as pool,
    ):
        for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
            patch.setenv(name, "1")
        return list(pool.map(work, *zip(*items, strict=True)))
