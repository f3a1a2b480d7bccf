"""Work on each pixel alone, in strips of rows: what is made on the way stays in the processor's cache."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from render import threads
from render.fields import Array

_PIXELS = 1 << 17  # of a strip: shorter ones are slower by numpy's own share of each call
_SHARED_PIXELS = 1 << 19  # from so many pixels on more than one processor pays


def each(work: Callable[..., Array], *fields: NDArray) -> Array:
    """Return ``work(*fields)`` as float32 (rows, cols), done strip by strip.

    ``work`` looks at one pixel at a time, so that no bit depends on where the strips lie; it must not change what it
    is given. Fields of shape (1, 1) hold everywhere.
    """
    shape = np.broadcast_shapes(*(one.shape for one in fields))
    whole = [np.broadcast_to(one, shape) for one in fields]
    out = np.empty(shape, np.float32)

    def strip(rows: slice) -> None:
        out[rows] = work(*(one[rows] for one in whole))

    by_rows(strip, shape, _PIXELS)
    return out


def by_rows(work: Callable[[slice], None], shape: tuple[int, ...], pixels: int) -> None:
    """Do ``work`` for some rows after the other, about so many ``pixels``, by more than one processor where it pays.

    The work on one strip must not depend on another's.
    """
    tall = max(1, pixels // shape[1])
    threads.each(work, threads.bands(shape[0], tall), shape[0] * shape[1] >= _SHARED_PIXELS)
