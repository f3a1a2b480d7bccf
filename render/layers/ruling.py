"""Block lines drawn with a lining brush along a rule.

What a finisher sees: a line that starts on the brush's tip, swells over an inch and goes thin before it is dipped anew,
forking into two hairs of unequal length; the next stroke set on over its end, a touch off line and darker where both
lie; wider where the hand leaned, run a little past its crossings, taken off by the wall's grain and worn thin, hair by
hair, in a few unequal places.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from dataclasses import fields as dataclass_fields
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, bond, fields, seeds
from render.bond import Bond, Lines
from render.fields import Array, Grid
from render.layers.base import Length, Share, Wash, scaled
from render.seeds import Streams
from render.wall import Wall

_DIP_IN = (20.0, 17.0)  # a loaded lining brush draws so far at least, and so much farther at most
_PAST_IN = 0.3  # how far an upright runs on past its bed, at most
_NOSE_IN, _LAPS_IN = 0.1, 2.2  # over which a line ends round; how far a stroke's end may lie under the next
_FORKS = 0.75  # share of strokes whose brush parts in two as it runs dry
_LIFTS_IN = 1.6  # over which it is lifted off, at most
_SWELLS_IN = 1.2  # over which a brush set down on its tip spreads to its width, and is fullest after
_WET = 0.22  # how much less dry a line is where a stroke lies over the end of the last
_WAVER_IN, _LEAN_IN = 0.012, 0.011  # how far the hand wavers along the rule, and how much wider it leans
_SLIPS_IN = 0.05  # how far the rule lies off the line at most, each time it is set
_TOOTH_IN = 0.05  # of the wall, which takes colour off a brush that is not full
_CROSS_IN = 0.4  # within which both lines of a crossing are drawn
_FAR_IN = 1e3
_SOFT_IN = 0.03  # over which a line's edge thins out: paint creeps over the grain of the wall


class Ruling(Wash):
    """Lines of a bond drawn in colour: the coverage says how much of the wall they take, the width follows from it."""

    kind: Literal["ruling"] = "ruling"
    coverage: Annotated[
        Share, Field(description="Share of the wall that the lines take: line width x (1/height + 1/length).")
    ] = "1.6 %"  # type: ignore[assignment]
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    pattern: Annotated[
        Literal["running", "stacked", "broken"],
        Field(description="How the blocks lie: half over half, one on another, or each course set on by eye."),
    ] = "running"
    block_height: Annotated[Length, Field(description="Height of a course.")] = "12 in"  # type: ignore[assignment]
    block_width: Annotated[Length, Field(description="Length of a block.")] = "24 in"  # type: ignore[assignment]
    vary: Annotated[
        Share, Field(description="How much blocks differ in length, up to 40 %; courses differ half as much in height.")
    ] = "0 %"  # type: ignore[assignment]
    wander: Annotated[Length, Field(description="How far a line strays from straight.")] = "1/16 in"  # type: ignore[assignment]
    shift: Annotated[
        Length,
        Field(description="How far down and right of the bond's lines these are drawn, for a light beside a dark."),
    ] = "0 in"  # type: ignore[assignment]
    broken: Annotated[Share, Field(description="How dry the brush runs: more leaves more gaps.")] = "40 %"  # type: ignore[assignment]

    title: ClassVar[str] = "block lines drawn"
    tools: ClassVar[tuple[str, ...]] = ("lining brush", "straight edge", "chalk line")

    def words(self) -> str:
        """Return the layer's line."""
        return f"block lines drawn, {self.block_width:.3g} x {self.block_height:.3g} in, {self.pattern}"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Draw the lines; coverage and mean film are met exactly."""
        grid = wall.grid
        layout = Bond(self.block_height, self.block_width, self.pattern, self.wander, self.vary)
        lines = bond.draw(grid, layout, streams.pour, self.shift, _PAST_IN)
        place, dry = np.full(grid.shape, -_FAR_IN, np.float32), np.zeros(grid.shape, np.float32)
        self._draw(place.reshape(-1), dry.reshape(-1), wall, lines, streams)
        level = fields.threshold(place, self.coverage)
        at = np.flatnonzero(fields.cover(place, self.coverage, level))
        inside = place.take(at) - np.float32(level)
        film = np.zeros(grid.shape, np.float32)
        film.reshape(-1)[at] = np.clip(inside / np.float32(max(_SOFT_IN, 1.0 / grid.ppi)), 0.05, 1.0)
        film.reshape(-1)[at] *= np.exp(np.float32(-2.1) * np.maximum(dry.take(at), -0.5))
        return wall.add(self.stratum(scaled(film, self.mean_mil)))

    def _draw(self, place: Array, dry: Array, wall: Wall, lines: Lines, streams: Streams) -> None:
        """Write near the lines of a bond how far inside a line a place lies, inches, and how dry it was drawn there.

        Where two cross, each is drawn, and what lies deeper inside one shows.
        """
        near = np.flatnonzero(lines.away < self._reach())
        cross = np.flatnonzero(np.maximum(np.abs(lines.down), np.abs(lines.right)) < _CROSS_IN)
        at, level = np.append(near, cross), np.append(lines.level.take(near), ~lines.level.take(cross))
        ground = _Ground.near(wall, at, level, streams)
        stroke = _Stroke.on(ground, lines, self.block_height, streams)
        inside, dried = self._inside(lines, stroke, ground)
        for some in (slice(near.size), slice(near.size, None)):
            _deepest(place, dry, at[some], inside[some], dried[some])
        under = ground.where(level & (stroke.begun < _LAPS_IN))  # where the end of the stroke before may lie
        stroke = _Stroke.on(under, lines, self.block_height, streams, before=1)
        inside, dried = self._inside(lines, stroke, under)
        twice = (np.minimum(place[under.at], inside) + np.float32(0.5 * self._width)) / np.float32(_SOFT_IN)
        _deepest(place, dry, under.at, inside, dried)
        dry[under.at] -= np.float32(_WET) * np.clip(twice, 0.0, 1.0)  # where the colour of both lies

    def _inside(self, lines: Lines, stroke: _Stroke, ground: _Ground) -> tuple[Array, Array]:
        """Return how far inside a stroke's line places lie, inches, and how dry it was drawn there.

        As it runs dry the brush parts: two hairs go on beside each other, one farther than the other.
        """
        waver = ground.waver + stroke.slips
        aside = np.where(ground.level, lines.down.take(ground.at) + waver, lines.right.take(ground.at) - waver)
        dried = self._dryness(stroke, ground)
        half = np.float32(0.5 * self._width)
        fork = np.clip(np.float32(3.6 * self.broken) * stroke.gives - np.float32(0.7), 0.0, 1.0) * stroke.forks
        dried += fork * np.where(aside * stroke.longer < 0.0, np.float32(0.1), np.float32(-0.35))
        away = np.abs(np.abs(aside) - np.float32(0.85) * half * fork) + np.float32(0.66) * half * fork
        return np.asarray(self._fuller(stroke, dried, ground) - away, np.float32), dried

    @property
    def _width(self) -> float:
        """How wide the lines are on the mean, inches."""
        return self.coverage / (1.0 / max(self.block_height, 1.0) + 1.0 / max(self.block_width, 1.0))

    def _reach(self) -> float:
        """Return how far from its middle a line may show, inches: its width and what the hand strays."""
        return self._width + 0.4

    def _dryness(self, stroke: _Stroke, here: _Ground) -> Array:
        """Return how little colour the brush left near the lines: about 0 where it was full, from .75 on the line
        breaks up.

        It runs dry along a stroke, hair by hair, misses hollows and is worn off high spots; it lets go as it is lifted.
        """
        broken, gives = np.float32(self.broken), stroke.gives
        dry = broken * (0.95 * gives + 0.42 * here.worn + 0.12 * here.high + 0.5 * (0.5 - stroke.full))
        dry += (0.02 + 0.06 * broken) * here.tooth
        thin = np.clip(0.1 + gives + 0.55 * here.worn, 0.0, 1.3)
        return np.asarray(dry + (0.06 + 0.75 * broken * thin) * stroke.hairs - 0.2 * stroke.pool, np.float32)

    def _fuller(self, stroke: _Stroke, dry: Array, here: _Ground) -> Array:
        """Return how much farther than its edge a line reaches, inches: fat where the brush is full and leaned on,
        thin where it is spent, round at its ends.
        """
        fuller = here.lean + 0.014 * (stroke.pool - stroke.spent) + 0.003 * stroke.hairs
        fuller += 0.022 * (stroke.full - 0.5)
        fuller -= np.float32(0.32 * self._width) * stroke.tip
        fuller -= 0.06 * np.clip(1.0 - stroke.spare / _NOSE_IN, 0.0, 4.0) ** 2
        return np.asarray(fuller - 0.14 * np.clip(dry - 0.75, 0.0, 1.5), np.float32)


def _deepest(place: Array, dry: Array, at: NDArray[np.int64], inside: Array, dried: Array) -> None:
    """Write what lies deeper inside a line than what was drawn there before."""
    deeper = np.flatnonzero(inside > place[at])
    place[at[deeper]], dry[at[deeper]] = inside[deeper], dried[deeper]


@dataclass(frozen=True, eq=False)
class _Ground:
    """What a brush meets at places near the lines, each (n,), and how the hand strays: ``at`` which flat index a place
    is, and whether its line runs ``level``; how far the line is ``worn``, unit variance; how ``high`` or deep it lies,
    mil; its ``tooth``, unit variance; how far the hand ``waver``s and how much it ``lean``s, inches; which ``hairs``
    carry more or less, unit variance; inches from the wall's ``left``.
    """

    at: NDArray[np.int64]
    level: NDArray[np.bool_]
    worn: Array
    high: Array
    tooth: Array
    waver: Array
    lean: Array
    hairs: Array
    left: NDArray[np.float64]

    @classmethod
    def near(cls, wall: Wall, at: NDArray[np.int64], level: NDArray[np.bool_], streams: Streams) -> _Ground:
        """Read it off a wall."""
        grid = wall.grid
        worn = fields.fbm(grid, 5.0, streams.key("worn"), 5, 0.62).take(at)  # all sizes of gap, the long ones rare
        high = np.clip(blade.proud(wall, 9).take(at), -3.0, 3.0)
        tooth = fields.lattice(grid, _TOOTH_IN, streams.key("tooth")).take(at)
        waver = _strays(grid, _WAVER_IN, 1.4, streams.key("waver")).take(at)
        lean = _strays(grid, _LEAN_IN, 2.2, streams.key("lean")).take(at)
        hairs = np.where(level, *(fields.lattice(grid, way, streams.key("hairs")).take(at) for way in _HAIRS))
        return cls(at, level, worn, np.abs(high), tooth, waver, lean, hairs, grid.col_in[at % grid.cols])

    def where(self, on: NDArray[np.bool_]) -> _Ground:
        """Return the same at the places that are on."""
        return _Ground(*(getattr(self, one.name)[on] for one in dataclass_fields(self)))


@dataclass(frozen=True, eq=False)
class _Stroke:
    """What the brush does at places near the lines, each (n,): inches since it was set down (``begun``); how much of
    its load is ``spent``, 0 to about 1; how it ``gives`` out, 0 to about 1.7, spent and lifted off; the ``pool`` that
    it lets go soon after it was set down, 0 to 1, and how far it stands on its ``tip`` there, 1 to 0; inches to
    ``spare`` before the end of a line; which ``hairs`` carry more or less, unit variance; how ``full`` and hard pressed
    it was in this stroke, 0 to 1; inches by which the rule ``slips`` in it; how far it ``forks``, 0 or 1, and on which
    side the ``longer`` hair goes on, 1 or -1.
    """

    begun: Array
    spent: Array
    gives: Array
    pool: Array
    tip: Array
    spare: Array
    hairs: Array
    full: Array
    slips: Array
    forks: Array
    longer: Array

    @classmethod
    def on(cls, ground: _Ground, lines: Lines, tall: float, streams: Streams, before: int = 0) -> _Stroke:
        """Follow the brush: along a level bed in strokes that lap over one another, down each upright in one.
        ``before`` 1 follows the strokes along beds that come before those.
        """
        near, level, hairs = ground.at, ground.level, ground.hairs
        down = lines.down.take(near)
        number = np.where(level, lines.bed.take(near), lines.upright.take(near))
        chance = {what: seeds.hash_unit(number, streams.key(what)) for what in ("draw", "dip", "lift")}
        long = _DIP_IN[0] + _DIP_IN[1] * chance["draw"]
        which = ground.left / long + chance["dip"]
        stroke = np.floor(which) - before
        dipped = (which - stroke) * long
        own = seeds.mix64(number + np.where(level, stroke + 1.0, 0.0).astype(np.uint64))
        full, slips, parts, more = (
            seeds.hash_unit(own, streams.key(what)) for what in ("full", "slips", "forks", "longer")
        )
        past = lines.spare.take(near)
        begun = np.where(level, dipped, down + tall * ((down > 0) != np.isinf(past)))  # inches since it was set down
        load = np.where(level, 0.0, 0.75 * chance["dip"]) + np.maximum(begun, 0.0) / long
        laps, lift = _LAPS_IN * (0.35 + 0.65 * more), 1.4 * _LIFTS_IN * (0.5 - chance["lift"])
        left = np.where(level, long + laps, tall + lift) - begun
        lifted = np.clip(1.0 - left / _LIFTS_IN, 0.0, 1.5)
        since = np.square(np.maximum(begun, 0.0) / _SWELLS_IN).astype(np.float32)
        tip = np.exp(-since)
        pool = np.float32(math.e) * since * tip * (1.0 - load)
        slips = _SLIPS_IN * (2.0 * slips - 1.0) * np.where(level, 2.0 * dipped / long - 1.0, 1.0)
        spare = np.where(level, np.minimum(begun - 0.1 - 0.12 * hairs, left), past) + 0.03 * hairs
        longer = 2.0 * (more < 0.5) - 1.0
        gives = load * np.sqrt(load) + 0.7 * lifted
        every = begun, load, gives, pool, tip, spare, hairs, full, slips, parts < _FORKS, longer
        return cls(*(one.astype(np.float32) for one in every))


_HAIRS = ((0.028, 1.6), (1.6, 0.028))  # bristle streaks along a level line and along an upright, inches


def _strays(grid: Grid, much: float, inches: float, key: int) -> Array:
    """Return how a hand strays along a line, with ``much`` as standard deviation."""
    slow = np.float32(much) * fields.fbm(grid.plan, inches, key, 3, 0.5)
    return fields.resample(slow, grid.plan, grid, smooth=True)
