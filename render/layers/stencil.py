"""An ornament stencilled over the wall or along a band, motif after motif, with a brush nearly dry.

What a finisher sees: registration a hair off from motif to motif, one fuller than the next and fuller on one side;
colour worked round and round in streaks, lap upon lap, fullest along the card's edge; a little bleed, and misses where
the wall lies low. Wet colour lies thin on what stands and holds in hollows: what rubs the print later is soon through
on crests and ridges.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, ornament, seeds, strips
from render.fields import Array, Grid
from render.hand import Hand, drawn, drawn_once
from render.layers.base import Coat, Length, Share, scaled
from render.seeds import Streams
from render.wall import Wall

_FADES_IN = 0.03  # of the depth that a miss is measured in: how softly the print ends there; chosen by eye
_LAPS = 1.3  # steps to one standard deviation of how often a place was gone over; chosen by eye
_STREAK_IN, _BRUSH_IN = 0.11, 48.0  # what single bristles write, and how much of it is drawn; chosen by eye
_LEVELS = 0.7  # per mil: how much thinner wet colour comes to lie on what stands, and fuller in hollows; by eye
_RIM_IN = 0.04  # how far inside the card's edge colour lies thinner, and twice as thin on what stands; chosen by eye
_SHUTS_MIL = 0.4  # the film that closes two thirds of the wall's pores; chosen by eye


class _Hand(Hand):
    """How the card is held and the brush pounced."""

    layer: Stencil

    @drawn
    def card(self) -> tuple[Array, Array, Array]:
        """Inches inside the nearest opening, how full the brush was for its motif, and what its bristles left there."""
        card = _Card.of(self.layer, self.grid, self.streams)
        return card.inside(self.layer.stray), card.load(), card.streaks(self.grid.ppi)

    @drawn
    def reach(self) -> Array:
        """How far inside the print a place is, inches: colour creeps under the card, mostly a hair, in places a tongue,
        and stops at the tapes of a band.
        """
        hair = fields.fbm(self.grid, 0.16, self.streams.key("hair"), 3, 0.7)
        tongue = np.maximum(fields.fbm(self.grid, 0.7, self.streams.key("tongue"), 4, 0.6) - 1.2, 0.0)
        inside = self.card[0] + np.float32(self.layer.bleed) * (np.float32(0.35) * hair + np.float32(1.1) * tongue)
        if self.layer.placement == "all over":
            return inside
        taped = 0.5 * self.layer.band_width - np.abs(self.grid.row_in - self.layer.middle(self.grid))
        return np.minimum(inside, np.asarray(taped[:, None], np.float32))

    @drawn
    def laps(self) -> Array:
        """How often a place was gone over, about unit variance: in steps, each a little fuller along its line."""
        plan = self.grid.plan
        often = fields.fbm(plan, 1.4, self.streams.key("dabs"), 3, 0.45)

        def stepped(often: Array) -> Array:
            times = often * np.float32(_LAPS)
            whole = np.floor(times)
            times -= whole
            times -= np.float32(0.5)  # from the line
            line = np.maximum(np.float32(0.6) - np.abs(times) * np.float32(5.0), 0.0)
            return (whole + np.clip(times * np.float32(10.0), -0.5, 0.5) + line) * np.float32(1.0 / _LAPS)

        return strips.each(stepped, fields.Resampled(often, plan, self.grid))

    @drawn
    def load(self) -> Array:
        """How much colour the brush held, about unit variance: by motif, by areas and lap upon lap."""
        plan = self.grid.plan
        slow = fields.Resampled(fields.fbm(plan, 8.0, self.streams.key("load"), 3, 0.5), plan, self.grid)
        return strips.each(lambda motif, slow, laps: motif + np.float32(0.45) * slow + np.float32(0.55) * laps,
                           self.card[1], slow, self.laps)  # fmt: skip

    @drawn_once
    def stipple(self) -> Array:
        """How much of it the wall took where it is even: stipple of all sizes."""
        return np.float32(0.7) * fields.fbm(self.grid, 0.45, self.streams.key("stipple"), 5, 0.75)

    @drawn_once
    def level(self) -> Array:
        """How full the brush was, its bristles' tips and the card's edge counted in: the edge strips the brush, and the
        print lies fuller along it than in the middle of a wide opening.
        """
        level = np.exp(np.maximum(self.card[0], 0.0) * np.float32(-1.0 / 0.14))
        level *= np.float32(1.2)
        level += np.float32(1.1) * self.load - np.float32(1.3)
        level += np.float32(0.8) * self.card[2]
        return level


class Stencil(Coat):
    """A coat through the openings of a stencil.

    The coverage is of the whole wall and met exactly: more swells the ornament, less starves it.
    """

    kind: Literal["stencil"] = "stencil"
    coverage: Annotated[
        Share,
        Field(
            description="Share of the whole wall that the print takes; the openings take an eighth to a quarter of it."
        ),
    ] = "24 %"  # type: ignore[assignment]
    ornament: Annotated[
        Literal["ogee", "rosette", "trellis", "vine"],
        Field(description="Palmettes in a net of leaves, roses and crosses, lobed rings, or a frieze of running vine."),
    ] = "ogee"
    repeat: Annotated[Length, Field(description="Width of one repeat of the ornament.")] = "14 in"  # type: ignore[assignment]
    placement: Annotated[
        Literal["all over", "band"],
        Field(description="Where it is printed: all over, or in a level band between two tapes."),
    ] = "all over"
    band_at: Annotated[Length, Field(description="How far below the top the band's middle runs.")] = "30 in"  # type: ignore[assignment]
    band_width: Annotated[Length, Field(description="Width of the band; the coverage is still of the whole wall.")] = (
        "7 in"  # type: ignore[assignment]
    )
    stray: Annotated[Length, Field(description="How far a motif strays from its place.")] = "1/16 in"  # type: ignore[assignment]
    bleed: Annotated[Length, Field(description="How far colour creeps under the stencil's edge.")] = "0.02 in"  # type: ignore[assignment]
    dry: Annotated[
        Share, Field(description="How dry the brush was: more leaves the print thinner and more broken.")
    ] = "40 %"  # type: ignore[assignment]
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""

    title: ClassVar[str] = "stencilled"
    tools: ClassVar[tuple[str, ...]] = ("stencil", "stencil brush", "low-tack tape", "spirit level")

    def words(self) -> str:
        """Return the layer's line."""
        where = "" if self.placement == "all over" else f", in a band {self.band_width:.3g} in wide"
        return f"{self.ornament} stencil, {self.repeat:.3g} in repeat{where}" + (f", {self.tool}" if self.tool else "")

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Print the motifs; coverage and mean film are met exactly."""
        hand, stands = _Hand(self, wall.grid, streams), blade.proud(wall)
        # hollows are missed, and what stands is hardly wetted; a starved brush misses a little more
        took = hand.stipple + np.float32(0.22) * np.clip(stands, -9.0, 0.0) - np.float32(0.3) * np.maximum(stands, 0.0)
        gave = np.float32(0.05) * (np.float32(0.35) * hand.load + took + np.float32(2.4 - 2.3 * self.dry))
        place = np.minimum(hand.reach, gave)
        level = fields.threshold(place, self.coverage)
        at = np.flatnonzero(fields.cover(place, self.coverage, level))
        seen = (place, gave, took, stands, hand.card[0], hand.level)
        film = np.zeros(wall.grid.shape, np.float32)
        film.reshape(-1)[at] = self._lies(wall.grid.ppi, level, tuple(one.reshape(-1).take(at) for one in seen))
        coat = self.stratum(scaled(film, self.mean_mil, out=film))
        shut = -np.expm1(coat.film * np.float32(-1.0 / _SHUTS_MIL))  # a breath of colour does not close the wall
        thirst, sheen = (old + shut * (np.float32(new) - old) for old, new in (
            (wall.thirst, coat.thirst), (wall.sheen, coat.sheen)))  # fmt: skip
        tone = wall.tone + shut * (self._tone(hand, stands) - wall.tone)
        return wall.add(coat, thirst=thirst, sheen=sheen, tone=tone)

    def _lies(self, ppi: float, level: float, seen: tuple[Array, ...]) -> Array:
        """Return the film at some places (n,), of any scale, by what is ``seen`` there: see ``apply``."""
        place, gave, took, stands, inside, full = seen
        sharp = np.clip((place - np.float32(level)) * np.float32(min(ppi, 45.0)) + np.float32(0.25), 0.1, 1.0)
        sharp *= np.sqrt(sharp)  # half a film hides more than half: a pixel on the edge is to hide its share
        fades = np.clip((gave - np.float32(level)) * np.float32(1.0 / _FADES_IN), 0.15, 1.0)
        fades *= self._crept(inside, level)
        pounced = np.float32(1.2) + np.float32(3.2 * self.dry) * (full + np.float32(0.8) * took)
        body = np.log1p(np.exp(pounced))
        body /= np.float32(1.0) + np.float32(0.3) * body  # a brush nearly dry has no thick places to give
        body += np.float32(0.5 * (1.0 - self.dry) ** 2) * np.exp(np.maximum(inside, 0.0) * np.float32(-50.0))  # a bead
        levels = _LEVELS / max(self.mean_mil / max(self.coverage, 1e-6), 1.0)  # a thick film hardly minds
        rim = np.exp(np.maximum(inside, 0.0) * np.float32(-1.0 / _RIM_IN))
        body *= np.exp((np.clip(stands, -2.0, 4.0) * (1.0 + rim) + rim) * np.float32(-levels))
        return np.asarray(sharp * fades * body, np.float32)

    def _tone(self, hand: _Hand, stands: Array) -> Array:
        """Return the tone of the print: streaked by the bristles, deeper lap upon lap, lighter on what stands."""
        return np.asarray(1.0 + 0.06 * hand.card[2] - 0.09 * hand.laps + 0.07 * np.clip(stands, -2.0, 2.0), np.float32)

    def _crept(self, inside: Array, level: float) -> Array:
        """Return the share of the film that crept under the card: the farther from the opening the less."""
        if self.bleed == 0.0:
            return np.ones(1, np.float32)
        under = np.minimum(inside - np.float32(min(level, 0.0)), 0.0)
        under *= np.float32(2.5 / self.bleed)
        return np.asarray(np.exp(under, out=under), np.float32)

    def middle(self, grid: Grid) -> float:
        """Return how far below the top the middle of a band runs on a wall, inches."""
        return min(self.band_at, 0.5 * grid.height_in)


@dataclass(frozen=True, eq=False)
class _Card:
    """Where the card was held for each motif, and how full the brush was.

    ``tile``, ``wide`` and ``tall`` (inches) are the ornament's; ``down`` and ``right`` (rows,), (cols,) inches from the
    corner of the tile each place lies in; ``motif`` (rows, cols) is each place's motif, an index into tables that
    ``own`` draws; ``from_down`` and ``from_right`` (rows, cols) inches from its middle.
    """

    tile: ornament.Tile
    wide: float
    tall: float
    down: Array
    right: Array
    motif: NDArray[np.int64]
    from_down: Array
    from_right: Array
    halves: tuple[NDArray[np.int64], NDArray[np.int64]]
    streams: Streams

    @classmethod
    def of(cls, layer: Stencil, grid: Grid, streams: Streams) -> _Card:
        """Set the tiles out: from the wall's top left corner, or along the middle of a band."""
        tile = ornament.tile(layer.ornament)
        wide = max(layer.repeat, 1.0)
        tall = wide * tile.tall
        top = 0.0 if layer.placement == "all over" else layer.middle(grid) - 0.5 * tall
        down, r, i = _tiles(grid.row_in - top, tall, tile.inside.shape[0])
        right, c, j = _tiles(grid.col_in, wide, tile.inside.shape[1])
        half_down, half_right = tile.motif[:, i[:, None], j]
        rows, cols = np.arange(2 * r.min() - 2, 2 * r.max() + 5), np.arange(2 * c.min() - 2, 2 * c.max() + 5)
        motif = half_down * np.int64(cols.size)
        motif += half_right
        motif += (2 * r[:, None] - rows[0]) * cols.size + (2 * c - cols[0])
        from_down = down[:, None] - np.float32(0.5 * tall) * half_down
        from_right = right - np.float32(0.5 * wide) * half_right
        return cls(tile, wide, tall, down, right, motif, from_down, from_right, (rows, cols), streams)

    def own(self, purpose: str) -> Array:
        """Return a number for each place's motif, uniform from -1 to 1."""
        table = 2.0 * seeds.hash_lattice(*self.halves, self.streams.key(purpose)) - 1.0
        return np.asarray(table, np.float32).ravel().take(self.motif)

    def inside(self, stray: float) -> Array:
        """Return inches inside the nearest opening, motif by motif, each a little off and turned."""
        turn = self.own("turn") * np.float32(min(2.0 * stray / self.wide, 0.05))
        down = self.down[:, None] + self.from_right * turn + self.own("down") * np.float32(stray)
        right = self.right - self.from_down * turn + self.own("right") * np.float32(stray)
        field, size = np.pad(self.tile.inside, 1, mode="wrap"), self.tile.inside.shape
        scale = np.float32(size[1] / self.wide)
        at = (_around(one * scale - np.float32(0.5), n) + 1 for one, n in zip((down, right), size, strict=True))
        return fields.gather(field, *at) * np.float32(self.wide)

    def load(self) -> Array:
        """Return how full the brush was, about half unit variance: motif by motif, and more to one side of each."""
        lean = self.own("lean down") * self.from_down + self.own("lean right") * self.from_right
        return np.asarray(self.own("motif") + np.float32(1.6 / self.wide) * lean, np.float32)

    def streaks(self, ppi: float) -> Array:
        """Return what the bristles left, unit variance: arcs about a place beside each motif's middle, its own."""
        per_in = 2.0 * min(ppi, 100.0)
        edge = Grid(1, max(1, round(_BRUSH_IN * per_in)), per_in)
        lines = fields.fbm(edge, (1.0, _STREAK_IN), self.streams.key("bristles"), 3, 0.7)
        down, right = (off + self.own(way) * np.float32(0.25 * self.wide) for off, way in (
            (self.from_down, "round down"), (self.from_right, "round right")))  # fmt: skip
        down *= down
        right *= right
        down += right
        np.sqrt(down, out=down)
        down *= np.float32(per_in)
        down += (self.own("bristles") + np.float32(1.0)) * np.float32(0.5 * _BRUSH_IN * per_in)
        return lines[0].take(down.astype(np.intp), mode="wrap")


def _tiles(at: NDArray[np.float64], size: float, pixels: int) -> tuple[Array, NDArray[np.int64], NDArray[np.int64]]:
    """Return, for places along an axis, inches from the corner of their tile, its number, and the tile's pixel."""
    number = np.floor(at / size).astype(np.int64)
    off = at - number * size
    return off.astype(np.float32), number, np.minimum(off / size * pixels, pixels - 1).astype(np.int64)


def _around(place: Array, size: int) -> Array:
    """Return places on a ring of some pixels, from 0 to the size, in a fifth of the time of a remainder."""
    return np.asarray(place - np.float32(size) * np.floor(place * np.float32(1.0 / size)), np.float32)
