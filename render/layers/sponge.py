"""Colour dabbed on with a sponge, a rag or a crumpled bag: print beside print, each turned and pressed differently.

What a finisher sees: pores or creases printed crisp where the tool was pressed, soft rims where two prints meet, and
bare ground between; no print twice the same way up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import fields, seeds
from render.fields import Array, Grid
from render.layers.base import Length, Share, Wash, scaled
from render.seeds import Streams
from render.wall import Wall

_FINEST_PPI, _COARSEST_PPI = 100.0, 3.125  # a face is kept at a resolution between, halved from the finest
_LEAST_PPI = 25.0  # it is worked out no coarser, and averaged down
_SIDES = 3  # of a tool: a hand turns it to another side for each print
_SQUARE = 1.24  # of a print's width: nothing touches beyond
_LOADING, _MOST = 7.0, 11  # prints from one loading, on average and at most
_HELD_IN = 7.0  # how far beyond a print a bunched cloth is held: its creases run out from there
_CREASE_IN = 0.03  # how wide a crease of cloth is pressed; by eye
_DRY = 0.14  # of a wet film that stays, and stands out; chosen by eye
_PER_PIXEL = 6.0  # touch over a pixel of an inch, at the edge of a pore; by eye
_STEP, _DEEPEST, _WETS = 0.004, 5.0, 8  # of the tables of what a touch leaves: pitch and end, and how many
_KEPT_PIXELS = 1_500_000  # walls up to this size keep what each dab touches; on larger ones it is worked out twice


class Sponge(Wash):
    """A wet colour dabbed on; the coverage is met exactly."""

    kind: Literal["sponge"] = "sponge"
    coverage: Annotated[Share, Field(description="Share of the wall that the prints take.")] = "55 %"  # type: ignore[assignment]
    face: Annotated[
        Literal["sponge", "rag", "bag"],
        Field(description="What touches the wall: a natural sponge, a soft rag, or a crumpled bag with sharp creases."),
    ] = "sponge"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    size: Annotated[Length, Field(description="Width of one print, taken as 1 to 8 in.")] = "5 in"  # type: ignore[assignment]
    pressure: Annotated[Share, Field(description="How much pressure and load differ from dab to dab.")] = "35 %"  # type: ignore[assignment]
    drift: Annotated[Share, Field(description="How much denser and thinner the dabbing is by areas.")] = "20 %"  # type: ignore[assignment]

    title: ClassVar[str] = "dabbed on"
    tools: ClassVar[tuple[str, ...]] = ("natural sponge or lint-free rags", "glaze tray")

    def words(self) -> str:
        """Return the layer's line."""
        what = {"sponge": "a natural sponge", "rag": "a soft rag", "bag": "a crumpled bag"}[self.face]
        return f"dabbed on with {what}" + (f", {self.tool}" if self.tool else "")

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Press the prints; thick at their hearts, thin at their rims, and twice where two lie over one another."""
        grid = wall.grid
        size = float(np.clip(self.size, 1.0, 8.0))
        dabs = _scatter(grid, size, self.coverage, _PRINTS[self.face].fills, streams.key("dabs"))
        tool = _tool(self.face, size, _level(grid.ppi), streams.key("face", self.face))
        bias = self._wall_says(wall, streams)
        felt = list(self._felt(grid, dabs, tool, bias)) if grid.rows * grid.cols <= _KEPT_PIXELS else None
        touch = _touch(grid, felt or self._felt(grid, dabs, tool, bias))
        level = fields.threshold(touch, self.coverage)
        on = fields.cover(touch, self.coverage, level)
        film = self._film(grid, felt or self._felt(grid, dabs, tool, bias), level)
        film /= 1.0 + np.float32(_PRINTS[self.face].takes) * film  # a tool set down on wet colour takes some of it back
        _pulled(film, grid, _PRINTS[self.face], streams.key("mottle"))
        film = scaled(np.where(on, np.maximum(film, 0.01), 0.0).astype(np.float32), self.mean_mil)
        return wall.add(self.stratum(film), height=wall.height + np.float32(_DRY) * film)

    def _wall_says(self, wall: Wall, streams: Streams) -> Array:
        """Return what areas and relief add to the touch: dense and thin areas, high grain first."""
        plan = wall.grid.plan
        low = fields.resample(wall.height, wall.grid, plan)
        area = fields.drift(plan, 15.0, streams.rng("areas")) + 0.6 * fields.fbm(plan, 6.0, streams.key("areas"), 3)
        high = np.tanh((wall.height - fields.resample(low, plan, wall.grid)) * np.float32(0.4))
        slow = np.float32(_PRINTS[self.face].areas * self.drift) * area.astype(np.float32)
        return np.asarray(fields.resample(slow, plan, wall.grid) + np.float32(0.15) * high, np.float32)

    def _felt(self, grid: Grid, dabs: list[_Dab], tool: _Tool, bias: Array) -> Iterator[_Felt]:
        """Yield each dab on the wall, the slices that it can reach, and how firmly it touches there."""
        for dab in dabs:
            at = dab.window(grid, tool.reach)
            if at is not None:
                touch = dab.touch(grid, at, tool)
                touch += bias[at]
                touch += np.float32(_PRINTS[self.face].varies * self.pressure * dab.press)
                yield dab, at, touch

    def _film(self, grid: Grid, felt: Iterable[_Felt], level: float) -> Array:
        """Return what all dabs leave where they touch harder than ``level``, about 1 at a fresh tool's heart."""
        film = np.zeros(grid.shape, np.float32)
        tables = _tables(self.face, grid.ppi)
        for dab, at, touch in felt:
            new = touch - np.float32(level)
            new *= np.float32(1.0 / _STEP)
            left = tables[min(int(_WETS * (1.0 - dab.spent)), _WETS - 1)] * np.float32(dab.leaves(self.pressure))
            film[at] += left.take(new.astype(np.intp), mode="clip")
        return film


