"""A cast or floated slab that carries the marks of its boards: grain, seams, fins and air holes.

What a finisher sees: boards that stood at slightly different levels, arched grain and knots in reverse, thin fins where
slurry crept between two boards, air holes crowded where a lift ends, very many small and few large, and each board's
own tone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, seeds
from render.fields import Array, Grid
from render.layers.base import Coat, Length, Mils, Share, scaled
from render.seeds import Streams
from render.wall import Wall

_STEEP = 2.3  # of air holes twice as wide there are so many halvings fewer; chosen by eye
_PINHOLE = 0.1  # of the largest hole's diameter has the smallest; chosen by eye
_LIFT_IN, _BELOW_IN = 26.0, 4.5  # height of a lift, and how far down from its top air gathers; chosen by eye
_TRUE = 0.022  # of a board's width its edges stand off at most: as boards are sawn
_SAWN = 0.3  # of a board's length its ends stand off at most
_SAND = 0.09  # of the grain's depth is the sand's tooth; chosen by eye
_LEAST = 0.12  # of the mean film lies even at the bottom of a hole


@dataclass(frozen=True, eq=False)
class _Boards:
    """Boards on a grid: inches ``along`` and ``across`` from a board's middle, ``seam`` and ``butt`` inches to its
    edges, ``index`` in ``numbers`` (for hashed attributes) of the board, and of the one whose upper or left edge is the
    nearest seam (``above``) or butt (``before``); all (rows, cols)."""

    along: Array
    across: Array
    seam: Array
    butt: Array
    index: NDArray[np.int64]
    above: NDArray[np.int64]
    before: NDArray[np.int64]
    numbers: NDArray[np.uint64]

    def unit(self, purpose: int, of: NDArray[np.int64] | None = None) -> Array:
        """Return a uniform number for each pixel's board."""
        own = seeds.hash_unit(self.numbers, purpose).astype(np.float32)
        return own.take(self.index if of is None else of)


