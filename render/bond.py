"""Block lines on a wall: where the courses and the blocks of a bond lie, set out by a hand with a rule and a line.

Lines of the same layout fall on the same places whatever the layer is called, so a colour can be ruled into joints
that were cut before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds
from render.fields import Array, Grid

Pattern = Literal["running", "stacked", "broken"]
LEAST_IN = 1.0  # the smallest block


@dataclass(frozen=True)
class Bond:
    """A layout of blocks from the wall's top left corner: sizes and the hand's wander in inches.

    ``running`` sets each course half a block on; ``stacked`` sets none; ``broken`` sets each by chance.
    """

    height_in: float
    width_in: float
    pattern: Pattern = "running"
    wander_in: float = 0.06

    def key(self, pour: int) -> int:
        """Return the key of the layout in a pour: the same for every layer that draws it."""
        return seeds.key(pour, "bond", self.pattern, f"{self.height_in:.3f}", f"{self.width_in:.3f}")


@dataclass(frozen=True, eq=False)
class Lines:
    """A bond drawn on a grid.

    ``away`` float32 (rows, cols): inches to the nearest line's middle. ``level`` bool: that line runs across the wall.
    ``line`` and ``block`` uint64 (rows, cols): the number of that line and of the block, for hashed attributes.
    """

    away: Array
    level: NDArray[np.bool_]
    line: NDArray[np.uint64]
    block: NDArray[np.uint64]


def draw(grid: Grid, bond: Bond, pour: int, shift_in: float = 0.0) -> Lines:
    """Return the lines of a bond on a grid, moved down and right by ``shift_in``."""
    key, tall, wide = bond.key(pour), max(bond.height_in, LEAST_IN), max(bond.width_in, LEAST_IN)
    rows, cols = _bent(grid, bond.wander_in, key, shift_in)
    course, bed, over = _nearest(rows / np.float32(tall), key, bond.wander_in / tall)
    first = int(course.min())
    slide = _slides(first, int(course.max()), bond.pattern, key)[course - first].astype(np.float32)
    block, side, beside = _nearest(cols / np.float32(wide) - slide, key + 1, bond.wander_in / wide)
    over, beside = over * np.float32(tall), beside * np.float32(wide)
    level = over <= beside
    line = np.where(level, _number(bed, -1, key), _number(course, side, key))
    return Lines(np.minimum(over, beside), level, line, _number(course, block, key + 2))


def _number(course: NDArray[np.int64], along: NDArray[np.int64] | int, key: int) -> NDArray[np.uint64]:
    """Return a scrambled number for a course and a place along it."""
    pair = (course + 4096) * (1 << 20) + (np.asarray(along) + 4096)
    return seeds.mix64(pair.astype(np.uint64) ^ np.uint64(key & ((1 << 64) - 1)))


def _bent(grid: Grid, wander: float, key: int, shift: float) -> tuple[Array, Array]:
    """Return rows and columns in inches as the hand's lines see them: a rule slips and a line sags by ``wander``."""
    plan = grid.plan

    def bend(purpose: int) -> Array:
        slow = fields.fbm(plan, 17.0, key + purpose, 2, 0.5) + 0.22 * fields.lattice(plan, 1.3, key + purpose + 7)
        return fields.resample(np.asarray(0.6 * wander * slow, np.float32), plan, grid)

    rows = grid.row_in[:, None].astype(np.float32) - np.float32(shift) + bend(11)
    cols = grid.col_in[None, :].astype(np.float32) - np.float32(shift) + bend(31)
    return rows, cols


def _nearest(place: Array, key: int, jitter: float) -> tuple[NDArray[np.int64], NDArray[np.int64], Array]:
    """Return the interval that a place lies in, the nearest of its ends, and the distance to that, in intervals.

    Ends stand at the whole numbers, each moved by a hashed jitter.
    """
    nearest = np.rint(place).astype(np.int64)
    low, high = int(nearest.min()), int(nearest.max())
    moved = seeds.hash_lattice(np.arange(low, high + 1), np.arange(1), key)[:, 0]
    ends = np.arange(low, high + 1) + (moved - 0.5) * 2.0 * min(jitter, 0.2)
    off = place - ends[nearest - low].astype(np.float32)
    return np.where(off < 0, nearest - 1, nearest), nearest, np.abs(off)


def _slides(first: int, last: int, pattern: Pattern, key: int) -> NDArray[np.float64]:
    """Return how far each course is set on, in blocks."""
    course = np.arange(first, last + 1)
    if pattern == "stacked":
        return np.full(course.size, 0.5)
    if pattern == "running":
        return np.asarray(0.5 + 0.5 * (course % 2), np.float64)
    own = seeds.hash_lattice(course, np.arange(1), key + 3)[:, 0]
    return np.asarray(0.5 * (course % 2) + 0.2 + 0.36 * own, np.float64)


def share(bond: Bond, width_in: float) -> float:
    """Return the share of a large wall that lines of a width take, 0 to 1."""
    tall, wide = max(bond.height_in, LEAST_IN), max(bond.width_in, LEAST_IN)
    clear = max(0.0, 1.0 - width_in / tall) * max(0.0, 1.0 - width_in / wide)
    return min(1.0, 1.0 - clear) if math.isfinite(clear) else 1.0
