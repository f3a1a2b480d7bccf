"""Block lines on a wall: where the courses and the blocks of a bond lie, set out by a hand with a rule and a line.

Lines of the same layout fall on the same places whatever the layer is called, so a colour can be ruled into joints
that were cut before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds
from render.fields import Array, Grid

Pattern = Literal["running", "stacked", "broken"]
LEAST_IN = 1.0  # the smallest block


@dataclass(frozen=True)
class Bond:
    """A layout of blocks: sizes and the hand's wander in inches.

    ``running`` sets each course half a block on; ``stacked`` sets none; ``broken`` sets each by chance. ``vary``, 0 to
    .4, is by how much blocks differ in length at most, and half as much courses in height. Without it the first block
    stands in the wall's top left corner; with it the wall is cut out of a longer one.
    """

    height_in: float
    width_in: float
    pattern: Pattern = "running"
    wander_in: float = 0.06
    vary: float = 0.0

    def key(self, pour: int) -> int:
        """Return the key of the layout in a pour: the same for every layer that draws it."""
        return seeds.key(pour, "bond", self.pattern, f"{self.height_in:.3f}", f"{self.width_in:.3f}")

    def origin(self, key: int) -> tuple[float, float]:
        """Return how much of the first course and of its first block lies beyond the wall: never all but a sliver."""
        if self.vary <= 0.0:
            return 0.0, 0.0
        own = seeds.hash_lattice(np.arange(1), np.arange(2), key + 4)[0]
        return 0.55 * float(own[0]), float(own[1])


@dataclass(frozen=True, eq=False)
class Lines:
    """A bond drawn on a grid.

    ``down`` and ``right`` float32 (rows, cols): inches below the nearest bed and right of the nearest upright.
    ``bed``, ``upright`` and ``block`` uint64 (rows, cols): the number of each, for hashed attributes.
    ``spare`` float32 (rows, cols): where an upright is drawn on past its bed, inches to its end; elsewhere infinite.
    """

    down: Array
    right: Array
    bed: NDArray[np.uint64]
    upright: NDArray[np.uint64]
    block: NDArray[np.uint64]
    spare: Array

    @cached_property
    def away(self) -> Array:
        """Inches to the nearest line's middle, float32 (rows, cols)."""
        return np.minimum(np.abs(self.down), np.abs(self.right))

    @cached_property
    def level(self) -> NDArray[np.bool_]:
        """Whether that line runs across the wall."""
        return np.asarray(np.abs(self.down) <= np.abs(self.right))


def draw(grid: Grid, bond: Bond, pour: int, shift_in: float = 0.0, past_in: float = 0.0) -> Lines:
    """Return the lines of a bond on a grid, moved down and right by ``shift_in``.

    A hand draws its uprights up to ``past_in`` beyond the beds, each by its own measure.
    """
    key, tall, wide = bond.key(pour), max(bond.height_in, LEAST_IN), max(bond.width_in, LEAST_IN)
    rows, cols = _bent(grid, bond.wander_in, key, shift_in)
    off_r, off_c = bond.origin(key)
    rows, cols = rows / np.float32(tall) + np.float32(off_r), cols / np.float32(wide) + np.float32(off_c)
    beds, first = _beds(rows, bond, key, tall)
    course, bed, down = _between(rows, beds, first)
    uprights = _Uprights(bond, key, wide, course, cols)
    block, side, right = uprights.of(cols, course)
    owner, spare = course, np.broadcast_to(np.float32(np.inf), right.shape)
    if past_in > 0.0:
        owner, spare = course.copy(), spare.copy()
        _run_past(down * np.float32(tall), uprights, (cols, owner, side, right, spare), past_in, key + 5)
    upright = _number(owner, side, key)
    down *= np.float32(tall)
    right *= np.float32(wide)
    return Lines(down, right, _number(bed, -1, key), upright, _number(course, block, key + 2), spare)


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