class BoardMarked(Coat):
    """A cementitious coat with the print of a board form."""

    kind: Literal["board_marked"] = "board_marked"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    boards: Annotated[
        Literal["across", "upright"], Field(description="Whether the boards run across the wall or stand upright.")
    ] = "across"
    board: Annotated[Length, Field(description="Width of a board.")] = "6 in"  # type: ignore[assignment]
    length: Annotated[Length, Field(description="Mean length of a board.")] = "84 in"  # type: ignore[assignment]
    levels: Annotated[Mils, Field(description="How far boards stand before or behind one another.")] = "14 mil"  # type: ignore[assignment]
    grain: Annotated[Mils, Field(description="Depth of the wood's grain.")] = "6 mil"  # type: ignore[assignment]
    fins: Annotated[Mils, Field(description="Height of the fins at the seams.")] = "22 mil"  # type: ignore[assignment]
    holes: Annotated[Share, Field(description="Share of the wall that is air holes.")] = "0.5 %"  # type: ignore[assignment]
    hole: Annotated[Length, Field(description="Diameter of the largest holes.")] = "3/8 in"  # type: ignore[assignment]
    shade: Annotated[Share, Field(description="How much boards and drying differ in tone.")] = "6 %"  # type: ignore[assignment]

    title: ClassVar[str] = "board-marked slab"
    tools: ClassVar[tuple[str, ...]] = ("steel trowel", "grained boards", "roller")

    def words(self) -> str:
        """Return the layer's line."""
        return f"board-marked, {self.board:.3g} in boards {self.boards}, {100 * self.holes:.2g} % air holes"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Cast the slab: its face is the form's, its back is the wall."""
        grid, mean = wall.grid, self.mean_mil
        boards = self._boards(grid, streams)
        face = self._levels(boards, streams) + self._wood(grid, boards, streams) + self._seams(grid, boards, streams)
        face += self._skin(grid, streams)
        holes = self._holes(grid, streams)
        on = self._placed(grid, streams)
        back = np.clip(wall.height - np.mean(wall.height, dtype=np.float64), -0.4 * mean, 0.4 * mean)
        body = np.maximum(mean + face - 0.7 * back, _LEAST * mean)
        film = np.maximum(body - np.minimum(holes, 0.8 * mean), _LEAST * mean) * on
        tone = np.where(on, self._tone(grid, boards, holes, streams), wall.tone)
        return wall.add(self.stratum(scaled(film.astype(np.float32), mean)), tone=tone.astype(np.float32))

    def _placed(self, grid: Grid, streams: Streams) -> NDArray[np.bool_]:
        """Return where the slab lies: everywhere, or but for ragged losses."""
        if self.coverage >= 1.0:
            return np.ones(grid.shape, bool)
        return fields.cover(fields.fbm(grid, 6.0, streams.key("where"), 6, 0.55), self.coverage)

    def _boards(self, grid: Grid, streams: Streams) -> _Boards:
        """Return the boards on a grid."""
        down, right = grid.row_in[:, None].astype(np.float32), grid.col_in[None, :].astype(np.float32)
        slip = fields.resample(0.02 * fields.fbm(grid.plan, 9.0, streams.key("slip"), 3), grid.plan, grid)
        along, across = (right, down) if self.boards == "across" else (down, right)
        wide, long = max(self.board, 0.5), max(self.length, 6.0)
        first = seeds.hash_lattice(np.arange(1), np.arange(1), streams.key("first"))[0, 0]
        edge = (1.4, 0.5) if self.boards == "across" else (0.5, 1.4)
        slip = slip + np.float32(0.013) * fields.fbm(grid, edge, streams.key("edge"), 3, 0.7)
        v = (across + slip) / np.float32(wide) + np.float32(first)  # the wall is cut out of a wider slab
        rows = np.arange(math.floor(float(v.min())) - 2, math.floor(float(v.max())) + 4)
        row, top, low = _within(v, rows + _TRUE * _off(rows, np.arange(1), streams.key("true")).T, int(rows[0]))
        start = seeds.hash_lattice(rows, np.arange(1), streams.key("start"))[:, 0].astype(np.float32)
        at = row - rows[0]
        u = along / np.float32(long) + start.take(at)
        pieces = np.arange(-2, math.floor(float(along.max()) / long) + 5)
        ends = pieces + _SAWN * _off(rows, pieces, streams.key("sawn off"))
        piece, before, behind = _within(u, ends, int(pieces[0]), at)
        index = at * pieces.size + piece - pieces[0]
        numbers = ((rows + 512)[:, None] * 65536 + pieces + 512).astype(np.uint64) ^ np.uint64(streams.key("board"))
        return _Boards(
            0.5 * (before - behind) * np.float32(long), 0.5 * (top - low) * np.float32(wide),
            np.minimum(top, low) * np.float32(wide), np.minimum(before, behind) * np.float32(long),
            index, (at + (low < top)) * pieces.size, index + (behind < before), seeds.mix64(numbers).ravel(),
        )  # fmt: skip

    def _levels(self, boards: _Boards, streams: Streams) -> Array:
        """Return how each board stood, mil: before or behind, tilted and cupped."""
        key, part = streams.key, boards.across / np.float32(max(self.board, 0.5))
        level = (boards.unit(key("level")) - 0.5) * 2.0 + (boards.unit(key("tilt")) - 0.5) * 1.6 * part
        cup = (boards.unit(key("cup")) - 0.35) * 2.4 * part * part
        return np.asarray(np.float32(0.5 * self.levels) * (level + cup), np.float32)

    def _wood(self, grid: Grid, boards: _Boards, streams: Streams) -> Array:
        """Return the print of the grain, mil: rings of a log as the saw cut them. A board from near the heart shows
        arches, one from the side straight lines; some are bold, some nearly smooth, some kept the marks of the saw.
        """
        if self.grain <= 0:
            return np.zeros((1, 1), np.float32)
        key, plan, level = streams.key, grid.plan, self.boards == "across"
        pitch = 0.13 + 0.14 * boards.unit(key("pitch"))
        aside = boards.unit(key("aside")) - 0.5  # of the heart, from the board's middle
        log, knot = (fields.resample(one, plan, grid) for one in self._log(plan, streams))
        bent = log + np.float32(1.8) * knot
        aside = boards.across - 14.0 * aside * np.abs(aside) + np.float32(0.4) * np.clip(bent, -1.8, 1.8)
        deep = 0.2 + 1.6 * boards.unit(key("deep")) + 0.07 * boards.along * (boards.unit(key("taper")) - 0.5)
        deep += bent * (0.2 + 0.5 * boards.unit(key("arch")))
        years = (0.5, 14.0) if level else (14.0, 0.5)  # fat years and lean ones
        rings = np.sqrt(deep * deep + aside * aside) / pitch + 0.6 * fields.fbm(grid, years, key("years"), 3, 0.6)
        rings += 40.0 * boards.unit(key("ring"))
        branch = np.clip(np.float32(9.0) * knot - np.float32(5.4), 0.0, 1.0)  # a knot has rings of its own
        rings += branch * (np.float32(4.5) * np.sqrt(np.maximum(1.0 - knot, 0.0)) - rings)
        wave = rings - np.floor(rings)
        late = np.clip(np.minimum(wave * 1.6, (1.0 - wave) * 4.0), 0.0, 1.0)  # soft early wood, then a hard edge
        late -= np.float32(0.5) + np.float32(1.4) * branch * (1.0 - branch)  # paste filled the crack about it
        fibre = self._fibre(grid, streams)
        sawn = np.clip(2.2 * boards.unit(key("sawn")) - 1.2, 0.0, 1.0)
        bold = (0.12 + 1.3 * boards.unit(key("bold")) ** 1.6) * (1.0 - 0.7 * sawn)
        wood = bold * late * np.clip(0.9 + 0.3 * fibre, 0.2, 1.6) + (0.16 + 0.16 * bold) * fibre
        wood += sawn * self._saw(grid, boards, streams)
        wood *= np.clip(np.minimum(14.0 * boards.seam, 3.0 * boards.butt - 0.1), 0.0, 1.0)  # paste fills the ends
        return np.asarray(np.float32(self.grain) * wood, np.float32)

    def _fibre(self, grid: Grid, streams: Streams) -> Array:
        """Return hairs of wood that stood up and pores between them, each an inch or so long, and rubbed smooth in
        patches; about unit variance.
        """
        level, key, plan = self.boards == "across", streams.key, grid.plan
        hair, pore, patch = (one if level else one[::-1] for one in ((0.045, 1.1), (0.028, 0.36), (0.5, 2.6)))
        worn = fields.resample(fields.fbm(plan, patch, key("worn"), 3, 0.7), plan, grid)
        hairs = fields.grain(grid, hair, key("fibre"), 2, 0.75)
        pores = np.maximum(fields.lattice(grid, pore, key("pores")) - np.float32(0.6), 0.0)
        return np.asarray((hairs + np.float32(1.3) * pores) * np.clip(1.0 + 0.7 * worn, 0.1, 2.4), np.float32)

    def _saw(self, grid: Grid, boards: _Boards, streams: Streams) -> Array:
        """Return what the saw left across a board, of the grain's depth: bowed scores askew, here and there a few."""
        level, plan, key = self.boards == "across", grid.plan, streams.key
        zone, feed, skip = (one if level else one[::-1] for one in ((1.5, 3.0), (40.0, 1.1), (0.4, 0.25)))
        askew = 0.7 * (boards.unit(key("askew")) - 0.5)
        place = boards.along + askew * boards.across + np.float32(0.04) * boards.across * boards.across
        fed = fields.lattice(plan, feed, key("feed"))  # no board is fed evenly
        where = fields.fbm(plan, zone, key("where sawn"), 3, 0.6)
        fed, where = (fields.resample(one, plan, grid) for one in (fed, where))
        turns = place / np.float32(0.21) + np.float32(1.7) * fed
        score = np.maximum(1.0 - np.float32(7.0) * np.abs(turns - np.rint(turns)), 0.0)
        taken = np.float32(1.1) * where - np.float32(0.3) + np.float32(0.7) * fields.lattice(grid, skip, key("teeth"))
        return np.asarray(np.float32(0.36) * np.clip(taken, 0.0, 1.0) * score, np.float32)

    def _log(self, plan: Grid, streams: Streams) -> tuple[Array, Array]:
        """Return how far the rings are bent in long arches, and where knots are that they flow round, 1 in the middle;
        both on the plan grid."""
        stretched = (2.4, 20.0) if self.boards == "across" else (20.0, 2.4)
        log = 1.1 * fields.lattice(plan, stretched, streams.key("log"))
        log += 0.16 * fields.lattice(plan, (stretched[0] / 2.5, stretched[1] / 4.0), streams.key("log", 2))
        knot = np.zeros(plan.shape, np.float32)
        knots = fields.scatter(plan, 0.0035, streams.key("knots"), 24.0, 4.0)
        for row, col, size in zip(knots.row_in, knots.col_in, 0.35 + 0.5 * knots.unit(1), strict=True):
            reach = 5.0 * size
            r0, r1 = max(int((row - reach) * plan.ppi), 0), min(int((row + reach) * plan.ppi), plan.rows)
            c0, c1 = max(int((col - reach) * plan.ppi), 0), min(int((col + reach) * plan.ppi), plan.cols)
            if r1 <= r0 or c1 <= c0:
                continue
            down, right = plan.row_in[r0:r1, None] - row, plan.col_in[None, c0:c1] - col
            u, v = (right, down) if self.boards == "across" else (down, right)
            near = np.exp(-((u / (1.3 * size)) ** 2) - (v / (0.8 * size)) ** 2).astype(np.float32)
            np.maximum(knot[r0:r1, c0:c1], near, out=knot[r0:r1, c0:c1])
        return log, knot

    def _seams(self, grid: Grid, boards: _Boards, streams: Streams) -> Array:
        """Return fins and hollows along the seams, mil: here slurry crept through, there it broke off or was dragged
        away. Board ends were cut square and butt tight: their fins are thin, and straight.
        """
        level, key, plan = self.boards == "across", streams.key, grid.plan
        creep = fields.fbm(grid, (0.16, 2.4) if level else (2.4, 0.16), key("creep"), 3, 0.7)
        slow = fields.resample(fields.fbm(plan, 5.0, key("crept"), 5, 0.75), plan, grid)
        at_end = 1.6 * boards.butt < boards.seam
        torn = fields.grain(grid, 0.16, key("torn"), 3, 0.75)
        own = np.where(at_end, 0.6 * boards.unit(key("end"), boards.before), boards.unit(key("fin"), boards.above))
        high = np.clip(np.where(at_end, 0.0, 0.5 * creep + 0.35 * torn) + slow + 2.2 * own - 0.7, 0.0, 1.0)
        high *= np.clip(0.4 + 1.1 * own + np.float32(0.4) * slow, 0.0, 2.0)
        near = np.minimum(boards.seam, 1.6 * boards.butt)
        broad = np.float32(0.034) * (1.0 + np.float32(0.6) * np.tanh(creep + np.float32(0.7) * slow))
        thin = np.where(at_end, np.float32(0.03), np.maximum(broad + np.float32(0.008) * torn, 0.01))
        ridge = np.clip(1.4 - near / thin, 0.0, 1.0) * high
        ease = np.exp(-near / np.float32(0.14)) * np.float32(0.18)
        chips = np.clip((torn + 0.7 * creep - 1.1 - np.float32(9.0) * near) * 0.5, 0.0, 0.5)  # an arris breaks off
        short = np.clip(0.25 * (1.0 + torn + slow), 0.0, 0.8)  # of paste
        nick = np.maximum(1.0 - np.float32(22.0) * near, 0.0) * short
        return np.asarray(np.float32(self.fins) * (ridge - ease - np.maximum(chips, nick)), np.float32)

    def _skin(self, grid: Grid, streams: Streams) -> Array:
        """Return the face's own tooth, mil: a close skin of cement, and sand that shows where it stuck to the form."""
        key, plan = streams.key, grid.plan
        stuck = fields.resample(fields.fbm(plan, 1.8, key("stuck"), 5, 0.7), plan, grid)
        sand = fields.lattice(grid, 0.042, key("sand"))
        rough = np.clip(0.6 + 0.4 * stuck, 0.25, 1.5)
        return np.asarray(np.float32(_SAND * self.grain) * rough * (sand - np.maximum(sand - 1.0, 0.0)), np.float32)

    def _holes(self, grid: Grid, streams: Streams) -> Array:
        """Return air holes as a depth, mil: very many small and a few large bowls with steep rims, crowded in zones and
        where air rose to the top of a lift.
        """
        depth = np.zeros(grid.shape, np.float32)
        if self.holes <= 0 or self.hole <= 0:
            return depth
        largest = max(self.hole, 0.03)
        least = _PINHOLE * largest
        dense = 3.6 * self.holes / _mean_area(least, largest)
        points = fields.scatter(grid, dense, streams.key("holes"), 12.0, largest)
        points = points.where(self._crowded(grid, points, streams))
        part = 1.0 - points.unit(2) * (1.0 - _PINHOLE**_STEEP)
        size, shape = least * part ** (-1.0 / _STEEP), (0.1 + 0.12 * points.unit(5), 6.2832 * points.unit(6))
        seen = 0.5 * size * grid.ppi >= 1.0
        for i in np.flatnonzero(seen):
            _bowl(depth, grid, (points.row_in[i], points.col_in[i]), size[i] / 2.0, (shape[0][i], shape[1][i]))
        return depth + blade.splat(grid, points.where(~seen), _BOWL * (0.5 * size[~seen]) ** 3, 1.0 / grid.ppi)

    def _crowded(self, grid: Grid, points: fields.Points, streams: Streams) -> NDArray[np.bool_]:
        """Return which of the air that was in the slurry stayed at the form."""
        plan, chance = grid.plan, streams.rng("lift").random()
        crowd = blade.zone(plan, 5.0, 0.25, streams.key("crowd"))
        at = fields.gather(crowd, points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5)
        below = np.mod(points.row_in / _LIFT_IN + chance, 1.0) * _LIFT_IN
        return np.asarray(points.unit(1) < (0.06 + 0.94 * at) * (0.45 + 0.55 * np.exp(-below / _BELOW_IN)), bool)

    def _tone(self, grid: Grid, boards: _Boards, holes: Array, streams: Streams) -> Array:
        """Return the factor on reflectance: each board's own, clouds of drying, and seams that lost water dark."""
        plan, shade = grid.plan, np.float32(self.shade)
        cloud = fields.fbm(plan, 8.0, streams.key("cloud"), 5, 0.6)
        veil = fields.fbm(plan, (3.0, 0.9), streams.key("veil"), 4, 0.65)
        tone = 1.0 + shade * 1.6 * (boards.unit(streams.key("shade")) - 0.5)
        tone = tone + shade * fields.resample(0.55 * cloud + 0.35 * veil, plan, grid)
        leak = np.exp(-boards.seam / (0.12 + 0.3 * boards.unit(streams.key("leak"))))
        tone -= 1.3 * shade * leak * np.clip(0.4 + 0.6 * fields.resample(veil, plan, grid), 0.0, 1.2)
        tone += 0.55 * shade * fields.fbm(grid, 0.2, streams.key("speck"), 4, 0.9)
        return np.asarray(np.maximum(tone, 0.3) * (1.0 - 0.4 * np.clip(holes / 110.0, 0.0, 1.0)), np.float32)


