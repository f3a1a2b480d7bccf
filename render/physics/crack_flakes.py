"""Cracks of a drying film: which pieces hang loose, and how they break away.

A piece of film that slid on its base has curled off it; some pieces hang by little. When they are knocked they fall
in groups, mostly along cracks, and where a crack is not at hand the film tears: the outline is ragged, and a sloping
ledge of fresh film stays between the surface and what lies beneath.

All lengths are inches on the wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.special import ndtr

from render import fields, seeds
from render.fields import Array, Grid
from render.physics.crack_division import F8
from render.physics.crack_drawing import CrackFields, Window, curled
from render.physics.crack_opening import Cells

_SLIDES, _FREE = 0.16, 0.42  # slip from which film can come away, and from which nothing holds it: chosen by eye
_OUTLINE_PPI = 25.0  # outlines are rounded on a grid no finer than this
_ROUND_IN = 0.045  # how far tearing rounds an outline off
_DEEP_IN = 0.12  # how far inside an outline its distance is still told
_RAGGED_IN = 0.014  # how far it strays from the crack (root mean square)


def scores(cells: Cells, cluster: F8, key: int) -> F8:
    """Return how ready each cell is to fall, 0 to 1, shape (cells,).

    Chance, its neighbourhood (``cluster``: unit-variance noise at the cells' centres, so that pieces fall in groups)
    and its size (a wide plate catches more knocks and has curled more) share it out.
    """
    chance = seeds.hash_unit(cells.name, key)
    z = 2.1 * cluster + 1.15 * (chance - 0.5) + 0.35 * np.log2(np.clip(cells.size, 0.05, 3.0))
    z += 2.2 * np.clip((chance - 0.93) / 0.07, 0.0, 1.0)  # a few go singly, wherever they are
    return np.asarray(ndtr(z / 1.6))


def looseness(cracks: CrackFields, cells: Cells, score: F8, slip: Array, grid: Grid, key: int) -> Array:
    """Return how loosely each pixel's piece hangs, 0 held to 1 ready to fall: float32 (rows, cols).

    Only where the base slips (``slip``, (rows, cols)) can it be above 0. Within one piece it falls off to one side, so
    that the last pieces to fall break across instead of leaving whole.
    """
    if slip.max() <= _SLIDES:
        return np.zeros(grid.shape, np.float32)
    turn = 2.0 * np.pi * seeds.hash_unit(cells.name, key + 1)
    slope = (0.035 / np.maximum(cells.size, 0.05))[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    window = Window(grid.rows, grid.cols, grid.ppi)
    loose = curled(cells, cracks.runs, window, np.zeros(len(slope)), slope, 0.08 + 0.84 * score)
    loose += np.float32(0.003) * fields.lattice(grid, 0.9, key)
    np.clip(loose, 0.01, 1.0, out=loose)
    free = slip - np.float32(_SLIDES)
    free *= np.float32(1.0 / (_FREE - _SLIDES))
    loose *= np.clip(free, 0.0, 1.0, out=free)
    if not (cells.opening > 0).all():
        loose *= cracks.spread((cells.opening > 0).astype(np.float32))  # film without a crack has no rim to lift
    return loose


@dataclass(frozen=True)
class Break:
    """What came away: float32 (rows, cols).

    Attributes
    ----------
    gone
        Share of the film that is gone, 0 to 1: 1 in the hole, less on the ledge.
    hole
        Share of the pixel that is hole, 0 to 1: the film is gone to the base.
    """

    gone: Array
    hole: Array


def break_away(loose: Array, share: float, grid: Grid, key: int) -> Break:
    """Break away the loosest film until ``share`` of the wall is bare, or nothing loose is left.

    Parameters
    ----------
    loose
        From ``looseness``.
    share
        Most area of the wall to fall, 0 to 1; ledges count.
    grid, key
        The pixels, and the key of the ragged outline.
    """
    hangs = loose > 0
    wanted = min(round(share * loose.size), int(np.count_nonzero(hangs)))
    if wanted == 0:
        none = np.zeros(grid.shape, np.float32)
        return Break(none, none)
    level = fields.threshold(loose, wanted / loose.size)
    inside = _outline((loose >= level) & hangs, grid) + _ragged(grid, key)
    inside = np.where(hangs, inside, np.float32(-1.0))
    inside -= np.float32(max(fields.threshold(inside, wanted / loose.size), 0.0))
    return _ledged(inside, grid, key + 40)


def _outline(fallen: NDArray[np.bool_], grid: Grid) -> Array:
    """Return the distance from the rounded outline, inches, right within an eighth of an inch; positive inside."""
    coarse = grid.at(min(grid.ppi, _OUTLINE_PPI))
    share = fields.resample(fallen.astype(np.float32), grid, coarse)
    soft = gaussian_filter(share, _ROUND_IN * coarse.ppi, mode="nearest", truncate=3.0)
    deep = gaussian_filter(share, _DEEP_IN * coarse.ppi, mode="nearest", truncate=2.5)
    near, far = ((one - 0.5) * np.sqrt(2.0 * np.pi) * width for one, width in ((soft, _ROUND_IN), (deep, _DEEP_IN)))
    distance = near + np.maximum(far - 0.5 * np.sqrt(2.0 * np.pi) * _ROUND_IN, 0.0)
    return fields.resample(np.asarray(distance, np.float32), coarse, grid)


def _ragged(grid: Grid, key: int) -> Array:
    """Return how far a torn edge strays, inches: patches of clean break between ragged ones."""
    patchy = np.clip(0.75 + 0.6 * fields.lattice(grid, 1.3, key + 7), 0.15, 2.0)
    stray = np.float32(_RAGGED_IN) * patchy * fields.grain(grid, 0.21, key, 4, 0.7)
    return np.asarray(np.clip(stray, -0.042, 0.042), np.float32)


def _ledged(inside: Array, grid: Grid, key: int) -> Break:
    """Turn distances from the outline into what is gone: a ledge .15 to 3 mm wide slopes up from the hole."""
    wide = np.exp(np.float32(-3.7) + np.float32(0.75) * fields.grain(grid, 0.8, key, 3, 0.6))
    wide = np.clip(wide, 0.006, 0.118)
    rough = 1.0 + np.float32(0.25) * fields.lattice(grid, 0.07, key + 5)
    pixel = np.float32(1.0 / grid.ppi)
    gone = np.clip(inside / np.maximum(wide * rough, pixel), 0.0, 1.0)
    hole = np.clip((inside - wide) * np.float32(grid.ppi) + 0.5, 0.0, 1.0)
    return Break(np.asarray(gone, np.float32), np.asarray(np.minimum(hole, gone), np.float32))