_MOST_VARY = 0.4  # of a block: with it and the wander, ends keep their order


def _jitter(wander: float, size: float, vary: float) -> float:
    """Return how far, in blocks, an end may stand from its place."""
    return min(wander / size, 0.2) + 0.5 * min(vary, _MOST_VARY)


def _beds(rows: Array, bond: Bond, key: int, tall: float) -> tuple[NDArray[np.float32], int]:
    """Return where the beds stand, in courses, (1, n), and the number of the first."""
    first, last = math.floor(float(rows.min())) - 2, math.floor(float(rows.max())) + 3
    own = seeds.hash_lattice(np.arange(first, last + 1), np.arange(1), key)[:, 0]
    ends = np.arange(first, last + 1) + (own - 0.5) * 2.0 * _jitter(bond.wander_in, tall, 0.5 * bond.vary)
    return np.asarray(ends[None, :], np.float32), first


class _Uprights:
    """Where the uprights of all courses on a grid stand, in blocks."""

    def __init__(self, bond: Bond, key: int, wide: float, course: NDArray[np.int64], cols: Array) -> None:
        """Set the uprights out for the courses of a grid and those next to them."""
        self.top, low = int(course.min()) - 1, int(course.max()) + 1
        self.slide = _slides(self.top, low, bond.pattern, key).astype(np.float32)
        self.first = math.floor(float(cols.min()) - float(self.slide.max())) - 2
        k = np.arange(self.first, math.floor(float(cols.max()) - float(self.slide.min())) + 4)
        own = seeds.hash_lattice(np.arange(self.top, low + 1), k, key + 1)
        self.ends = np.asarray(k + (own - 0.5) * 2.0 * _jitter(bond.wander_in, wide, bond.vary), np.float32)

    def of(self, cols: Array, course: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64], Array]:
        """Return for places in courses the block, its nearest upright, and blocks to the right of that."""
        row = course - self.top
        return _between(cols - self.slide[row], self.ends, self.first, row)


def _between(
    place: Array, ends: NDArray[np.float32], first: int, row: NDArray[np.int64] | int = 0
) -> tuple[NDArray[np.int64], NDArray[np.int64], Array]:
    """Return the interval that a place lies in, the nearest of its ends, and how far beyond that it lies.

    ``ends`` (courses, n) rise along a row and stand within half an interval of the whole numbers from ``first`` on;
    ``row`` is the one that holds for a place.
    """
    flat, base = ends.ravel(), np.asarray(row) * ends.shape[1] - first
    at = np.floor(place).astype(np.int64)
    at += base
    at -= place < flat.take(at)
    at += place >= flat.take(at + 1)
    low, high = place - flat.take(at), place - flat.take(at + 1)
    later = low > -high
    at -= base
    return at, at + later, np.where(later, high, low)


def _run_past(
    down: Array, uprights: _Uprights, drawn: tuple[Array, NDArray[np.int64], NDArray[np.int64], Array, Array],
    past: float, key: int,
) -> None:  # fmt: skip
    """Draw the uprights of the next course on past its bed: of ``drawn`` (columns in blocks, course, upright, blocks
    right of it, inches to spare) all but the columns change in place.
    """
    cols, right, spare = drawn[0].ravel(), drawn[3].ravel(), drawn[4].ravel()
    course, side = drawn[1].ravel(), drawn[2].ravel()
    near = np.flatnonzero(np.abs(down) < past)
    over = down.ravel()[near]
    other = course[near] + np.where(over > 0, -1, 1)
    _, their, beyond = uprights.of(cols[near], other)
    ends = _number(2 * other + (over > 0), their, key)
    left = np.float32(past) * seeds.hash_unit(ends, key) - np.abs(over)
    wins = left > 0.0
    wins &= np.abs(beyond) < np.abs(right[near])
    at = near[wins]
    course[at], side[at], right[at], spare[at] = other[wins], their[wins], beyond[wins], left[wins]


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