def _off(rows: NDArray[np.int64], pieces: NDArray[np.int64], key: int) -> NDArray[np.float64]:
    """Return how far off each cut is by chance, -1 to 1: (rows, pieces)."""
    return 2.0 * seeds.hash_lattice(rows, pieces, key) - 1.0


def _within(
    place: Array, cuts: NDArray[np.float64], first: int, row: NDArray[np.int64] | int = 0
) -> tuple[NDArray[np.int64], Array, Array]:
    """Return which board a place lies in, of those cut at ``cuts`` (rows, n) near the whole numbers from ``first`` on,
    and how far it lies from the cut before it and the one behind; ``row`` is the one that holds for a place.
    """
    flat, base = cuts.astype(np.float32).ravel(), np.asarray(row) * cuts.shape[1] - first
    at = np.floor(place).astype(np.int64) + base
    at -= place < flat.take(at)
    at += place >= flat.take(at + 1)
    return at - base, place - flat.take(at), flat.take(at + 1) - place


def _mean_area(least: float, largest: float) -> float:
    """Return the mean area of holes whose number above a diameter falls as its power ``-_STEEP``, in2."""
    a, ratio = _STEEP, least / largest
    mean_square = least**2 * a / (a - 2.0) * (1.0 - ratio ** (a - 2.0)) / (1.0 - ratio**a)
    return math.pi / 4.0 * mean_square


