"""Cracks of a drying film: how they stray from their course, and noise along them.

A crack in a grainy film strays at every scale. Straying is drawn once and for all in a few hundred ready courses, in
shares of a crack's length, and every crack takes one by its name.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import seeds

F4 = NDArray[np.float32]
F8 = NDArray[np.floating[Any]]
I8 = NDArray[np.int64]
U8 = NDArray[np.uint64]

SHORTEST_IN = 0.09
"""Shortest wave of a course, inches: shorter ones are added where the picture shows them."""
GOLDEN = np.uint64(0x9E3779B97F4A7C15)
# How many courses there are of the coarsest, and of how many values; how far they stray; the purpose of their chance.
_MANY, _COARSEST, _STRAYS, _WANDER = 256, 16, 2.0, 7


def along(name: U8, place: F8, octave: int | NDArray[np.int64], purpose: int, kinked: NDArray[np.bool_] | bool) -> F8:
    """Return noise in -1 to 1 along cracks: one value for each name and place (in wavelengths).

    White values hashed at whole places, joined by smooth steps, or by straight lines where ``kinked``.
    """
    node = np.floor(place)
    f = place - node
    blend = np.where(kinked, f, f * f * (3.0 - 2.0 * f))
    seed = name + (node.astype(np.int64) * 64 + octave).astype(np.uint64) * GOLDEN
    step = np.uint64(64 * int(GOLDEN) & (1 << 64) - 1)
    a, b = (seeds.hash_unit(one, purpose) * 2.0 - 1.0 for one in (seed, seed + step))
    return np.asarray(a + (b - a) * blend)


def four_of(name: U8, number: I8, purpose: int) -> F4:
    """Return four uniform numbers in -.5 to .5 for each name and number, one after the other: float32 (4 n,)."""
    mixed = seeds.mix64((name ^ np.uint64(purpose)) + number.astype(np.uint64) * GOLDEN)
    values = mixed.astype("<u8", copy=False).view("<u2").astype(np.float32)
    values *= np.float32(2.0**-16)
    values -= np.float32(0.5)
    return values


@dataclass(frozen=True)
class Courses:
    """Ready courses for cracks: how far a crack strays sideways, as a share of its length and of its sway.

    Cracks with k octaves of waves have a choice of ``many[k]`` courses of ``long[k]`` values each, one after the other
    in ``values`` from ``first[k]`` on; the farthest that each strays is in ``most``, from ``place[k]`` on.
    """

    values: F4
    most: F4
    many: I8
    long: I8
    first: I8
    place: I8

    def pick(self, name: U8, length: F4) -> tuple[I8, I8, F4]:
        """Return where in ``values`` each crack's course begins, how many it has, and the farthest that it strays.

        ``length`` in inches; from the largest of the courses' on, cracks have no longer waves.
        """
        octaves = np.minimum(octaves_of(length), len(self.many) - 1)
        mine = (name >> np.uint64(50)).astype(np.int64) & self.many.take(octaves) - 1
        long = self.long.take(octaves)
        return self.first.take(octaves) + mine * long, long, self.most.take(self.place.take(octaves) + mine)


def octaves_of(length: F4) -> NDArray[np.int32]:
    """Return how many octaves of waves cracks of some lengths (inches) have."""
    return np.maximum(np.frexp(length * np.float32(0.8 / SHORTEST_IN))[1], 0)


@lru_cache(maxsize=2)
def courses(longest_in: float) -> Courses:
    """Return the courses of cracks up to so long: fractal, still and level at both ends.

    The first octave's wave is .8 of the crack; each of the next is half as long and half as high. The courses with an
    octave more are those before, drawn twice as fine, and the octave. The last one is kinked rather than rounded, and a
    quarter higher, because a crack in a grainy film runs from grain to grain.
    """
    rows = np.zeros((_MANY, _COARSEST), np.float32)
    levels = [rows]
    for octave in range(int(octaves_of(np.array([longest_in], np.float32))[0])):
        if octave >= 3:
            rows = _finer(rows[: max(len(rows) // 2, 1)])
        levels.append(rows + np.float32(1.25) * _octave(*rows.shape, octave, kinked=True))
        rows = rows + _octave(*rows.shape, octave, kinked=False)
    many, long = (np.array([one.shape[k] for one in levels]) for k in (0, 1))
    most = np.concatenate([np.abs(one).max(axis=1) for one in levels])
    values = np.concatenate([one.ravel() for one in levels])
    return Courses(values, most, many, long, np.cumsum(many * long) - many * long, np.cumsum(many) - many)


def _finer(rows: F4) -> F4:
    """Return rows of values twice as fine, linear between their middles."""
    before, after = (0.75 * rows + 0.25 * np.roll(rows, by, axis=1) for by in (1, -1))
    return np.stack([before, after], axis=-1).reshape(len(rows), -1).astype(np.float32)


def _octave(many: int, long: int, octave: int, kinked: bool) -> F4:
    """Return one octave of courses, (many, long): white values at its nodes, joined by smooth steps or by lines."""
    waves = 1.25 * 2.0**octave
    way = (np.arange(long) + 0.5) * (waves / long)
    node = way.astype(np.int64)
    f = (way - node).astype(np.float32)
    f = f if kinked else f * f * (np.float32(3.0) - np.float32(2.0) * f)
    still = np.minimum(np.minimum(way, waves - way) / 0.9, 1.0)
    still *= still * (3.0 - 2.0 * still) * (_STRAYS / waves)
    nodes = int(waves) + 2
    names = np.arange(many * nodes, dtype=np.uint64) + np.uint64(octave << 32)
    values = (seeds.hash_unit(names, _WANDER).astype(np.float32) - np.float32(0.5)).reshape(many, nodes)
    here = values.take(node, axis=1)
    here += (values.take(node + 1, axis=1) - here) * f
    return np.asarray(here * still.astype(np.float32))
