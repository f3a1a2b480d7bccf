"""Drag: a dry brush or comb drawn through wet colour, which lies in fine lines afterwards."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import fields, flow, strips
from render.fields import Array, Grid
from render.layers.base import Layer, Length, Share
from render.seeds import Streams
from render.wall import Wall


class Drag(Layer):
    """A brush or comb drawn through the wet colour.

    ``tool`` brush (fine, uneven lines) or comb (even teeth); ``way`` upright or level; ``spacing`` of the
    lines; ``strength`` how clean the lines are.
    """

    kind: Literal["drag"] = "drag"
    tool: Annotated[
        Literal["brush", "comb"], Field(description="A brush leaves fine, uneven lines, a comb even teeth.")
    ] = "brush"
    way: Annotated[Literal["upright", "level"], Field(description="Whether the lines stand upright or lie level.")] = (
        "upright"
    )
    spacing: Annotated[Length, Field(description="Distance of the lines.")] = "0.09 in"  # type: ignore[assignment]
    strength: Annotated[Share, Field(description="How clean the lines are.")] = "60 %"  # type: ignore[assignment]
    of: Annotated[
        tuple[str, ...],
        Field(max_length=8, description="Names of the layers whose colour is dragged; all wet colour if not given."),
    ] = ()

    title: ClassVar[str] = "dragged"
    tools: ClassVar[tuple[str, ...]] = ("dragging brush",)
    while_wet: ClassVar[bool] = True

    def words(self) -> str:
        """Return the layer's line in the list."""
        return f"wet colour dragged {self.way} with a {self.tool}"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the colour in lines, which stand up as they dry; none leaves."""
        lines = _lines(wall.grid, self, streams)
        along, across = _TOOTH_IN
        fine = (across, along) if self.way == "level" else (along, across)
        lines += np.float32(_TOOTH * self.strength) * fields.lattice(wall.grid, fine, streams.key("tooth"))

        def work(bed: flow.Bed, mobile: list[Array]) -> tuple[list[Array], list[float]]:
            return _pull(bed, mobile, lines, self.way == "level"), [0.0] * len(mobile)

        after = flow.change(wall, work, self.of, streams.key("shelter"))
        return after.evolve(height=wall.height + np.float32(_DRIES) * _shifted(wall, after))


_DRIES = 0.35
"""Share of a glaze that stays when it has dried, from memory: what was pulled into ridges stands up that much."""
_ACROSS_PPI = 50.0
"""Lines are drawn at least so fine across their way, at least two to a pixel, and averaged to the picture."""
_TOOL_IN, _REACH_IN = 3.4, 60.0
"""Width of the tool, and how far down an arm draws it in one stroke; chosen by eye."""
_NARROW, _LAPS = 0.74, 0.4
"""Of the tool's width at least that much is a pass's own, at most so much laps over the one before."""
_LEAN, _WANDER_IN, _OTHER_IN = 0.034, (0.18, 0.05), 0.35
"""How much passes differ in lean, how far they wander slowly and quickly, and how far aside their bristles stand;
chosen by eye.
"""
_STRAYS_IN, _CROSS = 0.04, 0.25
"""How far a bristle strays from its neighbours, and how strongly others cross it; chosen by eye."""
_STOPS = 0.4
"""Share of passes in which the hand stops on its way, wipes the brush and sets it on again; chosen by eye."""
_MEET_IN, _RUN_IN = 14.0, 2.0
"""Within so many inches strokes meet, and over so many one runs out under the next; chosen by eye."""
_OWN, _PRESSED = 0.4, 0.7
"""How much a brush's own bristles differ, the same in each of its passes, and how much harder they score where they are
pressed; chosen by eye.
"""
_TOOTH_IN, _TOOTH = (0.3, 0.025), 0.13
"""Along the lines and across, how fine the ground's tooth breaks them, and how much; chosen by eye."""
_RIM_IN = 1.0
"""Lines are drawn so far beyond either side of the wall: a pass that leans brings them in."""


