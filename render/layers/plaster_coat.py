"""Plaster laid with hawk and trowel: full, skipped, torn or tapped."""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import blade, fields, strokes, voids
from render.fields import Array, Grid
from render.layers.base import Angle, Coat, Length, Mils, Share, scaled
from render.seeds import Streams
from render.strokes import Habit, Marks, Strokes
from render.voids import Edges, Place
from render.wall import Wall

_FIRST_SHARE = 0.62  # of a skipped coat's ground is met by the first pass, which is drawn out tight
_VOLUMES = (0.3, 0.7)  # of the material in the first and the second pass


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
        mean = self.mean_mil(wall)
        if self.coverage <= 0 or mean <= 0:
            return wall.add(self.stratum(np.zeros(wall.grid.shape, np.float32)))
        sweep = strokes.lay(wall.grid.plan, self._habit(), streams.key("sweeps"), streams.kept)
        places, edges = self._places(wall, sweep, streams)
        hand = _Hand(self, wall.grid, sweep, streams, edges)
        film = np.zeros(wall.grid.shape, np.float32)
        for place, share, last in zip(places, _VOLUMES[-len(places) :], (False, True)[-len(places) :], strict=True):
            part = mean * (share if len(places) > 1 else 1.0)
            film = film + hand.film(wall.height + film, place, part, last)
        mask = places[0].mask if len(places) == 1 else places[0].mask | places[1].mask
        film = np.where(mask, np.maximum(film, np.float32(1e-3 * mean)), np.float32(0.0))
        film = scaled(film, mean)
        return wall.add(self.stratum(film), **self._surface(wall, mask, places[-1], hand, streams))

    def _habit(self) -> Habit:
        wide, long = max(self.blade, 1.0) * 0.85, max(self.stroke, 1.0)
        pitch = max(0.8, 0.55 * (wide * long) ** 0.5)
        return Habit(wide, long, self.direction, self.scatter, pitch, 11.0, 30.0, min(0.12, 0.1 * wide))

    def _places(self, wall: Wall, sweep: Strokes, streams: Streams) -> tuple[list[Place], Edges | None]:
        """Return where each pass lies, and their edges; together they cover what is asked, to the pixel."""
        if self.coverage >= 1.0:
            return [Place.everywhere(wall.grid)], None
        torn = {"torn": 0.85, "full": 0.3, "skip": 0.0, "tapped": 0.4}[self.style]
        slowly = voids.slow(wall.grid.plan, sweep, self.void, streams, torn)
        slowly += np.float32(2.2 * self.follow) * voids.beneath(wall)
        if wall.slip.any():
            slowly -= np.float32(0.8) * fields.resample(wall.slip, wall.grid, wall.grid.plan)
        edges = voids.Edges(wall.grid, sweep, streams, torn)
        if self.style != "skip":
            return [edges.place(slowly, self.coverage)], edges
        first = edges.place(slowly, _FIRST_SHARE * self.coverage)
        own = fields.fbm(wall.grid.plan, 0.7 * max(self.void, 0.3), streams.key("second"), 4, 0.5)
        return [first, edges.besides(0.8 * slowly + np.float32(0.5) * own, first, self.coverage)], edges

    def _surface(
        self, wall: Wall, mask: NDArray[np.bool_], place: Place, hand: _Hand, streams: Streams
    ) -> dict[str, Array]:
        """Return tone and looseness after the coat: patches of drying, streaks of pressure, and torn rims that hang."""
        tone = blade.drying(wall.grid, streams.key("drying"), hand.sweep.lift * 0.6, 0.045)
        if hand.lines is not None:
            tone += np.float32(0.014) * hand.lines
        drinks = np.float32(self.material.absorbency) * (np.float32(1.0) + hand.suction)
        rim = np.clip(1.0 - place.distance / 0.3, 0.0, 1.0) * place.lifts
        loose = np.where(mask, rim * np.float32(0.9 if self.style == "torn" else 0.6), np.float32(0.0))
        return {"tone": np.where(mask, tone, wall.tone).astype(np.float32),
                "thirst": np.where(mask, np.clip(drinks, 0.0, 1.0), wall.thirst).astype(np.float32),
                "loose": np.where(mask, loose, wall.loose).astype(np.float32)}  # fmt: skip


