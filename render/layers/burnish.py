"""Burnishing: a clean trowel or a stone closes and polishes plaster that is nearly hard.

What is seen close up: the tracks of the blade, leaf upon leaf, each crisp along the bow where the blade bore, with a
line burnt along it, and melting away at its other side; some end at once, where the blade lifted. Lines run along the
bow, and across it where the blade shook; where it caught a grain it tore the skin along its way, dull and low. Grains
of the plaster lie cut open; pores crowd here and there, or stand in a row where one was dragged. What was pressed
hardest lies lowest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, seeds, strips, strokes, threads
from render.fields import Array, Grid, Points
from render.hand import Hand, drawn, drawn_once
from render.layers.base import Layer, Length, Mils, Share
from render.seeds import Streams
from render.wall import Wall

Floats = NDArray[np.float64]

# Chosen by eye, all that follows: how much of a blade, held at a slant, bears on the wall, how often each place is
# passed, how wide the edge of a track is where the blade bore, and the line that it burns there.
_BEARS, _PASSES, _CRISP_IN, _HEEL_IN = 0.4, 2.4, 0.015, 0.08
# Shares of tracks: that end at once, along which the blade did not shake, that tore the skin, that left a row of pores.
_LIFTED, _STEADY, _CAUGHT, _STRUNG = 0.3, 0.65, 0.35, 0.25
_GRAIN_IN, _GRAINS_PER_IN2 = 0.02, 6.0  # grains of marble as they lie cut open
_PORE_IN, _HOLE_IN, _PORES_PER_IN2, _ROW = 0.018, 0.05, 9.0, 12  # pores, large ones, and the most in a row
_SINKS, _TORN, _PORE = 4.5, 9.0, 12.0  # mil: what rubbing presses down, and how deep what is torn and a black pore are
_ISLANDS = 2.0  # how steeply polish ends below the high spots: it is full in the upper half of its reach
_EDGE_IN = 60.0  # of the blade's edge, of which each track has its own part
_TORN_IN = (4.0, 12.0)  # of the sheet of tears, across the way and along it
_BAND = 256  # rows drawn at a time


class _Hand(Hand):
    """How the blade is drawn over the wall, and what it lays open, whatever the wall is like; at output size."""

    layer: Burnish

    @drawn
    def leaves(self) -> _Leaves:
        """The tracks of the blade."""
        return _Leaves.over(self.grid, _BEARS * self.layer.blade, self.streams)

    @drawn_once
    def pressed(self) -> Array:
        """How hard the blade rubbed a place, 0 to 1.35: leaf upon leaf, lined along each; below 0 where it tore."""
        leaves, hard = self.leaves, np.zeros(self.grid.shape, np.float32)
        threads.each(lambda rows: leaves.draw(hard, rows), threads.bands(self.grid.rows, _BAND))

        def press(hard: Array) -> Array:
            burnt = np.maximum(hard - np.float32(1.0), 0.0)
            return np.clip(np.float32(0.56) + np.float32(0.4) * hard + np.float32(0.3) * burnt, -0.6, 1.35)

        return strips.each(press, hard)

    @drawn_once
    def specks(self) -> Array:
        """Grains cut open and pores not closed: how much lighter or darker than the plaster, as a share of it."""
        grains = fields.scatter(self.grid, _GRAINS_PER_IN2, self.streams.key("grains"), margin_in=0.1)
        size = _GRAIN_IN * np.exp(0.35 * grains.normal(1))
        light = blade.splat(self.grid, grains, 0.2 * size**2 * grains.unit(3), _GRAIN_IN)
        pores = self._pores()
        size = np.minimum(_PORE_IN * np.exp(0.7 * pores.normal(1)), 2.0 * _HOLE_IN)
        wide = size > 0.6 * _HOLE_IN
        fine = blade.splat(self.grid, pores.where(~wide), 0.6 * size[~wide] ** 2, _PORE_IN)
        holes = blade.splat(self.grid, *_ragged(pores.where(wide), 0.9 * size[wide]), 0.6 * _HOLE_IN)
        flour = fields.lattice(self.grid, 0.05, self.streams.key("flour"), 2.0)

        def show(light: Array, fine: Array, holes: Array, flour: Array) -> Array:
            return np.clip(light - fine - holes + np.float32(0.02) * flour, -0.5, 0.3)

        return strips.each(show, light, fine, holes, flour, out=light)

    def _pores(self) -> Points:
        """Return pores: crowded here and there, hardly any between, and in rows along the blade's way."""
        plan, points = self.grid.plan, fields.scatter(self.grid, _PORES_PER_IN2, self.streams.key("pores"), 12.0, 0.1)
        open_ = np.clip(0.6 * fields.fbm(plan, 2.2, self.streams.key("open"), 3, 0.6) - 0.45, 0.01, 1.0)
        kept = points.unit(2) < fields.gather(open_, points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5)
        own, rows = points.where(kept), self.leaves.rows_of_pores()
        row, col = np.append(own.row_in, rows.row_in), np.append(own.col_in, rows.col_in)
        return Points(row, col, np.append(own.ids, rows.ids))


