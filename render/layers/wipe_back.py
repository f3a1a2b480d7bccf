"""Wipe back: a towel takes wet colour off again, more from high places than from hollows, and smears a
little of it. Pressed with all one's weight it wipes high places clean: colour stays in recesses and pores, and what
has soaked in.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import fields, flow, strips
from render.fields import Array, Grid, Resampled
from render.hand import Hand, drawn, drawn_once
from render.layers.base import Layer, Share
from render.seeds import Streams
from render.wall import Stratum, Wall

_BENDS_IN, _REACH_IN = 3.0, 0.32
"""Radius to which a rag bends pressed with all one's weight, and how far aside it is looked for what holds it up."""
_TOUCHES = (0.6, 2.4)
"""So far below a rag, mil, it still wipes clean, and no more: its pile reaches there. By eye, as those above."""


class _Hand(Hand):
    """How the towel is drawn over the wall."""

    layer: WipeBack

    @drawn
    def _folds(self) -> Array:
        """The towel's folds, on the lattice of strokes: unit variance."""
        swept = flow.stroke_lattice(self.grid)
        return flow.strokes(swept, self.streams.key("towel"), 5.0, 0.55, (0.5, 1.3, 2.2))

    @drawn_once
    def aim(self) -> Array:
        """Where the hand wipes first, on even ground."""
        grid, swept, wet = self.grid, flow.stroke_lattice(self.grid), flow.wet_lattice(self.grid)
        key = self.streams.key("towel")
        zone = fields.resample(fields.fbm(wet, (4.5, 6.0), key + 200, 4, 0.55), wet, swept)
        place = Resampled(np.asarray(0.8 * zone + 0.42 * self._folds, np.float32), swept, grid)
        ragged = fields.grain(grid, 0.3, key + 300, 3, 0.6)
        return strips.each(lambda place, ragged: place + np.float32(0.10) * ragged, place, ragged, out=ragged)

    @drawn_once
    def takes(self) -> Array:
        """Share of the colour that comes off where it presses, by its folds and its weave.

        A fold that presses lightly leaves more, but of a full wipe no fold leaves any.
        """
        pressure, grid, swept = self.layer.pressure, self.grid, flow.stroke_lattice(self.grid)
        fold = 1.0 - (1.0 - pressure) ** (np.float32(0.7) + np.float32(0.3) * np.tanh(self._folds))
        weave = flow.weave(grid, 0.09, 0.4 * min(1.0 - pressure, 0.25), self.streams.key("towel") + 400)
        return strips.each(np.multiply, Resampled(np.asarray(fold, np.float32), swept, grid), weave, out=weave)

    @drawn_once
    def slide(self) -> Array:
        """Which way it pushes, -1 to 1, on the wet lattice."""
        return fields.lattice(flow.wet_lattice(self.grid), 4.0, self.streams.key("towel") + 500)


