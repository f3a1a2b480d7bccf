"""Plaster laid with hawk and trowel: full, skipped, torn or tapped."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import blade, fields, strips, strokes, voids
from render.fields import Array, Grid, Resampled
from render.hand import Hand, drawn, drawn_once, drawn_within
from render.layers.base import Angle, Coat, Length, Mils, Share, scaled
from render.rips import Rips, Scale
from render.seeds import Streams
from render.strokes import Habit, Marks, Strokes
from render.voids import Edges, Place
from render.wall import Wall

_FIRST_SHARE = 0.62  # of a skipped coat's ground is met by the first pass, which is drawn out tight
_TORN = {"torn": 0.85, "full": 0.3, "skip": 0.0, "tapped": 0.4}  # on all sides 1, only where the blade lifts 0
_PULLED = Scale(0.33, 2.8, 800)  # pits open along the blade's way at once, and close slowly
_GRABBED = Scale(0.9, 2.6, 100)  # where the coat drags
_CHATTER, _JUMPY = Scale(1.6, 0.16, 500), Scale(3.2, 1.7, 200)  # ripples of a blade that sticks and jumps, in patches
_VOLUMES = (0.3, 0.7)  # of the material in the first and the second pass


class _Hand(Hand):
    """What the hand and the trowel do whatever lies below; fields on the plan grid, unless said."""

    layer: PlasterCoat

    @drawn_within
    def sweep(self) -> Strokes:
        """The sweeps of the trowel."""
        coat = self.layer
        wide, long = max(coat.blade, 1.0) * 0.85, max(coat.stroke, 1.0)
        pitch = max(0.8, 0.55 * (wide * long) ** 0.5)
        habit = Habit(wide, long, coat.direction, coat.scatter, pitch, 11.0, 30.0, min(0.12, 0.1 * wide))
        return strokes.lay(self.plan, habit, self.streams.key("sweeps"), self.streams.kept)

    @drawn_within
    def rips(self) -> Rips:
        """How the coat tears."""
        return Rips.of(self.streams)

    @drawn
    def slowly(self) -> Array | None:
        """Where plaster stays, high, on an even ground; None where it covers all."""
        if self.layer.coverage >= 1.0:
            return None
        return voids.slow(self.plan, self.sweep, self.rips, self.layer.void, self.streams, _TORN[self.layer.style])

    @drawn_once
    def edges(self) -> tuple[Edges, Array] | None:
        """The edges of what it covers, and how much piles up at torn ones: knobs and a lip here, nothing there.

        None where it covers all.
        """
        if self.layer.coverage >= 1.0:
            return None
        knobs = voids.knobbly(self.grid, self.sweep, self.rips)
        edges = Edges(self.grid, self.sweep, self.rips, (knobs, self.grit), self.streams, _TORN[self.layer.style])
        piled = np.clip(1.2 * fields.fbm(self.slow, 0.8, self.streams.key("piled"), 2, 0.7) - 0.2, 0.0, 1.6)
        lip = np.float32(2.0 * self.layer.lip)
        return edges, strips.each(lambda knobs, piled: np.clip(0.9 + 0.6 * knobs, 0.0, 2.4) * lip * piled,
                                  knobs, self.spread(piled), out=knobs)  # fmt: skip

    @drawn
    def second(self) -> Array:
        """What a second pass adds to where plaster stays; nothing if there is none."""
        if not self.twice:
            return np.zeros((1, 1), np.float32)
        return fields.fbm(self.plan, 0.7 * max(self.layer.void, 0.3), self.streams.key("second"), 4, 0.5)

    @property
    def twice(self) -> bool:
        """Whether it goes over the wall twice."""
        return self.layer.style == "skip" and self.layer.coverage < 1.0

    @property
    def plan(self) -> Grid:
        """The plan grid."""
        return self.grid.plan

    @property
    def slow(self) -> Grid:
        """The grid of what has nothing finer than a third of an inch."""
        return self.grid.at(self.plan.ppi / 2.0)

    @property
    def mood(self) -> voids.Mood:
        """How it works on this pour."""
        return voids.Mood.of(self.streams)

    @drawn
    def grit(self) -> Array:
        """The plaster's own grain, at output size: unit variance."""
        return voids.gritty(self.grid, self.streams)

    @drawn_once
    def first_relief(self) -> Array:
        """What a first pass of two writes into the surface at large, mil."""
        if not self.twice:
            return np.zeros((1, 1), np.float32)
        return self._pressed(0.55 * fields.fbm(self.plan, 2.6, self.streams.key("hand", 0), 4, 0.55))

    @drawn_once
    def last_relief(self) -> Array:
        """What the last pass writes into the surface at large, mil."""
        rolling = 0.55 * fields.fbm(self.plan, 2.6, self.streams.key("hand", 1), 4, 0.55)
        rolling += 1.1 * self.sweep.lift - 0.6 * self.grab
        if self.layer.style == "tapped":
            rolling *= np.float32(0.4)  # the dabbing breaks what the blade wrote
        return self._pressed(rolling)

    def _pressed(self, rolling: Array) -> Array:
        """The blade rides on what stands up, and presses it."""
        rolling = np.minimum(rolling, 0.7 * rolling)
        return np.asarray(np.float32(self.layer.ridge * self.mood.deep) * rolling, np.float32)

    @drawn
    def broad(self) -> Array:
        """Hollows and humps that no hand levels, and what a full or an empty trowel leaves; shares of the film."""
        plan, key = self.plan, self.streams.key
        uneven = 0.19 * fields.lattice(plan, 5.0, key("humps")) + 0.13 * fields.lattice(plan, 2.4, key("humps", 2))
        uneven += 0.28 * (self.sweep.supply - 0.5)
        deep = np.float32(self.mood.deep * (0.75 if self.layer.style == "full" else 1.25))
        return np.asarray(deep * np.minimum(uneven, 0.15 * uneven), np.float32)  # humps are cut

    @drawn
    def lines(self) -> Array:
        """Drag lines, about unit variance, at output size."""
        marks = Marks(0.13, 30.0, 3, 2.6, 0.26, scratch=1.3)
        return strokes.grain(self.sweep, self.grid, marks, self.streams.key("lines"))

    @drawn_within
    def grab(self) -> Array:
        """How the coat drags and lets go along the blade's way, unit variance."""
        drag, jumps, patch = (self.rips.along(self.sweep, self.plan, one) for one in (_GRABBED, _CHATTER, _JUMPY))
        return strips.each(lambda drag, jumps, patch: drag + np.clip(patch - np.float32(0.7), 0.0, 1.2) * jumps,
                           drag, jumps, patch)  # fmt: skip

    @drawn_once
    def pull(self) -> Array:
        """How far the blade pulls the coat open where the ground grabs it, at output size."""
        if self.layer.pits <= 0:
            return np.zeros((1, 1), np.float32)
        pull, grab = self.rips.along(self.sweep, self.grid, _PULLED), Resampled(self.grab, self.plan, self.grid)
        return strips.each(lambda pull, grab: pull + np.float32(0.4) * grab, pull, grab, out=pull)

    @drawn_once
    def pit_zones(self) -> Array:
        """Where it may pull the coat open, 0 to 1, on the slow grid."""
        return blade.zone(self.slow, 4.0, self.layer.pits, self.streams.key("pit zones"))

    @drawn_once
    def written(self) -> Array:
        """Fine marks at output size, mil: drag lines, ridges beside the blade, the plaster's tooth, peaks."""
        ridge, tapped = np.float32(self.layer.ridge), self.layer.style == "tapped"
        bead = Resampled(self.sweep.bead, self.plan, self.grid)
        peaks, left = (self._stipple(), np.float32(0.5)) if tapped else (np.zeros((1, 1), np.float32), np.float32(1.0))

        def write(bead: Array, lines: Array, peaks: Array, open_: Array, grit: Array) -> Array:
            marks = left * (np.float32(1.5) * bead * bead + np.float32(0.3) * lines) + peaks
            return ridge * marks + open_ * grit

        return strips.each(write, bead, self.lines, peaks, self._open(), self.grit)

    def spread(self, slow: Array) -> Resampled:
        """Return, at output size, what was drawn on the slow grid."""
        return Resampled(np.asarray(slow, np.float32), self.slow, self.grid)

    def _open(self) -> Resampled:
        """Return how much the plaster's own grain shows, mil: trowelled shut in zones, coarser with more sand."""
        fed = fields.resample(self.sweep.supply, self.plan, self.slow)
        open_ = np.clip(0.7 + 0.4 * fields.fbm(self.slow, 4.0, self.streams.key("open"), 3) - 0.3 * fed, 0.15, 1.4)
        return self.spread(open_ * np.float32(0.65 + 4.0 * self.layer.material.grain))

    def _stipple(self) -> Array:
        """Return the peaks that suction pulls up under a tapped trowel: sharp tips, dense in zones."""
        key = self.streams.key
        tips = fields.lattice(self.grid, 0.4, key("tips")) + 0.7 * fields.lattice(self.grid, 0.21, key("tips", 2))
        tips += 0.35 * fields.lattice(self.grid, 0.1, key("tips", 3))
        dense = self.spread(0.15 + 0.85 * blade.zone(self.slow, 4.0, 0.65, key("tapped")))
        return strips.each(lambda tips, dense: np.maximum(tips - np.float32(0.1), 0.0) ** 2 * dense, tips, dense)

    @drawn_once
    def pinholes(self) -> Array:
        """Pinholes as a depth in mil, at output size, crowded in zones."""
        if self.layer.pits <= 0:
            return np.zeros((1, 1), np.float32)
        slow = self.slow
        zone = blade.zone(slow, 5.0, self.layer.pits, self.streams.key("pinhole zones"))
        points = fields.scatter(self.grid, 5.0, self.streams.key("pinholes"), 12.0, 0.1)
        at = fields.gather(zone, points.row_in * slow.ppi - 0.5, points.col_in * slow.ppi - 0.5)
        kept = points.unit(1) < 0.9 * at**3 + 0.03
        points = points.where(kept)
        size = np.minimum(0.016 * np.exp(0.9 * points.normal(2)), 0.12)
        return blade.splat(self.grid, points, size**2 * 8.0, 0.03)

    @drawn_once
    def drying(self) -> Array:
        """Patches of drying, a factor on the tone at output size."""
        return blade.drying(self.grid, self.streams.key("drying"), self.sweep.lift * 0.6, 0.045)

    @drawn_once
    def suction(self) -> Array:
        """How much more than the coat at large a place drinks: slow patches, and each load's own."""
        plan, key = self.plan, self.streams.key
        patch = 0.22 * fields.fbm(plan, 3.5, key("suction"), 3, 0.6) + 0.3 * (self.sweep.unit(key("load")) - 0.5)
        return np.asarray(patch, np.float32)


