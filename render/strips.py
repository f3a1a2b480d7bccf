"""Work on each pixel alone, in strips of rows: what is made on the way stays in the processor's cache."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from render import threads
from render.fields import Array, Resampled

Result = TypeVar("Result")

_PIXELS = 1 << 17  # of a strip: shorter ones are slower by numpy's own share of each call


def each(work: Callable[..., Array], *fields: NDArray | Resampled, out: Array | None = None) -> Array:
    """Return ``work(*fields)`` as float32 (rows, cols), done strip by strip; written to ``out``, which may be a field.

    ``work`` looks at one pixel at a time, so that no bit depends on where the strips lie; it must not change what it
    is given. Fields of shape (1, 1) hold everywhere; those of another grid are resampled strip by strip.
    """
    shape = np.broadcast_shapes(*(one.shape for one in fields))
    whole = [one if isinstance(one, Resampled) else np.broadcast_to(one, shape) for one in fields]
    out = np.empty(shape, np.float32) if out is None else out

    def strip(rows: slice) -> None:
        out[rows] = work(*(one[rows] for one in whole))

    by_rows(strip, shape)
    return out


def parts(shape: tuple[int, ...], pixels: int | None = None) -> list[slice]:
    """Return the rows of strips of about so many ``pixels``."""
    return threads.bands(shape[0], max(1, (pixels or _PIXELS) // shape[1]))


def by_rows(work: Callable[[slice], Result], shape: tuple[int, ...], pixels: int | None = None) -> list[Result]:
    """Return ``work`` of some rows after the other, about so many ``pixels``, by more than one processor where it pays.

    The work on one strip must not depend on another's.
    """
    return threads.each(work, parts(shape, pixels), shape[0] * shape[1] >= threads.FEW_PIXELS)