class WipeBack(Layer):
    """A towel over a share of the wall.

    ``coverage`` the share wiped; ``pressure`` how much of the wet colour on a high place comes off; ``cloth`` what is
    wiped with; ``of`` the layers whose colour is wiped (all wet colour if not given).
    """

    kind: Literal["wipe_back"] = "wipe_back"
    coverage: Annotated[Share, Field(description="Share of the wall that is wiped.")] = "50 %"  # type: ignore[assignment]
    pressure: Annotated[Share, Field(description="Share of the wet colour that comes off a high place.")] = "75 %"  # type: ignore[assignment]
    cloth: Annotated[
        Literal["towel", "rag"],
        Field(description="A towel rides over hollows; a thin rag goes into them and leaves cracks and pores alone."),
    ] = "towel"
    of: Annotated[
        tuple[str, ...],
        Field(max_length=8, description="Names of the layers whose colour is wiped; all wet colour if not given."),
    ] = ()

    title: ClassVar[str] = "wiped back with a towel"
    tools: ClassVar[tuple[str, ...]] = ("cotton towels",)
    while_wet: ClassVar[bool] = True

    def words(self) -> str:
        """Return the layer's line."""
        return f"wiped back with a {self.cloth}"

    def tools_used(self) -> tuple[str, ...]:
        """Return the cloths."""
        return self.tools if self.cloth == "towel" else ("cotton rags",)

    def achieved(self, before: Wall, after: Wall) -> float:
        """Return the share of the wall where colour was touched."""
        return flow.touched(before, after)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the colour lifted; what the towel took is booked as removed."""
        smears, hand = min(1.0 - self.pressure, 0.25), _Hand(self, wall.grid, streams)
        grip, slide = _grip(flow.Bed(wall, streams.key("shelter")), hand), hand.slide
        for one in wall.open_colours(self.of):
            lifted = _lifted(one, grip)
            if smears > 0.0:  # hard pressed, a towel takes up all that it lifts
                _smear(lifted, smears, slide, grip, wall.grid)
            wall = wall.take(one.name, lifted)
        return wall


def _lifted(one: Stratum, grip: Array) -> Array:
    """What a grip lifts of a colour, mil."""
    lifted = np.empty_like(grip)

    def work(part: slice) -> None:
        np.multiply(flow.mobile_of(one, part), grip[part], out=lifted[part])

    strips.by_rows(work, grip.shape)
    return lifted


def _smear(lifted: Array, share: float, slide: Array, grip: Array, grid: Grid) -> None:
    """Lay a share of what was lifted again, beside where it was, wherever the towel goes."""
    wet = flow.wet_lattice(grid)
    smeared = flow.push_aside(fields.resample(lifted, grid, wet), slide, wet)
    smeared = strips.each(lambda one, grip: one * (grip > 0), Resampled(smeared, wet, grid), grip)
    flow.share_out(smeared, share * flow.mean(lifted), out=smeared)
    strips.each(np.subtract, lifted, smeared, out=lifted)


def _grip(bed: flow.Bed, hand: _Hand) -> Array:
    """Share of the mobile colour that comes loose at each place: on what stands high first."""
    grid, layer, high = bed.grid, hand.layer, flow.high_spots(bed)
    coloured = _coloured(bed.wall.open_colours(layer.of), grid)

    def aimed(aim: Array, high: Array, coloured: Array) -> Array:
        return np.where(coloured, aim + np.float32(0.5) * high, np.float32(-9.0))

    place = strips.each(aimed, hand.aim, high, coloured)
    level = fields.threshold(place, layer.coverage)
    mask = fields.cover(place, layer.coverage, level) & coloured
    reach = flow.cloth_reach(high, 0.12, layer.pressure)
    if layer.cloth == "rag":
        lies = Resampled(_rag(bed.relief.plan_height, grid.plan.ppi, layer.pressure), grid.plan, grid)
        reach = strips.each(_touched, reach, lies, bed.wall.height, out=reach)

    def grips(place: Array, takes: Array, reach: Array, mask: Array) -> Array:
        firm = np.clip((place - np.float32(level)) * np.float32(4.0), 0.05, 1.0)
        return np.clip(firm * takes * reach * mask, 0.0, 1.0)

    return strips.each(grips, place, hand.takes, reach, mask, out=place)


def _touched(reach: Array, lies: Array, height: Array) -> Array:
    """Return how well a rag that lies so high reaches: wholly where it lies on the wall, else as a towel does."""
    least, most = _TOUCHES
    return np.maximum(reach, np.clip((np.float32(most) - lies + height) * np.float32(1.0 / (most - least)), 0.0, 1.0))


def _rag(height: Array, ppi: float, pressure: float) -> Array:
    """Return where a rag lies over a relief, mil: it bends so far and no farther, and touches what is wider.

    The morphological closing by a paraboloid, done along one axis after the other (van den Boomgaard et al. 1996, in
    Mathematical Morphology and its Applications to Image and Signal Processing: from memory).
    """
    radius = _BENDS_IN / max(pressure, 0.3) ** 4
    steps = range(1, max(1, round(_REACH_IN * ppi)) + 1)
    drops = [np.float32(500.0 * (step / ppi) ** 2 / radius) for step in steps]
    for sign in (np.float32(1.0), np.float32(-1.0)):  # up over what stands out, and down again on to it
        height = sign * height
        for axis in (0, 1):
            height = _raised(height if axis == 0 else height.T, drops)
            height = height if axis == 0 else height.T
        height = sign * height
    return np.ascontiguousarray(height)


def _raised(height: Array, drops: list[np.float32]) -> Array:
    """Return the highest of each line and those that many lines off, less the drop to them."""
    high = height.copy()
    for step, drop in enumerate(drops, 1):
        lower = height - drop
        np.maximum(high[step:], lower[:-step], out=high[step:])
        np.maximum(high[:-step], lower[step:], out=high[:-step])
    return high


def _coloured(colours: tuple[Stratum, ...], grid: Grid) -> NDArray[np.bool_]:
    """Where any of some colours can still move."""
    coloured = np.zeros(grid.shape, bool)

    def work(part: slice) -> None:
        for one in colours:
            coloured[part] |= one.film[part] > (0.0 if one.fixed is None else one.fixed[part])

    strips.by_rows(work, grid.shape)
    return coloured
