"""Wipe back: a towel takes wet colour off again, more from high places than from hollows, and smears a
little of it. Pressed with all one's weight it wipes high places clean: colour stays in recesses and pores, and what
has soaked in.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import fields, flow
from render.fields import Array, Grid
from render.layers.base import Layer, Share
from render.seeds import Streams
from render.wall import Stratum, Wall


class WipeBack(Layer):
    """A towel over a share of the wall.

    ``coverage`` the share wiped; ``pressure`` how much of the wet colour on a high place comes off; ``of``
    the layers whose colour is wiped (all wet colour if not given).
    """

    kind: Literal["wipe_back"] = "wipe_back"
    coverage: Annotated[Share, Field(description="Share of the wall that is wiped.")] = "50 %"  # type: ignore[assignment]
    pressure: Annotated[Share, Field(description="Share of the wet colour that comes off a high place.")] = "75 %"  # type: ignore[assignment]
    of: Annotated[
        tuple[str, ...],
        Field(max_length=8, description="Names of the layers whose colour is wiped; all wet colour if not given."),
    ] = ()

    title: ClassVar[str] = "wiped back with a towel"
    tools: ClassVar[tuple[str, ...]] = ("cotton towels",)
    while_wet: ClassVar[bool] = True

    def achieved(self, before: Wall, after: Wall) -> float:
        """Return the share of the wall where colour was touched."""
        return flow.touched(before, after)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the colour lifted; what the towel took is booked as removed."""
        bed, smears = flow.Bed(wall, streams.key("shelter")), min(1.0 - self.pressure, 0.25)
        grip, slide = _towel(bed, self, streams)
        wet, wiped = bed.wet, grip > 0
        for one in wall.open_colours(self.of):
            lifted = flow.mobile_of(one) * grip
            if smears > 0.0:  # hard pressed, a towel takes up all that it lifts
                smeared = flow.push_aside(fields.resample(lifted, bed.grid, wet), slide, wet)
                smeared = fields.resample(smeared, wet, bed.grid) * wiped
                lifted -= flow.share_out(smeared, smears * flow.mean(lifted), out=smeared)
            wall = wall.take(one.name, lifted)
        return wall


def _towel(bed: flow.Bed, layer: WipeBack, streams: Streams) -> tuple[Array, Array]:
    """Share of the mobile colour that comes loose at each place, and the direction it is pushed in
    (-1..1, wet lattice).
    """
    grid, swept, key = bed.grid, flow.stroke_lattice(bed.grid), streams.key("towel")
    folds = flow.strokes(swept, key, 5.0, 0.55, (0.5, 1.3, 2.2))
    zone = fields.resample(fields.fbm(bed.wet, (4.5, 6.0), key + 200, 4, 0.55), bed.wet, swept)
    place = np.require(fields.resample(0.8 * zone + 0.42 * folds, swept, grid), requirements="W")
    ragged, high = fields.grain(grid, 0.3, key + 300, 3, 0.6), flow.high_spots(bed)
    coloured = _coloured(bed.wall.open_colours(layer.of), grid)

    def aimed(part: slice) -> None:
        here = place[part]
        here += np.float32(0.10) * ragged[part]
        here += np.float32(0.5) * high[part]
        np.copyto(here, -9.0, where=~coloured[part])

    flow.by_strips(aimed, grid)
    level = fields.threshold(place, layer.coverage)
    mask = fields.cover(place, layer.coverage, level) & coloured
    # a fold that presses lightly leaves more, but of a full wipe no fold leaves any
    fold = 1.0 - (1.0 - layer.pressure) ** (np.float32(0.7) + np.float32(0.3) * np.tanh(folds))
    fold = fields.resample(np.asarray(fold, np.float32), swept, grid)
    weave = flow.weave(grid, 0.09, 0.4 * min(1.0 - layer.pressure, 0.25), key + 400)
    reach = flow.cloth_reach(high, 0.12, layer.pressure)

    def grips(part: slice) -> None:
        here = place[part]
        here -= np.float32(level)
        here *= np.float32(4.0)
        np.clip(here, 0.05, 1.0, out=here)
        for one in (fold, weave, reach, mask):
            here *= one[part]
        np.clip(here, 0.0, 1.0, out=here)

    flow.by_strips(grips, grid)
    return place, fields.lattice(bed.wet, 4.0, key + 500)


def _coloured(colours: tuple[Stratum, ...], grid: Grid) -> NDArray[np.bool_]:
    """Where any of some colours can still move."""
    coloured = np.zeros(grid.shape, bool)
    for one in colours:
        coloured |= one.film > (0.0 if one.fixed is None else one.fixed)
    return coloured