def _shifted(before: Wall, after: Wall) -> Array:
    """Return how much more colour lies at each place than before, mil."""
    moved = np.zeros(before.grid.shape, np.float32)
    for old, new in zip(before.strata, after.strata, strict=True):
        if old.film is not new.film:
            moved += new.film - old.film
    return moved


def _pull(bed: flow.Bed, mobile: list[Array], lines: Array, level: bool) -> list[Array]:
    """Bristles draw the colour out along their way, gather it between the lines, and miss what lies in
    hollows.
    """
    reach = 0.6 + 0.8 * flow.high_spots(bed)
    weight = np.exp(lines * reach)
    out = []
    for film in mobile:
        drawn = flow.draw_out(film, 2.2, bed.grid, axis=1 if level else 0)
        pulled = (film + (drawn - film) * np.float32(0.6) * reach) * weight
        out.append(flow.share_out(pulled.astype(np.float32), flow.mean(film)))
    return out


def _lines(grid: Grid, layer: Drag, streams: Streams) -> Array:
    """Log of the weight that each place keeps: lines along the way, in passes the width of the tool."""
    turn = layer.way == "level"
    upright = Grid(grid.cols, grid.rows, grid.ppi) if turn else grid
    fine, gap = _Fine.over(upright), max(layer.spacing, 0.01)
    tool = _bristles(fine, gap, streams) if layer.tool == "brush" else _teeth(fine, gap, streams)
    lines = fine.picture(np.float32(layer.strength) * _strokes(fine, tool, streams), upright)
    return np.ascontiguousarray(lines.T) if turn else lines


@dataclass(frozen=True)
class _Fine:
    """A lattice finer across the lines than along them: ``along`` rows and ``across`` columns to the inch, ``rim``
    columns of them beyond either side of the wall.
    """

    rows: int
    cols: int
    along: float
    across: float
    rim: int

    @classmethod
    def over(cls, grid: Grid) -> _Fine:
        """Return the one over an upright grid: the plan's rows, and some columns to each of the grid's."""
        times = int(np.clip(math.ceil(_ACROSS_PPI / grid.ppi - 1e-6), 2, 8))
        rim = math.ceil(_RIM_IN * grid.ppi * times - 1e-6)  # one place of the wall lies so far from its edge at any ppi
        return cls(grid.plan.rows, grid.cols * times + 2 * rim, grid.plan.ppi, grid.ppi * times, rim)

    @property
    def tall(self) -> float:
        """Return the wall's height in inches."""
        return self.rows / self.along

    @property
    def wide(self) -> float:
        """Return the width in inches, the rims with it."""
        return self.cols / self.across

    @property
    def row_in(self) -> Array:
        """Return how far down each row's middle lies, inches: (rows, 1)."""
        return ((np.arange(self.rows) + 0.5) / self.along).astype(np.float32)[:, None]

    @property
    def col_in(self) -> Array:
        """Return how far right of the lattice's rim each column's middle lies, inches: (1, cols)."""
        return ((np.arange(self.cols) + 0.5) / self.across).astype(np.float32)[None, :]

    def noise(self, along: float, across: float, key: int, octaves: int = 1) -> Array:
        """Return ``fields.fbm`` of those wavelengths in inches."""
        grid = Grid(self.rows, self.cols, self.across)
        return fields.fbm(grid, (along * self.along / self.across, across), key, octaves)

    def slow(self, count: int, along: float, key: int) -> Array:
        """Return how ``count`` passes differ along their way, (rows, passes): a hand follows the pass before."""
        return fields.lattice(Grid(self.rows, count, self.along), (along, 1.3 / self.along), key)

    def ragged(self, much: float, key: int) -> Array:
        """Return how much farther each bristle reaches, ``much`` inches on the mean: (1, cols)."""
        return np.float32(much) * fields.fbm(Grid(1, self.cols, self.across), (1.0, 0.6), key, 5, 0.85)

    def aside(self, field: Array, much: Array) -> Array:
        """Return some rows pushed aside by ``much`` inches, to the next column: between two columns a hair would fade,
        and one that leans would look like a string of beads.
        """
        from_ = much * np.float32(self.across)
        from_ += np.arange(0.5, self.cols, dtype=np.float32)
        place = np.clip(from_, 0.0, self.cols - 1.0, out=from_).astype(np.intp)
        place += (np.arange(len(field)) * self.cols)[:, None]
        return field.take(place)

    def picture(self, field: Array, grid: Grid) -> Array:
        """Return the log of weights on the grid: what they leave is averaged across, their log eased along."""
        narrow = field[:, self.rim : self.cols - self.rim]
        many = narrow.shape[1] // grid.cols
        if many > 1:
            left = np.exp(narrow)
            narrow = np.log(sum(left[:, one::many] for one in range(many)) * np.float32(1.0 / many))
        place = np.clip(grid.row_in * self.along - 0.5, 0.0, self.rows - 1.0)
        top = np.minimum(place.astype(np.int64), max(self.rows - 2, 0))
        part = (place - top).astype(np.float32)[:, None]
        return np.asarray(narrow[top] * (1 - part) + narrow[np.minimum(top + 1, self.rows - 1)] * part, np.float32)