class _Hand:
    """Shapes the film of each pass of one coat; what the passes share is drawn once."""

    def __init__(self, coat: PlasterCoat, grid: Grid, sweep: Strokes, streams: Streams, edges: Edges | None) -> None:
        self.coat, self.grid, self.sweep, self.streams = coat, grid, sweep, streams
        self.knobs = edges.knobs if edges else None
        self._grain = edges.fine if edges else voids.gritty(grid, streams)
        self.mood = voids.Mood.of(streams)
        self.lines: Array | None = None

    def film(self, surface: Array, place: Place, mean: float, last: bool) -> Array:
        """Return a pass's film (mil) on a surface (mil), with that mean over the wall to half a percent."""
        plan = self.grid.plan
        thick = mean / max(float(np.mean(place.mask)), 1e-6)
        scale = np.float32(min(1.0, thick / 12.0))  # a thin coat has low ridges
        coarse = fields.resample(surface, self.grid, plan)
        rides = blade.ride(coarse, plan.ppi, *((1.4, 1.6, 0.75) if last else (0.8, 1.2, 0.7)))
        rides = rides + scale * self._relief(last) + np.float32(min(thick, 40.0)) * self._broad
        gap = fields.resample(rides.astype(np.float32), plan, self.grid, smooth=True) - surface
        if last:
            gap += scale * self._written(coarse)
        edge = self._edge(place)
        gap += scale * self._lip(place)
        return edge * blade.fill(gap, edge, mean, float(self.coat.skim * scale), 2.0 * float(scale) + 0.05)

    def _relief(self, last: bool) -> Array:
        """Return what the hand writes into the surface at large, mil on the plan grid."""
        plan = self.grid.plan
        rolling = 0.55 * fields.fbm(plan, 2.6, self.streams.key("hand", int(last)), 4, 0.55)
        if last:
            rolling += 1.1 * self.sweep.lift + 0.6 * self._grab
            if self.coat.style == "tapped":
                rolling *= np.float32(0.4)  # the dabbing breaks what the blade wrote
        rolling = np.minimum(rolling, 0.7 * rolling)  # the blade rides on what stands up, and presses it
        return np.asarray(np.float32(self.coat.ridge * self.mood.deep) * rolling, np.float32)

    @cached_property
    def _broad(self) -> Array:
        """Hollows and humps that no hand levels, and what a full or an empty trowel leaves; shares of the film."""
        plan, key = self.grid.plan, self.streams.key
        uneven = 0.19 * fields.lattice(plan, 5.0, key("humps")) + 0.13 * fields.lattice(plan, 2.4, key("humps", 2))
        uneven += 0.28 * (self.sweep.supply - 0.5)
        deep = np.float32(self.mood.deep * (0.75 if self.coat.style == "full" else 1.25))
        return np.asarray(deep * np.minimum(uneven, 0.15 * uneven), np.float32)  # humps are cut

    @property
    def suction(self) -> Array:
        """How much more than the coat at large a place drinks: slow patches, each load's own, and what is scratched."""
        plan, key = self.grid.plan, self.streams.key
        patch = 0.22 * fields.fbm(plan, 3.5, key("suction"), 3, 0.6) + 0.3 * (self.sweep.unit(key("load")) - 0.5)
        suction = fields.resample(np.asarray(patch, np.float32), plan, self.grid)
        if self.lines is not None:
            suction -= np.float32(0.12) * self.lines
        return suction

    @cached_property
    def _grab(self) -> Array:
        """How the coat drags and lets go along the blade's way, unit variance on the plan grid."""
        return strokes.grain(self.sweep, self.grid.plan, Marks(0.9, 2.6, 4, chatter_in=0.42), self.streams.key("grab"))

    def _drag_pits(self, coarse: Array) -> Array:
        """Return pits, in mil, where the grain of the base grabbed the coat and the blade pulled it open."""
        if self.coat.pits <= 0:
            return np.zeros((1, 1), np.float32)
        plan = self.grid.plan
        rough = ndimage.uniform_filter(np.abs(coarse - ndimage.uniform_filter(coarse, 5)), 25)
        depth = 12.0 * blade.zone(plan, 4.0, self.coat.pits, self.streams.key("pit zones")) * np.clip(rough, 0.15, 1.2)
        pulled = Marks(0.3, 2.6, 3, tear_in=0.6)  # along the blade's way: open at once, and closing slowly
        pull = strokes.grain(self.sweep, plan, pulled, self.streams.key("pull")) + 0.4 * self._grab
        pull = fields.resample(np.asarray(pull, np.float32), plan, self.grid, smooth=True)
        depth = fields.resample(np.asarray(depth, np.float32), plan, self.grid)
        pull += np.float32(0.45) * self._grain
        pull -= np.float32(1.45)
        open_ = np.maximum(pull, np.float32(0.0), out=pull)
        bowl = np.minimum(np.float32(3.0) * open_, np.float32(0.3))  # a sharp rim, and deeper within
        bowl += np.float32(0.7) * np.minimum(open_, np.float32(1.4))
        depth *= bowl
        depth *= np.clip(np.float32(1.0) + np.float32(0.5) * self._grain, 0.2, 2.0)
        return depth

    def _written(self, coarse: Array) -> Array:
        """Return fine marks at output size, mil: drag lines, ridges beside the blade, pits, the plaster's tooth."""
        key, ridge = self.streams.key, np.float32(self.coat.ridge)
        self.lines = strokes.grain(self.sweep, self.grid, Marks(0.13, 30.0, 3, 2.6, 0.26, scratch=1.3), key("lines"))
        bead = fields.resample(self.sweep.bead, self.grid.plan, self.grid)
        written = np.float32(1.5) * ridge * bead
        written *= bead
        del bead
        written += np.float32(0.3) * ridge * self.lines
        if self.coat.style == "tapped":
            written = np.float32(0.5) * written + ridge * self._stipple()
        written += self._tooth()
        written -= self._drag_pits(coarse)
        written -= self._pinholes()
        return np.asarray(written, np.float32)

    def _tooth(self) -> Array:
        """Return the plaster's own grain, mil: open in some zones, trowelled shut in others, coarser with more sand."""
        key, plan = self.streams.key, self.grid.plan
        open_ = np.clip(0.55 + 0.4 * fields.fbm(plan, 4.0, key("open"), 3) - 0.3 * (self.sweep.supply - 0.5), 0.15, 1.4)
        open_ = fields.resample(np.asarray(open_, np.float32), plan, self.grid)
        open_ *= np.float32(0.65 + 4.0 * self.coat.material.grain)
        return open_ * self._grain

    def _stipple(self) -> Array:
        """Return the peaks that suction pulls up under a tapped trowel: sharp tips, dense in zones."""
        key, plan = self.streams.key, self.grid.plan
        tips = fields.lattice(self.grid, 0.4, key("tips")) + 0.7 * fields.lattice(self.grid, 0.21, key("tips", 2))
        tips += 0.35 * fields.lattice(self.grid, 0.1, key("tips", 3))
        dense = 0.15 + 0.85 * blade.zone(plan, 4.0, 0.65, key("tapped"))
        raised = np.maximum(tips - 0.1, 0.0)
        return raised * raised * fields.resample(np.asarray(dense, np.float32), plan, self.grid)

    def _pinholes(self) -> Array:
        """Return pinholes as a depth in mil, crowded in zones."""
        if self.coat.pits <= 0:
            return np.zeros((1, 1), np.float32)
        plan = self.grid.plan
        zone = blade.zone(plan, 5.0, self.coat.pits, self.streams.key("pinhole zones"))
        points = fields.scatter(self.grid, 5.0, self.streams.key("pinholes"), 12.0, 0.1)
        at = fields.gather(zone, points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5)
        size = 0.02 * np.exp(0.75 * points.normal(2))
        keep = np.where(points.unit(1) < 0.6 * at**2 + 0.12, 1.0, 0.0)
        return blade.splat(self.grid, points, keep * np.minimum(size, 0.12) ** 2 * 8.0, 0.03)

    def _edge(self, place: Place) -> Array:
        """Return the edge profile: steep where torn, drawn out where feathered."""
        if self.knobs is None:
            return np.ones(self.grid.shape, np.float32)
        width = np.asarray(0.012 + 0.8 * (1.0 - place.lifts) ** 2, np.float32)
        return blade.softened(place.mask, place.distance, width, self.grid.ppi)

    @cached_property
    def _piled(self) -> Array:
        """How much piles up at torn edges, at output size: knobs and a lip here, nothing there."""
        plan, knobs = self.grid.plan, self.knobs if self.knobs is not None else np.zeros((1, 1), np.float32)
        piled = np.clip(1.2 * fields.fbm(plan, 0.8, self.streams.key("piled"), 2, 0.7) - 0.2, 0.0, 1.6)
        knobs = np.clip(0.9 + 0.6 * knobs, 0.0, 2.4) * np.float32(2.0 * self.coat.lip)
        return np.asarray(knobs * fields.resample(np.asarray(piled, np.float32), plan, self.grid), np.float32)

    def _lip(self, place: Place) -> Array:
        """Return what piles up along torn edges, mil: crisp in places, broken or buried in others; and thinner rims."""
        if self.knobs is None:
            return np.zeros((1, 1), np.float32)
        x = np.maximum(place.distance, 0.0) * np.float32(1.0 / 0.06)
        near = x / (1.0 + x * x)
        near *= place.lifts
        near *= place.lifts
        near *= self._piled
        near -= np.float32(9.0) / (np.float32(1.0) + np.float32(0.2) * x)
        return near
