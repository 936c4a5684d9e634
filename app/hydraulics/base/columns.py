"""Columns of a long result filled block by block."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Columns = dict[str, NDArray[Any]]


def room(block: Columns, size: int) -> Columns:
    """Make room for the columns of all blocks; single figures (0-d) stay single.

    One piece of memory for all of them: the allocator hands a single large piece out again
    without giving its pages back first, which would cost more than the arithmetic does.
    """
    long = [key for key, values in block.items() if values.ndim and values.itemsize == 8]
    floor = np.empty((len(long), size))
    out = {key: row.view(block[key].dtype) for key, row in zip(long, floor, strict=True)}
    for key, values in block.items():
        if key not in out:
            out[key] = np.empty(size, values.dtype) if values.ndim else values
    return out


def put(out: Columns, block: Columns, piece: slice, size: int) -> None:
    """Copy a block to its place; a single figure stays single while all blocks agree."""
    for key, values in block.items():
        if out[key].ndim == 0:
            kept = float(out[key])
            here = np.nan if values.ndim else float(values)
            if values.ndim == 0 and (kept == here or (kept != kept and here != here)):
                continue
            out[key] = np.full(size, kept)
        out[key][piece] = values