@dataclass(frozen=True)
class _Tool:
    """What a tool would leave in one wide pass: its ``lines``, their ``sway`` in inches, on a fine lattice; how many
    inches ``aside`` it may start in another pass; ``leaves``, which makes log of colour of lines and of how hard they
    are pressed; how strongly other lines of it cross them; and what it adds to them of its ``own`` in each pass, column
    by column from its left edge.
    """

    lines: Array
    sway: Array
    aside: float
    leaves: Callable[[Array, Array], Array]
    crosses: float = 0.0
    own: Array | None = None


@dataclass(frozen=True)
class _Mark:
    """What a brush leaves where it is set on, stops or is lifted: more colour, hardly combed.

    ``number`` of the pass; ``at`` inches down; ``size`` log of how much more; how far it reaches ``above`` and
    ``below``, inches; how ``ragged`` it is, of a bristle's usual reach.
    """

    number: int
    at: float
    size: float
    above: float
    below: float
    ragged: float


@dataclass(frozen=True)
class _Passes:
    """One row of strokes from the left to the right, each lapping over the one before.

    ``marks`` are all that it leaves; ``starts`` inches down, (passes,). In each of its rows, (rows, passes): ``left``
    inches to a pass's left edge, ``lap`` inches that it laps over, ``shift`` inches by which its lines stand aside,
    ``press`` how hard it is pressed, about 1, ``heavy`` log of the colour it leaves, ``bead`` log of what it throws
    aside.
    """

    fine: _Fine
    rows: slice
    marks: tuple[_Mark, ...]
    starts: Array
    left: Array
    lap: Array
    shift: Array
    press: Array
    heavy: Array
    bead: Array

    @classmethod
    def over(cls, fine: _Fine, number: int, strokes: int, aside: float, streams: Streams) -> _Passes:
        """Set out one of so many rows of strokes down a wall."""
        count, key, long = 4 + int(fine.wide / (_NARROW * _TOOL_IN)), streams.key("hand", number), fine.tall / strokes
        width, meet, lean, other, load = streams.rng("passes", number).random((count, 5)).T
        hand, apart, hard, heaps = streams.rng("hand").random(4) - 0.5  # every hand has its own way, and its own day
        starts = number * long + (_MEET_IN * (meet - 0.5) if number else np.zeros(count))
        first, last = (fine.tall * fine.along * one / strokes for one in (number, number + 1))
        slack = (0.5 * _MEET_IN + 3.0 * _RUN_IN) * fine.along
        rows = slice(max(math.floor(first - slack), 0), min(math.ceil(last + slack), fine.rows))
        done = (fine.row_in - starts) / long
        stops, slips = _stops(count, aside, streams.rng("stops", number))
        again = np.clip((done - stops) * long, 0.0, 1.0)  # over an inch: the lines bend and never break
        stray = _LEAN * (lean - 0.5) * (done - 0.5) * long + 0.6 * _LEAN * hand * (done - 0.5) * long
        for inches, one, wave in zip((16.0, 4.5), _WANDER_IN, (0, 4), strict=True):
            stray += one * fine.slow(count, inches, key + wave)
        step = _TOOL_IN * (_NARROW + (0.22 + 0.12 * apart) * width)
        left = np.maximum.accumulate(np.cumsum(step) - step[0] - _TOOL_IN * streams.rng("first").random() + stray, 1)
        lap = np.clip(_TOOL_IN - np.diff(left, axis=1, prepend=left[:, :1] - _TOOL_IN), 0.0, _LAPS * _TOOL_IN)
        end = np.clip(done / np.minimum(stops, 1.0), 0.0, 1.0)
        end += again * (np.clip((done - stops) / np.maximum(1.0 - stops, 0.1), 0.0, 1.0) - end)
        skips = np.clip(-1.2 - fine.slow(count, 3.0, key + 5), 0.0, 1.0)  # it hardly touches there
        press = (0.78 + 0.4 * hard + 0.9 * load) * (1.0 + 0.16 * fine.slow(count, 7.0, key + 1)) * (1.0 - 0.45 * end**2)
        press *= 1.0 - 0.7 * skips
        heavy = (1.5 + 0.6 * heaps) * (other - 0.5) + 0.1 * fine.slow(count, 20.0, key + 2) + 0.3 * lean * end**6
        full = np.exp(-np.maximum(done, 0.0) * long / (2.0 + 5.0 * lean))  # inches from where it was set on
        heavy += 0.3 * skips - 0.15 * end + (0.2 + 0.3 * meet) * full
        bead = np.clip(0.7 + 0.5 * heaps + 0.8 * meet + 0.5 * fine.slow(count, 5.0, key + 3), 0.0, 1.5)
        parts = (left, lap, stray + aside * (2.0 * other - 1.0) + slips * again, press, heavy, bead)
        ends = number == 0, number == strokes - 1
        marks = _marks(starts + stops * long, fine.tall, ends, streams.rng("marks", number))
        return cls(fine, rows, marks, starts.astype(np.float32), *(one[rows].astype(np.float32) for one in parts))

    @cached_property
    def _firsts(self) -> NDArray[np.int64]:
        """First column of each pass, and past the last, row by row: (rows, passes + 1)."""
        first = np.clip(np.rint(self.left * self.fine.across), 0, self.fine.cols).astype(np.int64)
        first[:, 0] = 0
        return np.append(first, np.full((len(first), 1), self.fine.cols), axis=1)

    @cached_property
    def _counts(self) -> NDArray[np.int64]:
        """How many columns each pass went over last, row by row."""
        return np.diff(self._firsts, axis=1)

    def spread(self, own: Array, part: slice = slice(None)) -> Array:
        """Return for each place of its rows, or a part of them, what its pass has, of (rows, passes) or (passes,)."""
        every = np.broadcast_to(own, self.left.shape)[part]
        return np.repeat(every.ravel(), self._counts[part].ravel()).reshape(len(every), self.fine.cols)

    def drawn(self, tool: _Tool, key: int) -> Array:
        """Return the log of what the tool leaves, with its marks."""
        left = np.empty((len(self.left), self.fine.cols), np.float32)
        lines, sway = tool.lines[self.rows], tool.sway[self.rows]

        def work(part: slice) -> None:
            left[part] = self._drawn(tool, lines[part], sway[part], part)

        strips.by_rows(work, left.shape)  # each row by itself, so that no bit depends on where the strips lie
        hairs = self.fine.ragged(0.35, key)
        for mark in self.marks:
            self._set_on(left, mark, hairs)
        return left

    def _drawn(self, tool: _Tool, sheet: Array, sway: Array, part: slice) -> Array:
        """Return what is left in some rows. Bristles cross others a little; where two passes lie double the lines of
        both show on more colour, and along the later's edge lies what it threw aside.
        """
        fine = self.fine
        lines = fine.aside(sheet, sway - self.spread(self.shift, part))
        inside = fine.col_in - self.spread(self.left, part)
        begins = np.minimum(inside * np.float32(25.0), 1.0)
        double = np.clip((self.spread(self.lap, part) - inside) * np.float32(16.0), 0.0, begins)
        both = np.float32(tool.crosses) + double
        lines *= np.float32(1.0) - np.float32(0.3) * both
        both *= np.float32(0.55)
        both *= sheet
        lines += both
        if tool.own is not None:
            lines += tool.own.take(np.clip(inside * np.float32(fine.across), 0.0, len(tool.own) - 1.0).astype(np.intp))
        left = tool.leaves(lines, self.spread(self.press, part))
        double *= np.float32(0.4)
        left += double
        left += self.spread(self.heavy, part)
        inside *= np.float32(-8.0)
        inside += self.spread(self.bead, part)
        np.maximum(inside, 0.0, out=inside)
        inside *= begins
        left += inside
        return left

    def _set_on(self, left: Array, mark: _Mark, hairs: Array) -> None:
        """Draw a mark on what is left, in place: ragged as its ``hairs`` are, inches, (1, columns)."""
        fine, reach = self.fine, 4.0
        rows = slice(*(int(np.clip(round(one * fine.along) - self.rows.start, 0, len(left))) for one in
                       (mark.at - reach * mark.above - 1.0, mark.at + reach * mark.below + 1.0)))  # fmt: skip
        if rows.stop <= rows.start:
            return
        first, end = self._firsts[rows, mark.number, None], self._firsts[rows, mark.number + 1, None]
        cols = slice(int(first.min()), int(end.max()))
        if cols.stop <= cols.start:
            return
        along = np.arange(cols.start, cols.stop)
        down = fine.row_in[self.rows][rows] - np.float32(mark.at) + np.float32(mark.ragged) * hairs[:, cols]
        more = np.exp(np.minimum(down * np.float32(1.0 / mark.above), down * np.float32(-1.0 / mark.below)))
        more *= (along >= first) & (along < end)
        some = left[rows, cols]
        some += more * (np.float32(mark.size) - np.float32(0.5) * some)

    def begun(self, ragged: Array) -> tuple[Array, Array]:
        """Return how far down the strokes have come below their ragged starts, inches, and how much they hide of what
        was dragged before, 0 to 1.
        """
        below = self.fine.row_in[self.rows] - self.spread(self.starts) + ragged
        return below, np.clip(below / np.float32(_RUN_IN) + np.float32(0.5), 0.0, 1.0)


