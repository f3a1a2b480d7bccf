"""Burnishing: a clean trowel or a stone closes and polishes plaster that is nearly hard.

What is seen close up: the tracks of the blade, leaf upon leaf, each crisp along the bow where the blade bore and
melting away at its other side and its ends; a few burnt ones, darker and shinier than the rest; lines along them, and
across them where the blade shook; grains of the plaster cut open, and pores. What was pressed hardest lies lowest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, strips, threads
from render.fields import Array, Grid
from render.hand import Hand, drawn_once
from render.layers.base import Layer, Length, Mils, Share
from render.seeds import Streams
from render.wall import Wall

Floats = NDArray[np.float64]

# Chosen by eye, all that follows: how much of a blade, held at a slant, bears on the wall, how often each place is
# passed, and how wide the edge of a track is where the blade bore.
_BEARS, _PASSES, _CRISP_IN = 0.4, 3.2, 0.015
_SPECK_IN, _SPECKS_PER_IN2 = 0.024, 16.0  # grains of marble as they lie cut open, and pores
_CAUGHT, _STEADY = 0.15, 0.6  # shares of tracks: that end at once, and along which the blade did not shake
_SINKS, _PORE = 4.5, 9.0  # mil: what rubbing presses down, and how deep a pore is that would be black
_EDGE_IN = 60.0  # of the blade's edge, of which each track has its own part
_BAND = 256  # rows drawn at a time


class _Hand(Hand):
    """How the blade is drawn over the wall, and what it lays open, whatever the wall is like; at output size."""

    layer: Burnish

    @drawn_once
    def pressed(self) -> Array:
        """How hard the blade rubbed a place, 0 to 1.35: leaf upon leaf, lined along each."""
        leaves = _Leaves.over(self.grid, _BEARS * self.layer.blade, self.streams)
        hard = np.zeros(self.grid.shape, np.float32)
        threads.each(lambda rows: leaves.draw(hard, rows), threads.bands(self.grid.rows, _BAND))

        def press(hard: Array) -> Array:
            burnt = np.maximum(hard - np.float32(1.0), 0.0)
            return np.clip(np.float32(0.58) + np.float32(0.36) * hard + np.float32(0.3) * burnt, 0.0, 1.35)

        return strips.each(press, hard)

    @drawn_once
    def specks(self) -> Array:
        """Grains cut open and pores not closed: how much lighter or darker than the plaster, as a share of it."""
        points = fields.scatter(self.grid, _SPECKS_PER_IN2, self.streams.key("specks"), margin_in=0.1)
        size = _SPECK_IN * np.exp(0.35 * points.normal(1))
        shade = np.where(points.unit(2) < 0.5, 0.2 * points.unit(3), -0.6 * points.unit(3) ** 3)
        specks = blade.splat(self.grid, points, size**2 * shade, _SPECK_IN)
        flour = fields.lattice(self.grid, 0.05, self.streams.key("flour"), 2.0)
        return strips.each(lambda one, flour: np.clip(one + np.float32(0.02) * flour, -0.4, 0.3), specks, flour)


@dataclass(frozen=True)
class _Leaves:
    """Tracks of a blade in the order of rubbing, in inches: each part float64 (n,) unless said.

    ``row`` and ``col`` of the middle; ``cos`` and ``sin`` of the way; ``half_len``, ``half_wide``; ``bend`` per inch,
    and ``bow`` by how much more the side bends that bears; ``level`` how hard it was pressed, about unit variance;
    ``fades`` the width over which it is gone at the other side, ``stops`` the length at the end; ``shakes`` how
    strongly the blade shook, 0 to 1; ``at`` its own place on the edge, whose ``lines`` and ``chatter``, float32, are
    told apart ``per_in`` to an inch.
    """

    grid: Grid
    row: Floats
    col: Floats
    cos: Floats
    sin: Floats
    half_len: Floats
    half_wide: Floats
    bend: Floats
    bow: Floats
    level: Floats
    fades: Floats
    stops: Floats
    shakes: Floats
    at: Floats
    lines: Array
    chatter: Array
    per_in: float

    @classmethod
    def over(cls, grid: Grid, bears_in: float, streams: Streams) -> _Leaves:
        """Scatter the tracks; a wider wall keeps those that it had."""
        wide = max(bears_in, 0.6)
        points = fields.scatter(grid, _PASSES / (2.2 * wide * wide), streams.key("rub"), margin_in=1.8 * wide)
        order = np.argsort(points.unit(1))
        points = points.where(order)
        per_in = 2.0 * min(grid.ppi, 100.0)
        turn = 2.0 * np.pi * points.unit(2)
        half_wide = 0.5 * wide * (0.3 + 1.2 * points.unit(3) ** 1.5)
        half_len = 1.08 * wide * np.clip(np.exp(0.4 * points.normal(4)), 0.5, 1.6)
        bend = (2.0 * points.unit(5) - 1.0) / 11.0
        bow = 2.0 * half_wide * (0.05 + 0.6 * points.unit(9) ** 2) / half_len**2
        fades = 2.0 * half_wide * (0.4 + 0.6 * points.unit(6))
        stops = half_len * np.where(points.unit(10) < _CAUGHT, 0.0, 0.15 + 0.6 * points.unit(11))
        shakes = np.maximum(points.unit(12) - _STEADY, 0.0) / (1.0 - _STEADY)
        first = points.unit(8) * _EDGE_IN
        lines, chatter = _edge_lines(per_in, streams.key("lines")), _chatter(per_in, streams.key("chatter"))
        return cls(grid, points.row_in, points.col_in, np.cos(turn), np.sin(turn), half_len, half_wide, bend, bow,
                   points.normal(7), fades, stops, shakes, first, lines, chatter, per_in)  # fmt: skip

    def draw(self, hard: Array, rows: slice) -> None:
        """Rub some rows of the wall with every track, one over another."""
        down, along = self.grid.row_in.astype(np.float32), self.grid.col_in.astype(np.float32)
        top, low, left, right = self._windows()
        top, low = np.maximum(top, rows.start), np.minimum(low, rows.stop)
        left, right = np.maximum(left, 0), np.minimum(right, self.grid.cols)
        for index in np.flatnonzero((low > top) & (right > left)).tolist():
            at = slice(top[index], low[index]), slice(left[index], right[index])
            self._rub(hard[at], index, down[at[0], None], along[at[1]])

    def _windows(self) -> tuple[NDArray[np.int64], ...]:
        """Return the first row and that after the last of each track, and the columns: (n,) each."""
        sag = 0.5 * np.abs(self.bend) * self.half_len**2
        tall = np.abs(self.sin) * self.half_len + np.abs(self.cos) * (self.half_wide + sag)
        wide = np.abs(self.cos) * self.half_len + np.abs(self.sin) * (self.half_wide + sag)
        ends = self.row - tall, self.row + tall, self.col - wide, self.col + wide
        top, low, left, right = ((one * self.grid.ppi).astype(np.int64) for one in ends)
        return top, low + 1, left, right + 1

    def _rub(self, hard: Array, index: int, row: Array, col: Array) -> None:
        """Draw one track over what is there."""
        along, across, square = self._placed(index, row, col)
        weight = self._weight(index, along, across, square)
        first, shakes = float(self.at[index]) * self.per_in, float(self.shakes[index])
        across *= self.per_in
        across += first
        new = self.lines.take(across.astype(np.int32), mode="wrap")
        if shakes > 0.0:
            along *= self.per_in
            along += first
            new += np.float32(shakes) * self.chatter.take(along.astype(np.int32), mode="wrap")
        new += float(self.level[index])
        new -= hard
        new *= weight
        hard += new

    def _weight(self, index: int, along: Array, across: Array, square: Array) -> Array:
        """Return how much a track hides of what is there, 0 to 1; ``square`` is used up."""
        parts = self.half_len, self.half_wide, self.bow, self.fades, self.stops
        half_len, half_wide, bow, fades, stops = (float(part[index]) for part in parts)
        crisp = max(_CRISP_IN, 0.7 / self.grid.ppi)
        square *= bow
        square += across  # it is set down and lifted off at a slant: the side that bears is a bow
        weight, other = across * (1.0 / fades), np.empty_like(across)
        weight += half_wide / fades
        bears, ends = (square, -1.0 / crisp, half_wide), (along, -1.0 / max(stops, crisp), half_len)
        for place, slope, half in (bears, ends, (along, 1.4 / half_len, half_len)):
            np.multiply(place, slope, out=other)
            other += abs(slope) * half
            np.minimum(weight, other, out=weight)
        np.minimum(weight, 1.0, out=weight)
        return np.maximum(weight, 0.0, out=weight)

    def _placed(self, index: int, row: Array, col: Array) -> tuple[Array, Array, Array]:
        """Return inches along a track from its middle and across it, with its bend; and the square of the former."""
        parts = self.row, self.col, self.cos, self.sin, self.bend
        middle_row, middle_col, cos, sin, bend = (float(part[index]) for part in parts)
        row, col = row - middle_row, col - middle_col
        along, across = col * cos - row * sin, col * sin + row * cos
        square = along * along
        across -= (0.5 * bend) * square
        return along, across, square


def _edge_lines(per_in: float, key: int) -> Array:
    """Return what the edge of a blade, never quite even, writes along its way: float32 (places,), about 0.4 deep."""
    edge = Grid(1, max(1, round(_EDGE_IN * per_in)), per_in)
    lines = np.float32(0.35) * fields.fbm(edge, (1.0, 0.14), key, 3, 0.7)
    lines -= np.float32(0.8) * np.clip(fields.lattice(edge, (1.0, 0.03), key + 9) - np.float32(1.6), 0.0, 1.5)
    return np.ascontiguousarray(lines[0])


def _chatter(per_in: float, key: int) -> Array:
    """Return what a blade that shakes writes across its way: float32 (places,), unevenly spaced, here and there."""
    way = Grid(1, max(1, round(_EDGE_IN * per_in)), per_in)
    waves = np.float32(0.3) * fields.fbm(way, (1.0, 0.16), key, 2, 0.6)
    waves *= np.clip(np.float32(0.6) + fields.lattice(way, (1.0, 1.6), key + 9), 0.0, 1.6)
    return np.ascontiguousarray(waves[0])


class Burnish(Layer):
    """Polishes what stands highest: it darkens, closes, shines and is pressed down. It takes nothing away."""

    kind: Literal["burnish"] = "burnish"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    blade: Annotated[Length, Field(description="Width of the trowel or stone.")] = "6 in"  # type: ignore[assignment]
    reach: Annotated[Mils, Field(description="How far below the high spots the polish reaches.")] = "2 mil"  # type: ignore[assignment]
    polish: Annotated[Share, Field(description="Sheen of well burnished places.")] = "45 %"  # type: ignore[assignment]
    darken: Annotated[Share, Field(description="How much darker burnished places turn.")] = "7 %"  # type: ignore[assignment]
    coverage: Annotated[Share, Field(description="Share of the wall that is burnished.")] = "100 %"  # type: ignore[assignment]

    title = "burnished"
    tools = ("burnishing trowel",)
    while_wet = True

    def achieved(self, before: Wall, after: Wall) -> float | None:
        """Return the share of the wall that was polished or darkened."""
        return float(np.mean((after.tone != before.tone) | (after.sheen != before.sheen)))

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Raise the sheen and lower the tone and the surface where the tool rubs."""
        if self.coverage <= 0:
            return wall
        plan, hand = wall.grid.plan, _Hand(self, wall.grid, streams)
        over = blade.ride(blade.plan_height(wall), plan.ppi, 0.8, 1.6, 0.7) - np.float32(self.reach)
        over = fields.resample(over, plan, wall.grid)
        reach = np.float32(max(self.reach, 0.05))

        def rub(height: Array, over: Array, pressed: Array) -> Array:
            return np.clip((height - over) / reach, 0.0, 1.0) * pressed

        rubbed = strips.each(rub, wall.height, over, hand.pressed)
        np.maximum(rubbed, 0.02, out=rubbed)
        if self.coverage < 1.0:
            rubbed *= self._where(wall, rubbed, streams)
        specks = hand.specks

        def tone(old: Array, rubbed: Array, specks: Array) -> Array:
            return old * (1.0 - np.float32(self.darken) * rubbed + specks * np.minimum(rubbed, np.float32(1.0)))

        def sheen(old: Array, rubbed: Array) -> Array:
            shine = np.minimum(rubbed, np.float32(1.0))  # it comes late: half rubbed is far from half as bright
            return old + (1.0 - old) * np.float32(self.polish) * shine * shine

        def height(old: Array, rubbed: Array, specks: Array) -> Array:
            return old - np.float32(_SINKS) * rubbed + np.float32(_PORE) * np.minimum(specks, np.float32(0.0))

        return wall.evolve(tone=strips.each(tone, wall.tone, rubbed, specks),
                           sheen=strips.each(sheen, wall.sheen, rubbed),
                           height=strips.each(height, wall.height, rubbed, specks))  # fmt: skip

    def _where(self, wall: Wall, rubbed: np.ndarray, streams: Streams) -> np.ndarray:
        """Return the burnished share: where the tool rubs first, in slow patches."""
        return fields.cover(rubbed + 0.8 * fields.fbm(wall.grid, 8.0, streams.key("where"), 3), self.coverage)