class PlasterCoat(Coat):
    """Rides on the high spots, fills hollows, tears where the blade lifts and feathers where it lands."""

    kind: Literal["plaster_coat"] = "plaster_coat"
    style: Annotated[
        Literal["full", "skip", "torn", "tapped"],
        Field(description="full covers; skip leaves voids as the blade skips; torn breaks away; tapped is pulled up."),
    ] = "full"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    blade: Annotated[Length, Field(description="Length of the trowel's blade.")] = "11 in"  # type: ignore[assignment]
    stroke: Annotated[Length, Field(description="Mean length of one sweep of the trowel.")] = "18 in"  # type: ignore[assignment]
    direction: Annotated[
        Angle, Field(description="Mean direction of the sweeps: 90 deg is upright, 0 deg across the wall.")
    ] = "30 deg"  # type: ignore[assignment]
    scatter: Annotated[Angle, Field(description="How far sweeps stray from it; 90 deg means every way.")] = "90 deg"  # type: ignore[assignment]
    skim: Annotated[
        Mils, Field(description="Film that the blade leaves on the highest spots; harder pressure leaves less.")
    ] = "1.5 mil"  # type: ignore[assignment]
    ridge: Annotated[Mils, Field(description="Height of the ridges and steps that the blade leaves.")] = "3 mil"  # type: ignore[assignment]
    void: Annotated[Length, Field(description="Size of the largest voids.")] = "3 in"  # type: ignore[assignment]
    lip: Annotated[Mils, Field(description="How high plaster piles up at torn edges.")] = "5 mil"  # type: ignore[assignment]
    follow: Annotated[Share, Field(description="How strongly voids fall upon voids of the coat beneath.")] = "40 %"  # type: ignore[assignment]
    pits: Annotated[Share, Field(description="Share of the wall in zones with pinholes and drag pits.")] = "25 %"  # type: ignore[assignment]

    tools = ("hawk", "trowel")

    def words(self) -> str:
        """Return the coat in words."""
        how = {"full": "trowelled full", "skip": "skip-trowelled", "torn": "laid and torn", "tapped": "laid and tapped"}
        return f"plaster {how[self.style]}" + (f", {self.tool}" if self.tool else "")

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Lay the coat in one pass, or in two where it is skipped; coverage and mean film are met exactly."""
        mean = self.mean_mil
        if self.coverage <= 0 or mean <= 0:
            return wall.add(self.stratum(np.zeros(wall.grid.shape, np.float32)))
        wall, hand = blade.pressed(wall), _Hand(self, wall.grid, streams)
        places, piled = self._places(wall, hand)
        mask, film = places[0].mask, np.zeros((1, 1), np.float32)
        for other in places[1:]:
            mask = mask | other.mask
        for share in _VOLUMES if len(places) > 1 else (1.0,):
            place = places.pop(0)  # a large wall has no room for what is done with
            one = _pass(hand, (wall.height, film), place, piled, mean * share, last=not places)
            film = strips.each(np.add, film, one, out=one)
        del piled
        film = strips.each(lambda one, on: np.maximum(one, np.float32(1e-3 * mean)) * on, film, mask, out=film)
        film, surface = scaled(film, mean, out=film), self._surface(wall, mask, place, hand)
        del hand, place, mask
        return wall.add(self.stratum(film), **surface)

    def _places(self, wall: Wall, hand: _Hand) -> tuple[list[Place], Array | None]:
        """Return where each pass lies, and what piles up at their edges; together they cover what is asked."""
        drawn = hand.edges
        if hand.slowly is None or drawn is None:
            return [Place.everywhere(wall.grid)], None
        edges, piled = drawn
        slowly = hand.slowly + np.float32(2.2 * self.follow) * voids.beneath(wall)
        if wall.slip.any():
            slowly -= np.float32(0.8) * fields.resample(wall.slip, wall.grid, wall.grid.plan)
        if not hand.twice:
            return [edges.place(slowly, self.coverage)], piled
        first = edges.place(slowly, _FIRST_SHARE * self.coverage)
        return [first, edges.besides(0.8 * slowly + np.float32(0.5) * hand.second, first, self.coverage)], piled

    def _surface(self, wall: Wall, mask: NDArray[np.bool_], place: Place, hand: _Hand) -> dict[str, Array]:
        """Return tone and looseness after the coat: patches of drying, streaks of pressure, and torn rims that hang."""
        drinks, hangs = np.float32(self.material.absorbency), np.float32(0.9 if self.style == "torn" else 0.6)

        def tone(on: Array, dry: Array, lines: Array, old: Array) -> Array:
            return np.where(on, dry + np.float32(0.014) * lines, old)

        def thirst(on: Array, patch: Array, lines: Array, old: Array) -> Array:
            own = drinks * (np.float32(1.0) + patch - np.float32(0.12) * lines)  # scratches drink most
            return np.where(on, np.clip(own, 0.0, 1.0), old)

        def loose(on: Array, distance: Array, lifts: Array, old: Array) -> Array:
            return np.where(on, np.clip(1.0 - distance / np.float32(0.3), 0.0, 1.0) * lifts * hangs, old)

        patch = Resampled(hand.suction, hand.plan, wall.grid)
        return {"tone": strips.each(tone, mask, hand.drying, hand.lines, wall.tone),
                "thirst": strips.each(thirst, mask, patch, hand.lines, wall.thirst),
                "loose": strips.each(loose, mask, place.distance, place.lifts, wall.loose)}  # fmt: skip


def _pass(
    hand: _Hand, ground: tuple[Array, Array], place: Place, piled: Array | None, mean: float, *, last: bool
) -> Array:
    """Return a pass's film on a height and film (``ground``), mil; its mean over the wall is right to .5 %."""
    grid, plan = hand.grid, hand.plan
    thick = mean / max(float(np.count_nonzero(place.mask)) / place.mask.size, 1e-6)
    scale = np.float32(min(1.0, thick / 12.0))  # a thin coat has low ridges
    height, film = ground
    coarse = fields.resample(height + film if film.any() else height, grid, plan)
    rides = blade.ride(coarse, plan.ppi, *((1.4, 1.6, 0.75) if last else (0.8, 1.2, 0.7)))
    relief, most = hand.last_relief if last else hand.first_relief, np.float32(min(thick, 40.0))
    rides = strips.each(lambda rides, relief, broad: rides + scale * relief + most * broad, rides, relief, hand.broad)
    marks = _marks(hand, coarse) if last else np.zeros((1, 1), np.float32)
    ridden = Resampled(rides, plan, grid, smooth=True)

    def gap(rides: Array, height: Array, film: Array, marks: Array, *edge: Array) -> Array:
        return rides - (height + film) + scale * (marks + _lip(*edge) if edge else marks)

    skim, soft = float(hand.layer.skim * scale), 2.0 * float(scale) + 0.05
    if piled is None:
        level = strips.each(gap, ridden, height, film, marks)
        return blade.fill(level, np.broadcast_to(np.float32(1.0), grid.shape), mean, skim, soft)
    level = strips.each(gap, ridden, height, film, marks, piled, place.distance, place.lifts)
    del marks  # a large wall has no room for them any more
    edge = strips.each(partial(_edge, grid.ppi), place.mask, place.distance, place.lifts)
    film = blade.fill(level, edge, mean, skim, soft)
    return strips.each(np.multiply, film, edge, out=film)