def _stops(count: int, aside: float, rng: np.random.Generator) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return after which share of its way each pass stops and goes on, 9 where it does not, and by how many inches its
    lines stand aside from there.
    """
    often, where, slip = rng.random((count, 3)).T
    return np.where(often < _STOPS, 0.15 + 0.7 * where, 9.0), 0.4 * aside * (slip - 0.5)


def _marks(
    at: NDArray[np.float64], tall: float, ends: tuple[bool, bool], rng: np.random.Generator
) -> tuple[_Mark, ...]:
    """Return the marks of passes: of those set on at the wall's top, of stops so far down on it, inches, and of those
    lifted at its foot.
    """
    marks = []
    for number, (full, deep, much, low, more, *stop) in enumerate(rng.random((len(at), 7))):
        if ends[0]:
            marks.append(_Mark(number, 0.3 + 0.5 * deep, 0.7 + 0.7 * full, 1.5, 0.2 + 0.5 * much, 2.0))
        if at[number] < tall:
            marks.append(_Mark(number, at[number], 0.25 + 0.35 * stop[0], 0.1, 0.2 + 0.6 * stop[1], 0.5))
        if ends[1]:
            marks.append(_Mark(number, tall - 0.2 - 0.5 * low, 0.6 + 0.8 * more, 0.15 + 0.4 * full, 1.5, 1.6))
    return tuple(marks)


def _strokes(fine: _Fine, tool: _Tool, streams: Streams) -> Array:
    """Return the log of what the tool leaves on a wall: one higher than a reach is dragged in strokes, which run out
    into one another at another height in each pass. Where it is set on and where it stops it leaves more, and ragged.
    """
    count, key = math.ceil(fine.tall / _REACH_IN), streams.key("ends")
    total = np.zeros((fine.rows, fine.cols), np.float32)
    for number in range(count):
        passes = _Passes.over(fine, number, count, tool.aside, streams)
        drawn, old = passes.drawn(tool, key - 1 - number), total[passes.rows]
        if number:
            below, over = passes.begun(fine.ragged(0.9, key + number))
            drawn += np.float32(0.3) * np.exp(-np.abs(below) / np.float32(1.4))
            drawn = old + over * (drawn - old)
        total[passes.rows] = drawn
    return total


def _bristles(fine: _Fine, gap: float, streams: Streams) -> _Tool:
    """Return what bristles leave: how hard each place is scored, above 0 to the ground. Most score a hair's width, some
    stand together, and an old brush has gaps; they set in, fade and lift off.
    """
    key = streams.key("lines")
    worn = np.float32(0.3 + 0.3 * streams.rng("brush").random())

    def scored(hair: Array, some: Array, broad: Array, touch: Array) -> Array:
        hair = np.float32(1.1) * hair - np.float32(1.1)
        np.maximum(hair, np.float32(1.4) * some - np.float32(0.9), out=hair)
        hair += worn * broad
        hair += np.float32(0.4) * np.clip(touch, -2.5, 1.0)
        return hair

    # each row by itself, so that no bit depends on where the strips lie
    waves = ((5.0, 0.5 * gap), (11.0, 1.0 * gap), (24.0, min(2.4 * gap, 0.14)), (1.7, 0.8 * gap))
    hair = strips.each(scored, *(fine.noise(*wave, key + number) for number, wave in enumerate(waves)))
    strays = np.float32(_STRAYS_IN) * fine.noise(6.0, 0.5, key + 6, 3)
    own = fields.fbm(Grid(1, math.ceil(1.5 * _TOOL_IN * fine.across), fine.across), (1.0, 0.5), key + 7, 4, 0.8)
    return _Tool(hair, strays, _OTHER_IN, _scratched, _CROSS, np.float32(_OWN) * own[0])


_PROFILE = (
    (-2.6, 0.8), (-2.2, 1.4), (-1.8, 0.8), (-1.3, 0.5), (-1.05, 0.7), (-0.75, 2.2), (-0.5, 3.7), (-0.25, 3.2),
    (-0.1, 1.0), (0.05, 0.2), (0.2, 0.04),
)  # fmt: skip
"""How hard a place is scored, and how much of the colour it keeps: to the ground in a scratch, and what was thrown up
stands in a ridge to either side; chosen by eye.
"""
_STEPS = 512


@lru_cache(maxsize=1)
def _profile() -> Array:
    """Return the log of what is left at so many steps to one of ``_PROFILE``, from its first to its last."""
    at, left = np.array(_PROFILE).T
    every = np.arange(round(at[0] * _STEPS), round(at[-1] * _STEPS) + 1) / _STEPS
    table = np.log(np.interp(every, at, left)).astype(np.float32)
    table.setflags(write=False)
    return table


def _scratched(hair: Array, press: Array) -> Array:
    """Return the log of what is left where bristles score so hard, pressed so much, about 1; ``press`` is used up."""
    table = _profile()
    press -= np.float32(1.15)  # about its mean over passes
    press *= np.float32(_PRESSED)
    press += hair
    press -= np.float32(_PROFILE[0][0])
    press *= np.float32(_STEPS)
    return table.take(np.clip(press, 0.0, len(table) - 1.0, out=press).astype(np.intp))


def _teeth(fine: _Fine, gap: float, streams: Streams) -> _Tool:
    """Return what a comb leaves: even teeth that waver together; one stands in the last groove of the pass before."""
    key = streams.key("lines")
    waver = 0.12 * fine.noise(5.0, 40.0, key) + 0.05 * fine.noise(1.4, 3.0, key + 1)
    soft = np.clip(gap * fine.across / 2.0 - 0.5, 0.0, 1.0)  # teeth finer than two pixels fade
    teeth = 1.3 * soft * np.cos(2 * np.pi * fine.col_in / gap) + 0.25 * fine.noise(10.0, 0.5 * gap, key + 9)
    skip = np.clip(0.8 + 0.3 * fine.noise(6.0, 1.2, key + 30), 0.1, 1.4)
    return _Tool(np.asarray(0.8 * teeth * skip, np.float32), waver.astype(np.float32), 0.0, np.multiply)
