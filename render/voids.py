"""Where a coat lies and where it is void: placement at several sizes, drawn along the strokes, with ragged edges.

The slow part of the placement lives on the plan grid; the edge is displaced at output size by lengths in inches, so it
is as ragged where the placement is flat as where it is steep.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from render import fields, strips
from render.fields import Array, Grid, Resampled
from render.rips import Rips, Scale
from render.seeds import Streams
from render.strokes import Strokes
from render.wall import Wall

_SLOPES = (0.22, 2.2)  # per inch: flat tops and saddles stay ragged too, and steps between strokes do not tear to combs
_FINEST_PPI = 40.0  # below this the finest grit is under a pixel
_COMB, _RAGGED = Scale(0.42, 9.0, 300), Scale(0.55, 1.8, 600)  # of edges where the blade landed, and where it lifted
_WET = 0.22  # plaster that runs out over plaster still wet tears and piles up this much less than over a dry ground


@dataclass(frozen=True, eq=False)
class Place:
    """Where a pass lies, at output size.

    ``mask`` bool; ``distance`` inches inside the edge, right near it; ``lifts`` 1 where the blade lifted off and the
    coat is torn, 0 where it landed and the coat is feathered.
    """

    mask: NDArray[np.bool_]
    distance: Array
    lifts: Array

    @classmethod
    def everywhere(cls, grid: Grid) -> Place:
        """Return the place of a coat without voids."""
        far, half = np.float32(9.0), np.float32(0.5)
        return cls(np.ones(grid.shape, bool), np.broadcast_to(far, grid.shape), np.broadcast_to(half, grid.shape))


def beneath(wall: Wall) -> Array:
    """Return, on the plan grid, where the last coat that has voids lies (1) and where it is void (-1), blurred.

    Zero where no coat has voids.
    """
    for one in reversed(wall.coats):
        lies = one.film > 0
        if not lies.all() and lies.any():
            plan = wall.grid.plan
            half = wall.grid.at(plan.ppi / 2.0)  # so blurred that a quarter of the pixels tell it
            share = fields.resample(lies.astype(np.float32), wall.grid, half)
            for _ in range(2):
                share = ndimage.uniform_filter(share, 3, mode="nearest")
            return fields.resample(np.asarray(2.0 * share - 1.0, np.float32), half, plan)
    return np.zeros(wall.grid.plan.shape, np.float32)


@dataclass(frozen=True)
class Mood:
    """How a hand works on one pour of one coat; no two days are alike.

    ``size`` a factor on the size of voids; ``patchy`` how much they keep to the strokes and regions that skip;
    ``stretch`` their length over their width; ``dry`` how early the blade runs out; ``deep`` a factor on the relief.
    """

    size: float
    patchy: float
    stretch: float
    dry: float
    deep: float

    @classmethod
    def of(cls, streams: Streams) -> Mood:
        """Draw the mood of a coat from its streams; the ranges are chosen by eye."""
        u = streams.rng("mood").random(5)
        return cls(
            float(np.exp(0.8 * u[0] - 0.4)), 0.85 + 0.8 * float(u[1]), 2.0 + 3.0 * float(u[2]),
            0.5 + 1.3 * float(u[3]), float(np.exp(0.8 * u[4] - 0.4)),
        )  # fmt: skip


def slow(plan: Grid, sweep: Strokes, rips: Rips, size_in: float, streams: Streams, torn: float) -> Array:
    """Return a placement on the plan grid: high where plaster stays.

    Most strokes are tight. Voids gather where a stroke was pressed lightly or ran dry and in regions of the wall, and
    tear open along the way: at once, and closing slowly. ``size_in`` is the size of the largest; ``torn`` 1 breaks
    them in every direction instead.
    """
    mood = Mood.of(streams)
    size = max(size_in * mood.size, 0.3)
    skips = 1.3 * fields.lattice(plan, 2.6 * size, streams.key("regions"))  # here the hand fills, there it leaves
    skips += 0.6 * fields.lattice(plan, 1.1 * size, streams.key("zones"))
    press = sweep.unit(streams.key("pressure"))
    skips += np.float32(1.0 - 0.7 * torn) * (np.float32(2.2 * mood.dry) * (sweep.supply - 0.5) + 1.5 * (press - 0.5))
    open_ = np.float32(0.8 - 0.4 * torn) * rips.along(sweep, plan, Scale(0.3 * size, mood.stretch))
    open_ += np.float32(0.25 + 0.6 * torn) * fields.fbm(plan, 0.5 * size, streams.key("big"), 3, 0.62)
    return np.asarray(np.float32(mood.patchy) * skips - open_, np.float32)


def knobbly(grid: Grid, sweep: Strokes, rips: Rips) -> Array:
    """Return the noise of torn edges at output size, of unit variance."""
    return rips.along(sweep, grid, _RAGGED)


def gritty(grid: Grid, streams: Streams) -> Array:
    """Return noise of the size of sand, coarse to fine, at output size; what is finer than a pixel is left out."""
    key = streams.key("grit")
    grit = fields.lattice(grid, 0.11, key)
    grit *= np.float32(0.74)
    for octave, share in ((1, 0.53), (2, 0.38))[: 2 if grid.ppi > _FINEST_PPI else 1]:
        finer = fields.lattice(grid, 0.11 / 2**octave, key + octave)
        finer *= np.float32(share)
        grit += finer
    return grit


class Edges:
    """The fine displacement of edges and the side of the stroke on which they lie; shared by the passes of a coat."""

    def __init__(
        self, grid: Grid, sweep: Strokes, rips: Rips, noise: tuple[Array, Array], streams: Streams, torn: float
    ) -> None:
        """Draw the displacements once: ``torn`` 1 tears on all sides, 0 only where the blade lifts.

        ``noise`` is that of torn edges and of the plaster's grain, ``knobbly`` and ``gritty``, at output size.
        """
        knobs, fine = noise
        self._grid, self._way, self._torn = grid, (sweep.down, sweep.right), torn
        self._zone = fields.lattice(grid.plan, 1.7, streams.key("crumbs"))
        comb = rips.along(sweep, grid, _COMB)
        zone = Resampled(self._zone, grid.plan, grid)
        self._landed = strips.each(_landed, zone, comb, fine, out=comb)
        self._torn_off = strips.each(_torn, zone, knobs, fine)

    @property
    def nbytes(self) -> int:
        """The bytes of what was drawn."""
        return sum(one.nbytes for one in (*self._way, self._zone, self._landed, self._torn_off))

    def ragged(self, slowly: Array) -> tuple[Array, Array, Array]:
        """Return the placement at output size, its slope per inch, and ``lifts`` as in ``Place``."""
        plan, slowly = self._grid.plan, np.asarray(slowly, np.float32)
        half = plan.at(plan.ppi / 2.0)
        lifts, slope = (fields.resample(fields.resample(f, plan, half), half, self._grid) for f in self._sides(slowly))
        field = Resampled(slowly, plan, self._grid, smooth=True)
        return strips.each(_displaced, field, slope, lifts, self._landed, self._torn_off), slope, lifts

    def _sides(self, slowly: Array) -> tuple[Array, Array]:
        """Return, on the plan grid, ``lifts`` as in ``Place``, and the slope of the placement per inch, bounded."""
        down, right = fields.gradient(slowly)
        ppi, torn = np.float32(self._grid.plan.ppi), np.float32(self._torn)

        def turn(rows: slice) -> None:
            steep = np.sqrt(down[rows] * down[rows] + right[rows] * right[rows])
            lifts = down[rows] * self._way[0][rows] + right[rows] * self._way[1][rows]
            lifts /= -(steep + np.float32(1e-4))
            lifts = (0.5 + 0.65 * lifts + 0.25 * self._zone[rows]).clip(0.0, 1.0, out=lifts)
            np.add(torn, (1 - torn) * lifts, out=down[rows])  # in place: they have said all that they tell
            steep *= ppi
            steep.clip(*_SLOPES, out=right[rows])

        strips.by_rows(turn, slowly.shape)
        return down, right

    def place(self, slowly: Array, share: float) -> Place:
        """Return a pass that covers exactly ``share`` of the wall."""
        field, slope, lifts = self.ragged(slowly)
        level = fields.threshold(field, share)
        return Place(fields.cover(field, share, level), _inside(field, level, slope), lifts)

    def besides(self, slowly: Array, first: Place, share: float) -> Place:
        """Return a second pass that, with the first, covers exactly ``share``, and runs over some of the first."""
        field, slope, lifts = self.ragged(slowly)
        free = ~first.mask
        others = field[free]
        added = (round(share * field.size) - (field.size - others.size)) / max(others.size, 1)
        level = fields.threshold(others, added) if others.size else -np.inf
        mask = field >= np.float32(level)
        mask[free] = fields.cover(others, added, level)
        return Place(mask, _inside(field, level, slope), strips.each(_on_wet, lifts, first.distance, out=lifts))


def _landed(zone: Array, comb: Array, fine: Array) -> Array:
    """Return the displacement of edges where the blade landed, inches: drawn out into a comb."""
    return np.clip(-0.11 * zone - 0.165, -0.36, -0.05) * comb + np.float32(0.03) * fine


def _torn(zone: Array, rips: Array, fine: Array) -> Array:
    """Return the displacement of torn edges, inches: ragged, crumbs left and bits pulled out in zones."""
    torn = np.clip(-0.06 * zone - 0.125, -0.23, -0.04) * rips
    torn += np.clip(0.06 * zone + 0.06, 0.01, 0.14) * (np.float32(0.8) - np.abs(fine))  # crisp or crumbly
    return torn


def _displaced(field: Array, slope: Array, lifts: Array, landed: Array, torn: Array) -> Array:
    """Return the placement with its edges displaced, between the two ways as the blade lifts."""
    return field + slope * (landed + lifts * (torn - landed))


def _on_wet(lifts: Array, distance: Array) -> Array:
    """Return how far an edge is torn that runs over a pass still wet, ``distance`` inches inside that."""
    return lifts * (1.0 - np.float32(1.0 - _WET) * np.clip(distance * np.float32(1.0 / 0.3), 0.0, 1.0))


def _inside(field: Array, level: float, slope: Array) -> Array:
    """Return inches inside the edge, to first order; the slope is used up."""

    def inside(one: Array, steep: Array) -> Array:
        return (one - np.float32(level)) / (steep * np.float32(1.25))

    return strips.each(inside, field, slope, out=slope)