def _marks(hand: _Hand, coarse: Array) -> Array:
    """Return what the last pass writes finely, mil: marks, less pits where the ground grabs the coat, and pinholes."""
    if hand.layer.pits <= 0:
        return hand.written
    _, pull, written = hand.lines, hand.pull, hand.written  # in this order a large wall needs the least room
    rough = fields.resample(np.abs(coarse - ndimage.uniform_filter(coarse, 5)), hand.plan, hand.slow)
    rough = np.clip(ndimage.uniform_filter(rough, 13), 0.15, 1.2)
    depth = hand.spread(12.0 * hand.pit_zones * rough)
    return strips.each(_pitted, written, pull, depth, hand.grit, hand.pinholes)


def _edge(ppi: float, on: NDArray[np.bool_], distance: Array, lifts: Array) -> Array:
    """Return the edge profile: steep where torn, drawn out where feathered."""
    width = np.float32(0.012) + np.float32(0.8) * (np.float32(1.0) - lifts) ** 2
    return blade.softened(on, distance, width, ppi)


def _pitted(written: Array, pull: Array, depth: Array, grit: Array, holes: Array) -> Array:
    """Return marks, mil, less pits with a sharp rim, deeper within, and less pinholes."""
    open_ = np.maximum(pull + np.float32(0.22) * grit - np.float32(1.4), np.float32(0.0))
    bowl = np.minimum(np.float32(3.0) * open_, np.float32(0.3)) + np.float32(0.7) * np.minimum(open_, np.float32(1.4))
    return written - (depth * bowl * np.clip(np.float32(1.0) + np.float32(0.3) * grit, 0.2, 2.0) + holes)


def _lip(piled: Array, distance: Array, lifts: Array) -> Array:
    """Return what piles up along torn edges, mil: crisp in places, broken or buried in others; and thinner rims."""
    inside = np.maximum(distance, 0.0)
    x = inside / (np.float32(0.025) + np.float32(0.0025) * piled)  # the higher, the broader
    return x / (1.0 + x * x) * lifts * lifts * piled - np.float32(9.0) / (np.float32(1.0) + np.float32(3.3) * inside)
