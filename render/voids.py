"""Where a coat lies and where it is void: placement at several sizes, drawn along the strokes, with ragged edges.

The slow part of the placement lives on the plan grid; the edge is displaced at output size by lengths in inches, so it
is as ragged where the placement is flat as where it is steep.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from render import fields, strokes
from render.fields import Array, Grid
from render.seeds import Streams
from render.strokes import Marks, Strokes
from render.wall import Wall

_SLOPES = (0.22, 2.2)  # per inch: flat tops and saddles stay ragged too, and steps between strokes do not tear to combs
_WET = 0.22  # plaster that runs out over plaster still wet tears and piles up this much less than over a dry ground
_FINEST_PPI = 40.0  # below this the finest tears are under a pixel


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
            share = fields.resample(lies.astype(np.float32), wall.grid, wall.grid.plan)
            for _ in range(2):
                share = ndimage.uniform_filter(share, 5, mode="nearest")
            return np.asarray(2.0 * share - 1.0, np.float32)
    return np.zeros(wall.grid.plan.shape, np.float32)


def slow(plan: Grid, sweep: Strokes, size_in: float, streams: Streams, torn: float) -> Array:
    """Return a placement on the plan grid: high where plaster stays.

    Voids come at three sizes from ``size_in`` down, each in its own zones, drawn out along the strokes; ``torn`` 1
    breaks them in every direction instead.
    """
    size = max(size_in, 0.3)
    drag = np.float32(0.75 - 0.5 * torn) * strokes.grain(sweep, plan, Marks(0.4 * size, 2.8, 4), streams.key("drag"))
    region = fields.lattice(plan, 3.2 * size, streams.key("regions"))  # here the hand fills, there it leaves
    zones = fields.lattice(plan, 1.6 * size, streams.key("zones"))
    big = fields.fbm(plan, 0.75 * size, streams.key("big"), 5, 0.55) + np.float32(0.5) * (sweep.supply - 0.5) + drag
    big += 0.5 * zones + 0.35 * region + 1.0
    mid = 0.8 * fields.fbm(plan, max(0.22 * size, 0.1), streams.key("mid"), 4, 0.65) + drag
    mid += 1.1 * fields.lattice(plan, 1.1 * size, streams.key("mid zones")) + 0.3 * zones + 0.8 * region + 1.9
    small = 0.7 * fields.fbm(plan, max(0.1 * size, 0.1), streams.key("small"), 2, 0.7) + 0.6 * mid
    small += 1.2 * fields.lattice(plan, 1.3 * size, streams.key("small zones")) + 0.7 * region + 2.2
    return np.asarray(np.minimum(np.minimum(big, mid), small), np.float32)


class Edges:
    """The fine displacement of edges and the side of the stroke on which they lie; shared by the passes of a coat.

    ``knobs`` is the noise of torn edges at output size, of unit variance.
    """

    def __init__(self, grid: Grid, sweep: Strokes, streams: Streams, torn: float) -> None:
        """Draw the displacements once: ``torn`` 1 tears on all sides, 0 only where the blade lifts."""
        self._grid, self._sweep, self._torn = grid, sweep, torn
        self._zone = fields.lattice(grid.plan, 1.7, streams.key("crumbs"))
        self.knobs = fields.lattice(grid, 0.2, streams.key("knobs"))
        fine = fields.lattice(grid, 0.09, streams.key("fine"))
        if grid.ppi > _FINEST_PPI:
            fine += np.float32(0.55) * fields.lattice(grid, 0.04, streams.key("finest"))
        comb = strokes.grain(sweep, grid, Marks(0.5, 7.0, 5), streams.key("comb"))
        zone = fields.resample(self._zone, grid.plan, grid, smooth=True)
        self._landed = np.clip(0.05 * zone + 0.09, 0.02, 0.18) * comb + np.float32(0.012) * fine
        self._torn_off = self._torn_edges(fine, zone) - self._landed

    def _torn_edges(self, fine: Array, zone: Array) -> Array:
        """Return the displacement of torn edges, inches: ragged, crumbs left and bits pulled out in zones."""
        bits = 0.22 * np.maximum(self.knobs - 1.3, 0.0) - 0.3 * np.maximum(-1.15 - self.knobs, 0.0)
        bits *= np.clip(zone + 0.3, 0.0, 1.2)
        bits += np.float32(0.05) * self.knobs
        bits += np.float32(0.042) * fine
        return np.asarray(bits, np.float32)

    def ragged(self, slowly: Array) -> tuple[Array, Array, Array]:
        """Return the placement at output size, its slope per inch, and ``lifts`` as in ``Place``."""
        plan = self._grid.plan
        down, right = fields.gradient(np.asarray(slowly, np.float32))
        steep = np.sqrt(down * down + right * right)
        facing = -(down * self._sweep.down + right * self._sweep.right) / (steep + np.float32(1e-4))
        lifts = np.clip(0.5 + 0.65 * facing + 0.25 * self._zone, 0.0, 1.0)
        lifts = np.float32(self._torn) + np.float32(1.0 - self._torn) * lifts
        slope = np.clip(steep * np.float32(plan.ppi), *_SLOPES)
        lifts, slope, field = (
            fields.resample(np.asarray(f, np.float32), plan, self._grid, smooth=True) for f in (lifts, slope, slowly)
        )
        field += slope * (self._landed + lifts * self._torn_off)
        return field, slope, lifts

    def place(self, slowly: Array, share: float) -> Place:
        """Return a pass that covers exactly ``share`` of the wall."""
        field, slope, lifts = self.ragged(slowly)
        mask = fields.cover(field, share)
        return Place(mask, _inside(field, fields.threshold(field, share), slope), lifts)

    def besides(self, slowly: Array, first: Place, share: float) -> Place:
        """Return a second pass that, with the first, covers exactly ``share``, and runs over some of the first."""
        field, slope, lifts = self.ragged(slowly)
        added = (round(share * field.size) - int(np.count_nonzero(first.mask))) / field.size
        free = np.where(first.mask, np.float32(-1e9), field)
        level = fields.threshold(free, added)
        mask = fields.cover(free, added) | (first.mask & (field >= np.float32(level)))
        wet = np.clip(first.distance * np.float32(1.0 / 0.3), 0.0, 1.0)
        lifts *= 1.0 - np.float32(1.0 - _WET) * wet
        return Place(mask, _inside(field, level, slope), lifts)


def _inside(field: Array, level: float, slope: Array) -> Array:
    """Return inches inside the edge, to first order."""
    return (field - np.float32(level)) / (slope * np.float32(1.25))
