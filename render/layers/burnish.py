"""Burnishing: a clean trowel or a stone closes and polishes plaster that is nearly hard.

What is seen close up: the tracks of the blade, leaf upon leaf, each crisp where the blade bore or stopped and gone at
its other side; a few burnt ones, darker and shinier than the rest; lines along them; grains of the plaster cut open.
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
        shade = np.where(points.unit(2) < 0.6, 0.2, -0.4) * points.unit(3)
        specks = blade.splat(self.grid, points, size**2 * shade, _SPECK_IN)
        flour = fields.lattice(self.grid, 0.05, self.streams.key("flour"), 2.0)
        return strips.each(lambda one, flour: np.clip(one + np.float32(0.02) * flour, -0.4, 0.3), specks, flour)


@dataclass(frozen=True)
class _Leaves:
    """Tracks of a blade in the order of rubbing, in inches: each part float64 (n,) unless said.

    ``row`` and ``col`` of the middle; ``cos`` and ``sin`` of the way; ``half_len``, ``half_wide``; ``bend`` per inch;
    ``level`` how hard it was pressed, about unit variance; ``fades`` the width over which it is gone at the side that
    does not bear; ``at`` its own place on the edge, whose ``lines`` are told apart ``per_in`` to an inch: float32.
    """

    grid: Grid
    row: Floats
    col: Floats
    cos: Floats
    sin: Floats
    half_len: Floats
    half_wide: Floats
    bend: Floats
    level: Floats
    fades: Floats
    at: Floats
    lines: Array
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
        half_len = 1.05 * wide * np.clip(np.exp(0.4 * points.normal(4)), 0.5, 1.6)
        bend = (2.0 * points.unit(5) - 1.0) / 11.0
        fades = 2.0 * half_wide * (0.15 + 0.85 * points.unit(6))
        lines = _edge_lines(per_in, streams.key("lines"))
        return cls(grid, points.row_in, points.col_in, np.cos(turn), np.sin(turn), half_len, half_wide, bend,
                   points.normal(7), fades, points.unit(8) * _EDGE_IN, lines, per_in)  # fmt: skip

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
        along, across = self._placed(index, row, col)
        parts = self.half_len, self.half_wide, self.level, self.fades, self.at
        half_len, half_wide, level, fades, first = (float(part[index]) for part in parts)
        steep, gentle = 1.0 / max(_CRISP_IN, 0.7 / self.grid.ppi), 1.0 / (0.7 * half_len)
        weight, other = across * (1.0 / fades), np.empty_like(across)
        weight += half_wide / fades
        for place, slope, half in ((across, -steep, half_wide), (along, -steep, half_len), (along, gentle, half_len)):
            np.multiply(place, slope, out=other)
            other += abs(slope) * half
            np.minimum(weight, other, out=weight)
        np.minimum(weight, 1.0, out=weight)
        np.maximum(weight, 0.0, out=weight)
        across *= self.per_in
        across += first * self.per_in
        new = self.lines.take(across.astype(np.int32), mode="wrap")
        new += level
        new -= hard
        new *= weight
        hard += new

    def _placed(self, index: int, row: Array, col: Array) -> tuple[Array, Array]:
        """Return inches along a track from its middle and across it, with its bend."""
        parts = self.row, self.col, self.cos, self.sin, self.bend
        middle_row, middle_col, cos, sin, bend = (float(part[index]) for part in parts)
        row, col = row - middle_row, col - middle_col
        along, across = col * cos - row * sin, col * sin + row * cos
        bow = along * along
        bow *= 0.5 * bend
        across -= bow
        return along, across


def _edge_lines(per_in: float, key: int) -> Array:
    """Return what the edge of a blade, never quite even, writes along its way: float32 (places,), about 0.4 deep."""
    edge = Grid(1, max(1, round(_EDGE_IN * per_in)), per_in)
    lines = np.float32(0.35) * fields.fbm(edge, (1.0, 0.14), key, 3, 0.7)
    lines -= np.float32(0.8) * np.clip(fields.lattice(edge, (1.0, 0.03), key + 9) - np.float32(1.6), 0.0, 1.5)
    return np.ascontiguousarray(lines[0])


class Burnish(Layer):
    """Polishes what stands highest: it darkens, closes and shines. It takes nothing away."""

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
        """Raise the sheen and lower the tone where the tool rubs."""
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

        return wall.evolve(tone=strips.each(tone, wall.tone, rubbed, specks),
                           sheen=strips.each(sheen, wall.sheen, rubbed))  # fmt: skip

    def _where(self, wall: Wall, rubbed: np.ndarray, streams: Streams) -> np.ndarray:
        """Return the burnished share: where the tool rubs first, in slow patches."""
        return fields.cover(rubbed + 0.8 * fields.fbm(wall.grid, 8.0, streams.key("where"), 3), self.coverage)