def _touch(grid: Grid, felt: Iterable[_Felt]) -> Array:
    """Return how firmly each place was touched by the dab that touched it most."""
    touch = np.full(grid.shape, -9.0, np.float32)
    for _, at, new in felt:
        np.maximum(touch[at], new, out=touch[at])
    return touch


@dataclass(frozen=True)
class _Print:
    """How a face leaves colour; by eye. Touches are in units of a face's spread.

    ``dry`` and ``wet`` are the touch over which a print's edge rises, from a tool nearly empty and freshly loaded;
    ``bead`` what stands inside the edge over the rest; ``thin`` what light pressure leaves of the whole; ``deep`` the
    touch that leaves half of what pressure adds; ``ridges`` how much is drawn up into ridges as the tool is lifted, and
    ``ridge`` (in) how far apart they lie; ``fills`` how much of its outline a print fills; ``rim`` where, of its half
    width, it begins to end; ``ragged`` how far its outline strays, of its half width; ``square`` the side of what holds
    it, of its width, at most ``_SQUARE``; ``ends`` the touch lost in a half width beyond the outline; ``varies`` and
    ``areas`` how much of the touch goes with pressure and with heavy and light areas; ``takes`` how even a film is
    left, 0 as printed; ``hollow`` how many times as deep as its tips are long a face's hollows are: they stay open.
    """

    dry: float
    wet: float
    bead: float
    thin: float
    deep: float
    ridges: float
    ridge: float
    fills: float
    rim: float
    ragged: float
    square: float
    ends: float
    varies: float
    areas: float
    takes: float
    hollow: float


_PRINTS = {
    "sponge": _Print(0.12, 1.1, 0.2, 0.15, 2.0, 0.35, 0.06, 0.63, 0.35, 0.25, 1.19, 7.0, 1.6, 1.8, 0.6, 3.5),
    "rag": _Print(0.2, 0.6, 0.5, 0.12, 3.0, 0.25, 0.06, 0.6, 0.55, 0.2, _SQUARE, 30.0, 1.0, 0.7, 0.2, 1.0),
    "bag": _Print(0.15, 0.5, 0.5, 0.3, 2.0, 0.3, 0.11, 0.5, 0.55, 0.2, _SQUARE, 30.0, 1.0, 0.7, 0.2, 1.0),
}


