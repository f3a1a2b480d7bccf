"""Sanded or plain texture paint, rolled, brushed or trowelled over the wall."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, flow, strips, strokes
from render.fields import Array, Resampled
from render.hand import Hand, drawn, drawn_apart, drawn_once
from render.layers.base import Angle, Coat, Length, Share, scaled
from render.seeds import Streams
from render.strokes import Habit, Marks, Strokes
from render.wall import Wall, over

_GRAIN_SPREAD = 0.62  # log standard deviation of sand diameters: two thirds lie within a factor 1.9
_STIFFENS = 4.1  # sand keeps a nap from pulling up peel: how much lower it is for each share of sand
_MOST_GRAINS = 120.0  # drawn per in²; the finer sand is left to noise, which nobody can tell from it


def _sixteenths(inches: float) -> str:
    """Return a length as naps are sold by it: 3/8, 1, 1 1/4."""
    whole, rest = divmod(max(1, round(inches * 16)), 16)
    return " ".join(filter(None, (f"{whole or ''}", f"{Fraction(rest, 16)}" if rest else "")))


def _nap(depth: np.float32, pulled: Array, fine: Array, finest: Array) -> Array:
    """Return a roller's peel about 1: tips stand where the nap let go, with even ground between."""
    peel = np.maximum(np.float32(0.7) * pulled + np.float32(0.45) * fine + np.float32(0.3) * finest, 0.0)
    peel *= np.sqrt(np.sqrt(peel))
    return np.maximum(1.0 + depth * (peel - np.float32(0.35)), np.float32(0.15))


class _Hand(Hand):
    """What the tool does whatever the wall is like."""

    layer: TextureCoat

    @drawn
    def passes(self) -> Strokes:
        """The passes of the tool, three to five over each place: a roller runs long and straight, a brush short, a
        trowel in arcs."""
        coat = self.layer
        pitch, curve, skew = {"roll": (0.55, 90.0, 1.0), "brush": (0.45, 30.0, 8.0), "trowel": (0.5, 16.0, 25.0)}[
            coat.method
        ]
        wide, long = max(coat.width, 0.5), max(coat.stroke, 1.0)
        soft = 0.25 if coat.method == "roll" else 0.4
        apart = max(0.8, pitch * (wide * long) ** 0.5)
        habit = Habit(wide, long, coat.direction, coat.scatter, apart, curve, skew, soft, 0.55)
        return strokes.lay(self.grid.plan, habit, self.streams.key("passes"), self.streams.kept)

    @drawn_once
    def body(self) -> Array:
        """How thick the coat lies by passes, laps and hops, about 1, on the plan grid."""
        plan, streams, laid = self.grid.plan, self.streams, self.passes
        hop = 0.3 * fields.drift(plan, 14.0, streams.rng("hop")) + 0.2 * fields.fbm(plan, 4.0, streams.key("hop"), 4)
        passes = 1.9 * (laid.supply - 0.6) + 0.12 * laid.lift + 0.35 * laid.bead
        return np.asarray(np.exp(np.float32(self.layer.hop) * (passes + hop)), np.float32)

    @drawn_once
    def peel(self) -> Array:
        """The tool's own texture about 1: orange peel of a nap, bristle marks, or a blade's drag."""
        key, coat, laid, grid = self.streams.key("peel"), self.layer, self.passes, self.grid
        if coat.method == "roll":
            size = float(np.clip(coat.nap, 0.05, 2.0)) * 0.42
            pulled = strokes.grain(laid, grid, Marks(size, 1.8, 1), key)
            fine, finest = (fields.lattice(grid, part * size, key + add) for part, add in ((0.7, 0), (0.4, 5)))
            depth = np.float32(0.6 / (1.0 + _STIFFENS * coat.material.grain))
            return strips.each(lambda *lumps: _nap(depth, *lumps), pulled, fine, finest, out=pulled)
        brush = coat.method == "brush"
        marks = Marks(0.16, 22.0, 3) if brush else Marks(0.3, 14.0, 3, gouge=3.0)
        depth = np.float32(0.3 if brush else 0.22)
        drawn = strokes.grain(laid, grid, marks, key)
        return strips.each(lambda drawn: np.maximum(1.0 + depth * drawn, 0.15), drawn, out=drawn)

    @drawn
    def place(self) -> tuple[NDArray[np.bool_], Array]:
        """Where the coat lies, and its edge profile."""
        coat, grid = self.layer, self.grid
        if coat.coverage >= 1.0:
            whole = np.ones((1, 1), np.float32)  # it holds everywhere
            return whole > 0, whole
        field = 0.9 * fields.fbm(grid, 6.0, self.streams.key("where"), 4, 0.55)
        field += 0.35 * fields.lattice(grid, 0.12, self.streams.key("ragged"))
        level = fields.threshold(field, coat.coverage)
        mask = fields.cover(field, coat.coverage, level)
        return mask, blade.softened(mask, fields.edge_distance(field, level, grid.ppi), 0.05, grid.ppi)

    @drawn_apart
    def sand(self) -> Array | None:
        """The sand in the coat, mil: its share of the volume as grains."""
        coat, (mask, edge) = self.layer, self.place
        if coat.material.grain <= 0 or coat.grain_size <= 0 or coat.mean_mil <= 0:
            return None
        thick = coat.mean_mil / max(float(np.mean(mask)), 1e-6)
        sand = blade.Sand(coat.grain_size, _GRAIN_SPREAD, (0.35 * coat.grain_size, 3.0 * coat.grain_size))
        volume = coat.material.grain * thick
        grains = blade.specks(self.grid, sand, volume, _MOST_GRAINS, self.streams.key("sand"))
        return strips.each(np.multiply, edge, grains, out=grains)

    @drawn_once
    def drying(self) -> Array:
        """Patches of drying, a factor on the tone."""
        return blade.drying(self.grid, self.streams.key("drying"), self.passes.supply - 0.5, 0.02)