_HOLLOW = 620.0  # mil deep to an inch of radius: air lies flat against a form; chosen by eye
_BOWL = 2.0 / 3.0 * math.pi * _HOLLOW * (1.15**1.5 - 0.15**1.5)  # a bowl's volume over its radius cubed, mil in2 / in3


def _bowl(depth: Array, grid: Grid, middle: tuple[float, float], radius: float, lobe: tuple[float, float]) -> None:
    """Draw one hole, about half as deep as wide, into a depth field."""
    ppi = grid.ppi
    reach = 1.3 * radius + 1.0 / ppi
    r0, r1 = max(int((middle[0] - reach) * ppi), 0), min(int((middle[0] + reach) * ppi) + 1, grid.rows)
    c0, c1 = max(int((middle[1] - reach) * ppi), 0), min(int((middle[1] + reach) * ppi) + 1, grid.cols)
    if r1 <= r0 or c1 <= c0:
        return
    down, right = (grid.row_in[r0:r1] - middle[0])[:, None], (grid.col_in[c0:c1] - middle[1])[None, :]
    away = np.sqrt(down * down + right * right)
    turn = np.arctan2(down, right)
    rim = radius * (1.0 + lobe[0] * (np.cos(2.0 * turn + lobe[1]) + 0.5 * np.cos(3.0 * turn + 5.0 * lobe[1])))
    inside = np.clip((rim - away) * ppi + 0.5, 0.0, 1.0)
    bowl = _HOLLOW * radius * inside * np.sqrt(np.clip(1.15 - (away / rim) ** 2, 0.15, 1.15))
    np.maximum(depth[r0:r1, c0:c1], bowl, out=depth[r0:r1, c0:c1], casting="same_kind")