@lru_cache(maxsize=8)
def _tables(face: str, ppi: float) -> Array:
    """Return what a touch of 0, .004, .008 ... leaves, about 1 under a firm one, for tools from nearly empty to freshly
    loaded: float32 (wets, touches). Dry, a print's edge is as crisp as the picture can show; wet, it runs out thin and
    soft, and colour stands in a bead inside it.
    """
    how, touch = _PRINTS[face], np.arange(0.0, _DEEPEST, _STEP)
    wet = ((np.arange(_WETS) + 0.5) / _WETS)[:, None] ** 2
    edge = 1.0 - np.exp(-touch / (how.dry + (how.wet - how.dry) * wet + _PER_PIXEL / ppi))
    body = how.thin + (1.0 - how.thin) * touch / (touch + how.deep)
    bead = how.bead * 6.75 * edge**2 * (1.0 - edge) * np.sqrt(wet)
    tables = (edge * body * (0.5 + 0.5 * wet) + 0.35 * bead).astype(np.float32)
    tables.flags.writeable = False
    return tables


def _pulled(film: Array, grid: Grid, how: _Print, key: int) -> None:
    """Draw a film up into ridges, finer than the pores, as the tool is lifted off: the more the wetter."""
    between = np.abs(fields.grain(grid, how.ridge, key, 2, 0.8))
    wet = film / (film + np.float32(0.4))
    wet *= np.float32(how.ridges)
    between -= np.float32(0.8)  # its mean
    between *= wet
    film *= np.exp(-between)


@dataclass(frozen=True)
class _Tool:
    """The sides of one tool: sheets of how firmly each place touches, about unit spread, and their resolution."""

    sides: tuple[Array, ...]
    ppi: float

    @property
    def reach(self) -> float:
        """How far from its middle a print can reach, in."""
        return 0.5 * self.sides[0].shape[0] / self.ppi


@dataclass(frozen=True)
class _Dab:
    """One print: middle (in), turn (rad), pressure about 0, ``spent`` 0 for a tool freshly loaded to 1 for one that has
    printed itself empty, the side of the tool, and how the hand leans down and to the right (touch per in).
    """

    row: float
    col: float
    turn: float
    press: float
    spent: float
    side: int
    lean_down: float
    lean_right: float

    def leaves(self, pressure: float) -> float:
        """Return what the tool still leaves, of a freshly loaded one's."""
        return math.exp(-5.0 * pressure * self.spent)

    def window(self, grid: Grid, reach: float) -> tuple[slice, slice] | None:
        """Return the slices that the print can reach, or None off the wall."""
        r0, r1 = int((self.row - reach) * grid.ppi), int((self.row + reach) * grid.ppi) + 2
        c0, c1 = int((self.col - reach) * grid.ppi), int((self.col + reach) * grid.ppi) + 2
        r0, c0, r1, c1 = max(r0, 0), max(c0, 0), min(r1, grid.rows), min(c1, grid.cols)
        return (slice(r0, r1), slice(c0, c1)) if r1 > r0 and c1 > c0 else None

    def touch(self, grid: Grid, at: tuple[slice, slice], tool: _Tool) -> Array:
        """Return how firmly the tool's face touches, harder on the side to which the hand leans."""
        rows, cols = ((np.arange(one.start, one.stop) + 0.5) / grid.ppi for one in at)
        down = (rows - self.row)[:, None].astype(np.float32)
        right = (cols - self.col)[None, :].astype(np.float32)
        cos, sin = (np.float32(tool.ppi * one(self.turn)) for one in (math.cos, math.sin))
        middle = np.float32(tool.reach * tool.ppi - 0.5)
        rows, cols = (right * sin + middle) + down * cos, (right * cos + middle) - down * sin
        face = fields.gather(tool.sides[self.side], rows, cols)
        face += np.float32(self.lean_down) * down + np.float32(self.lean_right) * right
        return face


_Felt = tuple[_Dab, tuple[slice, slice], Array]