class TextureCoat(Coat):
    """A texture coat builds a tooth: stipple or strokes, and the sand that is in it."""

    kind: Literal["texture_coat"] = "texture_coat"
    method: Annotated[
        Literal["roll", "brush", "trowel"], Field(description="How the coat is put on: rolled, brushed or trowelled.")
    ] = "roll"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    width: Annotated[Length, Field(description="Width of the roller, brush or trowel.")] = "9 in"  # type: ignore[assignment]
    stroke: Annotated[Length, Field(description="Mean length of one pass of the tool.")] = "26 in"  # type: ignore[assignment]
    direction: Annotated[
        Angle, Field(description="Mean direction of the passes: 90 deg is upright, 0 deg across the wall.")
    ] = "90 deg"  # type: ignore[assignment]
    scatter: Annotated[
        Angle, Field(description="How far passes stray from that direction; 90 deg means every way.")
    ] = "5 deg"  # type: ignore[assignment]
    hop: Annotated[Share, Field(description="How unevenly the coat lies from hopping about: 0 % is an even coat.")] = (
        "30 %"  # type: ignore[assignment]
    )
    nap: Annotated[
        Length, Field(description="Nap of the roller or length of the bristle; longer leaves coarser peel.")
    ] = "3/8 in"  # type: ignore[assignment]
    grain_size: Annotated[Length, Field(description="Median diameter of the sand in the coat.")] = "0.4 mm"  # type: ignore[assignment]

    def words(self) -> str:
        """Return the coat in words."""
        done = {"roll": "rolled", "brush": "brushed", "trowel": "trowelled"}[self.method]
        way = "every way" if self.scatter >= 90 else "upright" if abs(abs(self.direction) - 90) < 20 else "across"
        return f"texture coat {done} {way}" + (f", {self.tool}" if self.tool else "")

    def tools_used(self) -> tuple[str, ...]:
        """Return the tool named, or what the method takes: a roller with its nap, a brush, or hawk and trowel."""
        if self.tool:
            return (self.tool,)
        if self.method == "roll":
            return (f"{self.width:.3g} in roller ({_sixteenths(self.nap)} in nap)",)
        return ("block brush",) if self.method == "brush" else ("hawk", "trowel")

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Lay the coat: passes, peel and sand, over the share of the wall that is asked."""
        mean, hand = self.mean_mil, _Hand(self, wall.grid, streams)
        mask, edge = hand.place
        body = Resampled(_body(wall, hand.body), wall.grid.plan, wall.grid)
        film = strips.each(lambda body, peel, edge: body * peel * edge, body, hand.peel, edge)
        scaled(film, mean, out=film)
        sand, least = hand.sand, np.float32(1e-3 * mean)
        binder, sand = (1.0, np.zeros((1, 1), np.float32)) if sand is None else (1.0 - self.material.grain, sand)

        def filled(film: Array, sand: Array, mask: NDArray[np.bool_]) -> Array:
            return np.maximum(film * np.float32(binder) + sand, least) * mask

        strips.each(filled, film, sand, mask, out=film)
        scaled(film, mean, out=film)
        return wall.add(self.stratum(film), tone=over(mask, hand.drying, wall.tone))


def _body(wall: Wall, passes: Array) -> Array:
    """Return how thick the coat lies on the plan grid, about 1: hollows hold a little more than the passes give."""
    if flow.even(wall.height).size == 1:  # it has none
        return np.maximum(passes, np.float32(0.1))
    height = blade.plan_height(wall)
    gap = blade.ride(height, wall.grid.plan.ppi, 0.3, 0.4, 0.3) - height
    gap *= np.float32(0.02)
    body = np.clip(gap, -0.2, 0.4, out=gap)
    body += passes
    return np.maximum(body, 0.1, out=body)