def _ragged(holes: Points, size: Floats) -> tuple[Points, Floats]:
    """Return holes of some sizes, inches, each in three parts that hang together, and the volumes of the parts."""
    ids = seeds.mix64(holes.ids + np.arange(3, dtype=np.uint64)[:, None])
    pick = Points(np.zeros(ids.shape), np.zeros(ids.shape), ids)
    row, col = holes.row_in + 0.35 * size * pick.normal(1), holes.col_in + 0.35 * size * pick.normal(2)
    return Points(row.ravel(), col.ravel(), ids.ravel()), (0.5 * size**2 * pick.unit(3)).ravel()


@dataclass(frozen=True)
class _Edge:
    """What the edge of a blade writes; all float32, told apart ``per_in`` to an inch.

    ``lines`` (places,) along its way and ``chatter`` (places,) across it; ``heel`` (places,) the line that it burns,
    from the side that bears inwards; ``torn`` (places across, half as many to an inch along) tears, at most 0.
    """

    lines: Array
    chatter: Array
    heel: Array
    torn: Array
    per_in: float

    @classmethod
    def of(cls, grid: Grid, streams: Streams) -> _Edge:
        """Draw a blade's edge."""
        per_in, key = 2.0 * min(grid.ppi, 100.0), streams.key
        heel = np.exp(np.arange(round(5.0 * _HEEL_IN * per_in) + 1) / np.float32(-_HEEL_IN * per_in))
        return cls(_edge_lines(per_in, key("lines")), _chatter(per_in, key("chatter")), np.asarray(heel, np.float32),
                   _torn(per_in, key("torn")), per_in)  # fmt: skip

    def profile(self, first_in: float, wide_in: float, heel: float) -> Array:
        """Return what a part of the edge writes across its way, up to the side that bears: float32 (places,)."""
        start, size = int(first_in * self.per_in), max(1, math.ceil(wide_in * self.per_in - 1e-6))
        own, near = self.lines[start : start + size].copy(), self.heel[:size]
        own[size - near.size :] += np.float32(heel) * near[::-1]
        return own