def _loadings(grid: Grid, size: float, coverage: float, fills: float, key: int) -> fields.Points:
    """Return about where each loading of the tool is printed: jittered cells, so that a wider wall keeps those it had.

    They lie as close as the coverage asks, with open ground between prints and in them:
    a print alone touches about ``fills`` of what its outline encloses.
    """
    under = min(coverage / (fills + (1.0 - fills) * coverage), 0.96)  # share of the wall inside the outlines of prints
    per_in2 = -1.35 * math.log(1.0 - under) / (0.6 * size * size)
    pitch = min(math.sqrt(_LOADING / max(per_in2, 1e-9)), 20.0 * size)
    beyond = math.ceil(0.5 * _MOST * size / pitch) + 1
    rows, cols = (np.arange(-beyond, math.ceil(one / pitch) + beyond) for one in (grid.height_in, grid.width_in))
    ids = seeds.mix64((seeds.hash_lattice(rows, cols, key) * 2.0**53).astype(np.uint64)).ravel()
    cells = fields.Points(np.repeat(rows, cols.size).astype(float), np.tile(cols, rows.size).astype(float), ids)
    row, col = cells.row_in + 0.15 + 0.7 * cells.unit(6), cells.col_in + 0.15 + 0.7 * cells.unit(7)
    return fields.Points(row * pitch, col * pitch, ids)


def _scatter(grid: Grid, size: float, coverage: float, fills: float, key: int) -> list[_Dab]:
    """Return the dabs: a hand loads the tool, wanders over a reach of wall until it is empty, and loads again."""
    loads = _loadings(grid, size, coverage, fills, key)
    count, nth = 3 + np.floor((_MOST - 2) * loads.unit(1)).astype(int)[:, None], np.arange(_MOST)
    pick = fields.Points(loads.row_in, loads.col_in, seeds.mix64(loads.ids[:, None] + nth.astype(np.uint64)))
    going = 2.0 * math.pi * loads.unit(2)[:, None] + np.cumsum(0.9 * pick.normal(3), axis=1)
    step = size * (0.7 + 0.4 * pick.unit(5))
    down, right = np.cumsum(step * np.sin(going), axis=1), np.cumsum(step * np.cos(going), axis=1)
    on = nth < count
    row, col = (
        about[:, None] + way - (way * on).sum(1, keepdims=True) / count
        for about, way in ((loads.row_in, down), (loads.col_in, right))
    )
    spent = np.minimum((nth + pick.unit(8)) / count, 1.0)
    press = 1.3 * (0.4 - spent) + 0.35 * pick.normal(9)  # wet, it floods its hollows; dry, its tips alone print
    turn, side = 2.0 * math.pi * pick.unit(11), (_SIDES * pick.unit(12)).astype(int)
    lean = [0.7 / size * pick.normal(one) for one in (13, 15)]
    reach = 0.5 * _SQUARE * size + 1.0
    on &= (row > -reach) & (row < grid.height_in + reach) & (col > -reach) & (col < grid.width_in + reach)
    columns = (row, col, turn, press, spent, side, *lean)
    return [_Dab(*one) for one in zip(*(each[on].tolist() for each in columns), strict=True)]


def _level(ppi: float) -> float:
    """Return the resolution at which a face is kept for a picture: as fine, or nearly twice."""
    level = _FINEST_PPI
    while level > _COARSEST_PPI and level >= 2.0 * ppi:
        level /= 2.0
    return level


@lru_cache(maxsize=8)
def _tool(face: str, size: float, ppi: float, key: int) -> _Tool:
    """Return the sides of a tool for prints that wide, at one of the resolutions kept; read-only."""
    how = _PRINTS[face]
    square = math.ceil(how.square * size * _COARSEST_PPI) / _COARSEST_PPI  # whole pixels at each of them
    fine, seen = (Grid.over(square, _SIDES * square, one) for one in (max(ppi, _LEAST_PPI), ppi))
    v = (fine.row_in - 0.5 * square).astype(np.float32)[:, None]
    u = (fine.col_in % square - 0.5 * square).astype(np.float32)[None, :]
    coarse = 0.8 + 0.5 * float(seeds.stream(key).random())  # no two sponges or cloths are alike
    field = _lace(fine, coarse, key) if face == "sponge" else _folds(fine, u, v, coarse, key, sharp=face == "bag")
    low, middle, high = np.quantile(field[::3, ::3], (0.16, 0.5, 0.84))
    field = (field - np.float32(middle)) / np.float32(max(0.25 * (high - low) + 0.5 * (high - middle), 1e-6))
    field = np.minimum(field, np.float32(how.hollow) * field)
    field = fields.resample(field - _rim(fine, u, v, size, how, key + 70), fine, seen)
    sides = tuple(np.ascontiguousarray(one) for one in np.split(field, _SIDES, axis=1))
    for one in sides:
        one.flags.writeable = False
    return _Tool(sides, ppi)


