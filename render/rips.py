"""How plaster tears under a blade, at all sizes at once: one sheet of rips, read along the strokes at many scales.

The sheet repeats without a seam, so it can be small. It is built from its largest rips down, each size laid on straight
lines between those before it: outlines cut from it have straight flanks and corners, not the round lobes of noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render import strips
from render.fields import Array, Grid
from render.seeds import Streams
from render.strokes import Strokes
from render.wall import frozen

_PITCH = 32  # rows, and columns, of the sheet to one of its largest rips
_LARGEST = (32, 8)  # of them across the strokes, and along
_SIZES = 5  # each half of that before; the finest are two rows and two columns of the sheet wide
_GAIN = 0.5  # how much weaker each is; chosen by eye: ragged at every size, with no dust at the finest
_CLOSES = 48.0  # columns over which a rip closes by one standard deviation of the largest, after it opened at once
_FAR = 1 << 14  # beyond every place, in pixels of the sheet: places below 0 are read like the others


@dataclass(frozen=True)
class Scale:
    """At what size a sheet is read: width of the largest rips, inches, and their length over their width.

    ``apart`` shifts the place by so many rows of the sheet: readings of one sheet have nothing to do with each other.
    """

    pitch_in: float
    stretch: float
    apart: int = 0


@dataclass(frozen=True, eq=False)
class Rips:
    """A sheet of rips of unit variance, float32 (across the strokes, along them); both sizes are powers of two."""

    sheet: Array

    @classmethod
    def of(cls, streams: Streams) -> Rips:
        """Draw the sheet of a coat."""
        rng = streams.rng("rips")
        sheet, strength = _white(rng, _LARGEST), np.float32(1.0)
        for _ in range(_SIZES - 1):
            strength *= np.float32(_GAIN)
            sheet = np.roll(_doubled(sheet), rng.integers(0, 4, 2), (0, 1))  # no size lies square on another
            sheet += strength * _white(rng, sheet.shape)
        sheet = _doubled(sheet)
        return cls(frozen(_opened(sheet)))

    @property
    def nbytes(self) -> int:
        """The bytes of the sheet."""
        return self.sheet.nbytes

    def along(self, sweep: Strokes, grid: Grid, scale: Scale) -> Array:
        """Return the rips along strokes on the output or plan grid: about unit variance, fading at a stroke's rim."""
        tall, wide = _PITCH / scale.pitch_in, _PITCH / (scale.pitch_in * scale.stretch)
        (sheet, down, right), (along, across, fade) = self._seen(tall / grid.ppi, wide / grid.ppi), sweep.places(grid)
        last_row, last_col = (np.int32(count - 1) for count in sheet.shape)
        rows, first_row = np.float32(tall / down), np.float32((_FAR + scale.apart) / down)
        cols, first_col = np.float32(wide / right), np.float32(_FAR / right)

        def read(along: Array, across: Array, fade: Array) -> Array:
            at = (across * rows + first_row).astype(np.int32)
            at &= last_row
            at *= last_col + np.int32(1)
            col = (along * cols + first_col).astype(np.int32)
            col &= last_col
            at += col
            return np.take(sheet.ravel(), at) * fade

        return strips.each(read, along, across, fade)

    def _seen(self, rows: float, cols: float) -> tuple[Array, int, int]:
        """Return the sheet averaged over a pixel of so many rows and columns, and its thinning down and across."""
        sheet, down, right = self.sheet, 1, 1
        while rows / down >= 3.0 and sheet.shape[0] > 1:
            sheet, down = np.float32(0.5) * (sheet[::2] + sheet[1::2]), 2 * down
        while cols / right >= 2.0 and sheet.shape[1] > 1:
            sheet, right = np.float32(0.5) * (sheet[:, ::2] + sheet[:, 1::2]), 2 * right
        if rows / down >= 1.5:
            sheet = (sheet + np.roll(sheet, 1, axis=0) + np.roll(sheet, -1, axis=0)) * np.float32(1.0 / 3.0)
        return np.ascontiguousarray(sheet), down, right


def _white(rng: np.random.Generator, shape: tuple[int, ...]) -> Array:
    """Return white noise, uniform, of mean 0 and variance 1."""
    white = rng.random(shape, np.float32)
    white -= np.float32(0.5)
    white *= np.float32(12.0**0.5)
    return white


def _doubled(sheet: Array) -> Array:
    """Return a sheet of twice the rows and columns, new ones halfway between the old; the last are beside the first."""
    rows, cols = sheet.shape
    fine = np.empty((2 * rows, 2 * cols), np.float32)
    fine[::2, ::2] = sheet
    np.add(sheet, np.roll(sheet, -1, axis=1), out=fine[::2, 1::2])
    fine[::2, 1::2] *= np.float32(0.5)
    np.add(fine[::2], np.roll(fine[::2], -1, axis=0), out=fine[1::2])
    fine[1::2] *= np.float32(0.5)
    return fine


def _opened(sheet: Array) -> Array:
    """Return rips that open at once along the rows and close slowly, of mean 0 and variance 1."""
    twice = np.concatenate((sheet, sheet), axis=1)  # the first time round only says what is still open
    fall = (np.arange(twice.shape[1]) / _CLOSES).astype(np.float32)
    twice += fall
    np.maximum.accumulate(twice, axis=1, out=twice)
    twice -= fall
    opened = np.ascontiguousarray(twice[:, sheet.shape[1] :])
    opened -= opened.mean()
    opened /= opened.std()
    return opened