@dataclass(frozen=True)
class _Leaves:
    """Tracks of a blade in the order of rubbing, in inches: each part float64 (n,) unless said.

    ``row`` and ``col`` of the middle; ``cos`` and ``sin`` of the way; ``half_len``, ``half_wide``; ``bend`` per inch,
    and ``bow`` by how much more the side bends that bears; ``level`` how hard it was pressed, about unit variance, and
    ``heel`` how much harder at that side; ``fades`` the width over which it is gone at the other side, ``stops`` the
    length at the end; ``shakes`` and ``tears`` how strongly the blade shook and tore the skin, 0 to 1; ``at`` its own
    place on the ``edge``; ``ids`` uint64, its own numbers.
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
    heel: Floats
    fades: Floats
    stops: Floats
    shakes: Floats
    tears: Floats
    at: Floats
    ids: NDArray[np.uint64]
    edge: _Edge

    @classmethod
    def over(cls, grid: Grid, bears_in: float, streams: Streams) -> _Leaves:
        """Scatter the tracks; a wider wall keeps those that it had."""
        wide = float(np.clip(bears_in, 0.6, 30.0))
        points = fields.scatter(grid, _PASSES / (2.2 * wide * wide), streams.key("rub"), margin_in=1.8 * wide)
        points = points.where(np.argsort(points.unit(1)))
        unit = points.unit
        turn = 2.0 * np.pi * unit(2)
        half_wide = 0.5 * wide * (0.3 + 1.2 * unit(3) ** 1.5)
        half_len = 1.08 * wide * np.clip(np.exp(0.4 * points.normal(4)), 0.5, 1.6)
        bend = (2.0 * unit(5) - 1.0) / 11.0
        bow = 2.0 * half_wide * (0.05 + 0.6 * unit(9) ** 2) / half_len**2
        fades = 2.0 * half_wide * (0.4 + 0.6 * unit(6))
        stops = half_len * np.where(unit(10) < _LIFTED, 0.0, 0.15 + 0.6 * unit(11))
        shakes = np.maximum(unit(12) - _STEADY, 0.0) / (1.0 - _STEADY)
        tears = np.maximum(1.0 - unit(13) / _CAUGHT, 0.0) ** 0.5
        return cls(grid, points.row_in, points.col_in, np.cos(turn), np.sin(turn), half_len, half_wide, bend, bow,
                   np.maximum(points.normal(7), -1.3), 1.6 * unit(14) ** 2, fades, stops, shakes, tears,
                   unit(8) * (_EDGE_IN - 0.1 - 2.0 * half_wide), points.ids, _Edge.of(grid, streams))  # fmt: skip

    def rows_of_pores(self) -> Points:
        """Return pores in rows along some tracks, closer and closer to where the grain stayed."""
        own = Points(self.row, self.col, self.ids)
        some = np.flatnonzero(own.unit(15) < _STRUNG)
        own, pore = own.where(some), np.arange(_ROW)
        ids = seeds.mix64(own.ids[:, None] + pore.astype(np.uint64))
        pick = Points(np.zeros(ids.shape), np.zeros(ids.shape), ids)
        half_len, half_wide = self.half_len[some, None], self.half_wide[some, None]
        far = 1.2 * own.unit(16)[:, None] * pick.unit(1) ** 2
        along = half_len * (0.8 * (2.0 * own.unit(17)[:, None] - 1.0) - far)
        across = half_wide * (1.6 * own.unit(18)[:, None] - 0.8) + 0.02 * pick.normal(2)
        across += 0.5 * self.bend[some, None] * along**2
        cos, sin = self.cos[some, None], self.sin[some, None]
        row, col = self.row[some, None] - sin * along + cos * across, self.col[some, None] + cos * along + sin * across
        there = pore < _ROW * own.unit(19)[:, None] ** 1.5
        return Points(row[there], col[there], ids[there])

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
        along, across, bowed = self._placed(index, row, col)
        weight = self._weight(index, along, across, bowed)
        edge, half_wide, first = self.edge, float(self.half_wide[index]), float(self.at[index])
        bowed += half_wide
        bowed *= edge.per_in
        place = bowed.astype(np.intp)
        new = edge.profile(first, 2.0 * half_wide, float(self.heel[index])).take(place, mode="clip")
        along += first
        if (shakes := float(self.shakes[index])) > 0.0:
            new += np.float32(shakes) * edge.chatter.take((along * edge.per_in).astype(np.intp), mode="wrap")
        if (tears := float(self.tears[index])) > 0.0:
            along *= 0.5 * edge.per_in
            place *= edge.torn.shape[1]
            place += along.astype(np.intp)
            new += np.float32(tears) * edge.torn.take(place, mode="wrap")
        new += float(self.level[index])
        new -= hard
        new *= weight
        hard += new

    def _weight(self, index: int, along: Array, across: Array, bowed: Array) -> Array:
        """Return how much a track hides of what is there, 0 to 1."""
        parts = self.half_len, self.half_wide, self.fades, self.stops
        half_len, half_wide, fades, stops = (float(part[index]) for part in parts)
        crisp = max(_CRISP_IN, 0.7 / self.grid.ppi)
        weight, other = across * (1.0 / fades), np.empty_like(across)
        weight += half_wide / fades
        bears, ends = (bowed, -1.0 / crisp, half_wide), (along, -1.0 / max(stops, crisp), half_len)
        for place, slope, half in (bears, ends, (along, 1.4 / half_len, half_len)):
            np.multiply(place, slope, out=other)
            other += abs(slope) * half
            np.minimum(weight, other, out=weight)
        np.minimum(weight, 1.0, out=weight)
        return np.maximum(weight, 0.0, out=weight)

    def _placed(self, index: int, row: Array, col: Array) -> tuple[Array, Array, Array]:
        """Return inches along a track from its middle and across it, with its bend; and the latter with its bow too.

        It is set down and lifted off at a slant: the side that bears is a bow.
        """
        parts = self.row, self.col, self.cos, self.sin, self.bend, self.bow
        middle_row, middle_col, cos, sin, bend, bow = (float(part[index]) for part in parts)
        row, col = row - middle_row, col - middle_col
        along, across = col * cos - row * sin, col * sin + row * cos
        square = along * along
        across -= (0.5 * bend) * square
        square *= bow
        square += across
        return along, across, square


def _edge_lines(per_in: float, key: int) -> Array:
    """Return what the edge of a blade, never quite even, writes along its way: float32 (places,), about 0.4 deep."""
    edge = Grid(1, max(1, round(_EDGE_IN * per_in)), per_in)
    lines = np.float32(0.35) * fields.fbm(edge, (1.0, 0.14), key, 4, 0.75)
    lines -= np.float32(0.8) * np.clip(fields.lattice(edge, (1.0, 0.03), key + 9) - np.float32(1.6), 0.0, 1.5)
    return np.ascontiguousarray(lines[0])


def _chatter(per_in: float, key: int) -> Array:
    """Return what a blade that shakes writes across its way: float32 (places,), unevenly spaced, here and there."""
    way = Grid(1, max(1, round(_EDGE_IN * per_in)), per_in)
    waves = np.float32(0.3) * fields.fbm(way, (1.0, 0.16), key, 2, 0.6)
    waves *= np.clip(np.float32(0.6) + fields.lattice(way, (1.0, 1.6), key + 9), 0.0, 1.6)
    return np.ascontiguousarray(waves[0])


def _torn(per_in: float, key: int) -> Array:
    """Return tears of the skin, 0 to -2.6: each deepens along the way and ends at once, and they lie in flocks."""
    across, along = per_in, 0.5 * per_in
    sheet = Grid(max(1, round(_TORN_IN[0] * across)), max(1, round(_TORN_IN[1] * along)), 1.0)  # in its own pixels
    torn = fields.fbm(sheet, (0.11 * across, 0.35 * along), key, 3, 0.7)
    torn += np.float32(0.8) * fields.fbm(sheet, (0.9 * across, 2.5 * along), key + 5, 2, 0.6)
    torn -= np.float32(1.55)
    strokes.deepen(torn, 0.35 * along)
    return np.asarray(np.clip(torn, 0.0, 1.3) * np.float32(-2.0), np.float32)


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
        steep = np.float32(_ISLANDS / max(self.reach, 0.05))

        def rub(height: Array, over: Array, pressed: Array) -> Array:
            return np.maximum(np.clip((height - over) * steep, 0.0, 1.0) * pressed, np.float32(0.02))

        pressed = hand.pressed
        rubbed = strips.each(rub, wall.height, over, pressed)
        if self.coverage < 1.0:
            rubbed *= self._where(wall, rubbed, streams)
        specks = hand.specks

        def tone(old: Array, rubbed: Array, specks: Array) -> Array:
            return old * (1.0 - np.float32(self.darken) * rubbed + specks * np.minimum(rubbed, np.float32(1.0)))

        def sheen(old: Array, rubbed: Array) -> Array:
            shine = np.minimum(rubbed, np.float32(1.0))  # it comes late: half rubbed is far from half as bright
            return old + (1.0 - old) * np.float32(self.polish) * shine * shine

        def height(old: Array, rubbed: Array, pressed: Array, specks: Array) -> Array:
            low = np.float32(_TORN) * np.minimum(pressed, 0.0) + np.float32(_PORE) * np.minimum(specks, 0.0)
            return np.asarray(old - np.float32(_SINKS) * rubbed + low, np.float32)

        return wall.evolve(tone=strips.each(tone, wall.tone, rubbed, specks),
                           sheen=strips.each(sheen, wall.sheen, rubbed),
                           height=strips.each(height, wall.height, rubbed, pressed, specks))  # fmt: skip

    def _where(self, wall: Wall, rubbed: np.ndarray, streams: Streams) -> np.ndarray:
        """Return the burnished share: where the tool rubs first, in slow patches."""
        return fields.cover(rubbed + 0.8 * fields.fbm(wall.grid, 8.0, streams.key("where"), 3), self.coverage)