def _rim(grid: Grid, u: Array, v: Array, size: float, how: _Print, key: int) -> Array:
    """Return how much less firmly a print touches beyond where it begins to end: little at first, and not at all past
    its edge, which is as ragged as the tool.
    """
    away, steep = np.sqrt(u * u + v * v) * np.float32(2.0 / size), 1.0 + 0.6 / (how.square - 1.1)
    out = np.maximum(away, np.float32(steep) * away - np.float32(1.1 * (steep - 1.0)))  # it ends within its square
    out += np.float32(how.ragged) * fields.lattice(grid, 0.4 * size, key)
    out += np.float32(0.5 * how.ragged) * fields.fbm(grid, 0.18 * size, key + 1, 3, 0.7)
    rounded, beyond = (np.maximum(out - np.float32(one), 0.0) for one in (how.rim, how.rim + 0.45))
    return np.asarray(np.float32(6.0) * rounded * rounded + np.float32(how.ends) * beyond, np.float32)


def _lace(grid: Grid, coarse: float, key: int) -> Array:
    """Return the face of a sea sponge: a web of fibre about round pores of all sizes, and lobes that touch first.

    Pressed lightly it prints what of the web is farthest from pores, in scattered specks; harder, it fills all but the
    pores. ``coarse`` is 1 for a middling sponge.
    """
    wander = [np.float32(0.05) * fields.fbm(grid, 0.22, key + 30 + 10 * i, 2, 0.7) for i in (0, 1)]
    solid = np.full(grid.shape, 9.0, np.float32)
    for number, (pitch, widest, deep) in enumerate(((0.7, 0.45, 0.5), (0.31, 0.22, 0.8), (0.125, 0.085, 1.6))):
        pores = _pores(grid, coarse * pitch, coarse * widest, wander, key + 20 + 10 * number)
        np.minimum(solid, np.float32(deep) * pores, out=solid)
    solid = np.clip(solid, np.float32(10.0) * solid, np.float32(0.09))  # a pore's wall is steep: it stays open
    solid += np.float32(0.035) * fields.lattice(grid, 1.3, key + 9)
    solid += np.float32(0.022) * fields.fbm(grid, 0.16, key, 4, 0.8)
    ndimage.gaussian_filter(solid, 0.006 * grid.ppi, output=solid, truncate=2.0)  # wet colour rounds what is finest
    return np.asarray(solid, np.float32)


class _Cells:
    """Jittered points, one to each cell of ``pitch``, and the nine of them that are about each place of a grid."""

    def __init__(self, row: Array, col: Array, key: int) -> None:
        """Take where each place lies, in cells."""
        r0, c0 = np.floor(row).astype(np.int32), np.floor(col).astype(np.int32)
        self.row, self.col, self.key = row - r0, col - c0, key
        self.rows = np.arange(int(r0.min()) - 1, int(r0.max()) + 2)
        self.cols = np.arange(int(c0.min()) - 1, int(c0.max()) + 2)
        self.cell = (r0 - np.int32(self.rows[0])) * np.int32(self.cols.size) + (c0 - np.int32(self.cols[0]))

    def chance(self, purpose: int) -> Array:
        """Return a number of 0 to 1 for each point, to be read by ``about``'s numbers."""
        return seeds.hash_lattice(self.rows, self.cols, self.key + purpose).astype(np.float32).ravel()

    def about(self) -> Iterator[tuple[NDArray[np.int32], Array, Array]]:
        """Yield the number of each of the nine points about every place, and how far down and right it lies."""
        down, right = self.chance(1), self.chance(2)
        for i in (-1, 0, 1):
            for j in (-1, 0, 1):
                there = self.cell + np.int32(i * self.cols.size + j)
                yield there, down.take(there) + np.float32(i) - self.row, right.take(there) + np.float32(j) - self.col


def _pores(grid: Grid, pitch: float, widest: float, wander: list[Array], key: int) -> Array:
    """Return the distance (in) from the edge of the nearest of many round pores, negative within it."""
    row = (grid.row_in[:, None].astype(np.float32) + wander[0]) / np.float32(pitch)
    col = (grid.col_in[None, :].astype(np.float32) + wander[1]) / np.float32(pitch)
    cells = _Cells(row, col, key)
    wide = np.float32(widest / pitch) * (np.float32(0.15) + np.float32(0.85) * cells.chance(3) ** 3)
    near = np.full(grid.shape, 9.0, np.float32)
    for there, down, right in cells.about():
        np.minimum(near, np.sqrt(down * down + right * right) - wide.take(there), out=near)
    return np.asarray(near * np.float32(pitch), np.float32)


def _folds(grid: Grid, u: Array, v: Array, coarse: float, key: int, sharp: bool) -> Array:
    """Return folds of bunched cloth or foil: facets, mostly small, that end at a crease or roll over softly. Where
    cloth hardly touches, colour is dragged in streaks along the folds.
    """
    total = np.float32(0.3) * fields.lattice(grid, 1.6, key + 9)
    for number, (pitch, amp) in enumerate(((0.95, 0.65), (0.45, 0.7), (0.22, 0.35))):
        total += np.float32(amp) * _pads(grid, u, v, coarse * pitch, key + 20 + 10 * number, sharp)
    ndimage.gaussian_filter(total, 0.01 * grid.ppi, output=total, truncate=2.0)  # cloth gives: no edge is a step
    if not sharp:
        slack = np.clip(np.float32(0.5) - total, 0.0, 1.0)
        total += slack * np.float32(0.2) * fields.lattice(grid, (0.9, 0.06), key + 80)
    return np.asarray(total + np.float32(0.08) * fields.fbm(grid, 0.1, key + 60, 3, 0.8), np.float32)


def _pads(grid: Grid, u: Array, v: Array, pitch: float, key: int, sharp: bool) -> Array:
    """Return facets about ``pitch`` wide (in), longer away from the hand, from about -1 to 3.

    Each leans its own way: it touches along its high edge and fades toward its low one. Over some creases the cloth
    rolls softly, others stand out as a squeezed line. In a stiff bag every crease stands out.
    """
    bend = [np.float32(0.1 * pitch) * fields.fbm(grid, 1.1 * pitch, key + 4 + 3 * i, 3, 0.5) for i in (0, 1)]
    fan = np.float32(_HELD_IN / pitch) / (np.float32(_HELD_IN) + v)
    cells = _Cells((v + bend[0]) * np.float32(0.55 / pitch), (u + bend[1]) * fan, key)
    near, second = (np.full(grid.shape, 9.0, np.float32) for _ in range(2))
    up, turn = cells.chance(6), np.float32(2.0 * math.pi) * cells.chance(5)
    cos, sin = np.cos(turn), np.sin(turn)
    own, other = np.zeros((2, *grid.shape), np.float32)
    for there, down, right in cells.about():
        away = down * down + right * right
        this = up.take(there) + cos.take(there) * down + sin.take(there) * right
        nearer = away < near
        np.copyto(other, np.where(nearer, own, this), where=away < second)
        np.copyto(own, this, where=nearer)
        np.minimum(second, np.maximum(near, away), out=second)
        np.minimum(near, away, out=near)
    gap = np.sqrt(second) - np.sqrt(near)
    varied = fields.lattice(grid, 0.9 * pitch, key + 10)
    crease = np.exp(-gap / np.float32(_CREASE_IN / pitch))
    if sharp:
        crease *= np.clip(np.float32(0.5) - np.float32(1.5) * varied, 0.1, 1.0)
        rolled = np.float32(0.5) * np.exp(-gap / np.float32(0.1))
        return np.float32(0.65) * (own + (other - own) * rolled) - np.float32(0.9) * np.sqrt(gap) + crease
    crease *= np.clip(np.float32(0.3) - np.float32(2.5) * varied, 0.0, 1.6)
    soft = np.clip(np.float32(0.14) + np.float32(0.22) * varied, 0.02, 0.6)
    rolled = np.float32(0.5) * np.exp(-gap / soft)
    return np.float32(0.75) * (own + (other - own) * rolled) - np.float32(0.5) * near + crease
