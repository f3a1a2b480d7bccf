"""Plaster laid with hawk and trowel: full, skipped, torn or tapped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, strokes
from render.fields import Array, Grid
from render.layers.base import Angle, Coat, Length, Mils, Share, scaled
from render.seeds import Streams
from render.strokes import Habit, Strokes
from render.wall import Wall

_FIRST_SHARE = 0.62  # of a skipped coat's ground is met by the first pass, with two fifths of the material


@dataclass(frozen=True, eq=False)
class _Place:
    """Where a pass lies: mask, inches inside its edge, and how far the blade lifts there (-1 lands .. 1 lifts)."""

    mask: NDArray[np.bool_]
    distance: Array
    lifts: Array


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
        sweep = strokes.lay(wall.grid.plan, self._habit(), streams.key("sweeps"))
        places = self._places(wall, sweep, streams)
        film = np.zeros(wall.grid.shape, np.float32)
        shares = [1.0] if len(places) == 1 else [0.4, 0.6]
        for number, (place, share) in enumerate(zip(places, shares, strict=True)):
            relief = sweep if number == len(places) - 1 else None
            film = film + self._pass(wall, film, place, relief, share * mean, streams, number)
        mask = places[0].mask if len(places) == 1 else places[0].mask | places[1].mask
        film = np.where(mask, np.maximum(film, np.float32(1e-3 * mean)), np.float32(0.0))
        film = scaled(film, mean)
        return wall.add(self.stratum(film), **self._surface(wall, film, mask, places[-1], sweep, streams))

    def _habit(self) -> Habit:
        wide, long = max(self.blade, 1.0) * 0.85, max(self.stroke, 1.0)
        return Habit(wide, long, self.direction, self.scatter, max(0.8, 0.5 * (wide * long) ** 0.5), 15.0, 30.0)

    # --- where ------------------------------------------------------------------------------------------------------

    def _places(self, wall: Wall, sweep: Strokes, streams: Streams) -> list[_Place]:
        """Return where each pass lies; together they cover what is asked, to the pixel."""
        if self.coverage >= 1.0:
            mask = np.ones(wall.grid.shape, bool)
            far = np.full((1, 1), 9.0, np.float32)
            return [_Place(mask, np.broadcast_to(far, mask.shape), np.broadcast_to(np.float32(0), mask.shape))]
        slow = self._slow(wall, sweep, streams)
        if self.style != "skip":
            return [self._place(wall.grid, self._ragged(wall.grid, slow, streams, 0), slow, sweep, self.coverage)]
        first = self._ragged(wall.grid, slow, streams, 0)
        one = self._place(wall.grid, first, slow, sweep, _FIRST_SHARE * self.coverage)
        other = 0.75 * slow + 0.6 * fields.fbm(wall.grid.plan, self.void, streams.key("second"), 3, 0.5)
        second = self._ragged(wall.grid, other.astype(np.float32), streams, 1)
        left = round(self.coverage * one.mask.size) - int(np.count_nonzero(one.mask))
        free = np.where(one.mask, np.float32(-1e9), second)
        added = fields.cover(free, left / one.mask.size)
        level = np.float32(fields.threshold(free, left / one.mask.size))
        mask = added | (one.mask & (second >= level))
        return [one, self._placed(wall.grid, mask, second, float(level), other, sweep)]

    def _slow(self, wall: Wall, sweep: Strokes, streams: Streams) -> Array:
        """Return the placement on the plan grid: voids at two sizes, drawn along the sweeps, following those below."""
        plan = wall.grid.plan
        big = fields.fbm(plan, max(self.void, 0.3), streams.key("big"), 4, 0.5)
        small = fields.fbm(plan, max(0.24 * self.void, 0.1), streams.key("small"), 2)
        small = 0.55 * small + 0.8 * fields.lattice(plan, 1.4 * max(self.void, 0.3), streams.key("zones"))
        drag = strokes.grain(sweep, plan, 3.0, max(0.3 * self.void, 0.15), streams.key("drag"), 3)
        big = big + 0.4 * drag + 0.35 * (sweep.supply - 0.5)
        small = small + 0.5 * drag + 0.4
        return np.asarray(np.minimum(big, small + 0.5) + np.float32(self.follow) * _below(wall), np.float32)

    def _ragged(self, grid: Grid, slow: Array, streams: Streams, number: int) -> Array:
        """Return the placement at output size, with the ragged fine edge that aggregate tears."""
        key = streams.key("ragged", number)
        fine = 0.16 * fields.lattice(grid, 0.2, key) + 0.11 * fields.lattice(grid, 0.085, key + 1)
        fine += 0.06 * fields.lattice(grid, 0.042, key + 2)
        return fields.resample(slow, grid.plan, grid) + fine

    def _place(self, grid: Grid, field: Array, slow: Array, sweep: Strokes, share: float) -> _Place:
        level = fields.threshold(field, share)
        return self._placed(grid, fields.cover(field, share), field, level, slow, sweep)

    def _placed(
        self, grid: Grid, mask: NDArray[np.bool_], field: Array, level: float, slow: Array, sweep: Strokes
    ) -> _Place:
        """Return a place with its distances and with the side of the stroke on which each edge lies."""
        down, right = np.gradient(slow)
        steep = np.sqrt(down * down + right * right) + 1e-4
        lifts = -(down * sweep.down + right * sweep.right) / steep
        return _Place(mask, fields.edge_distance(field, level, grid.ppi), fields.resample(lifts, sweep.grid, grid))

    # --- how thick --------------------------------------------------------------------------------------------------

    def _pass(
        self,
        wall: Wall,
        before: Array,
        place: _Place,
        sweep: Strokes | None,
        mean: float,
        streams: Streams,
        number: int,
    ) -> Array:
        """Return the film of one pass over the wall and what an earlier pass left."""
        grid, plan = wall.grid, wall.grid.plan
        thick = mean / max(float(np.mean(place.mask)), 1e-6)
        scale = min(1.0, thick / 12.0)  # a thin coat has low ridges
        surface = wall.height + before
        coarse = fields.resample(surface, grid, plan)
        rides = blade.ride(coarse, plan.ppi, 1.4, 1.6, 0.75) if sweep else blade.ride(coarse, plan.ppi, 0.8, 1.2, 0.7)
        rides = rides + np.float32(scale) * self._relief(plan, sweep, streams, number)
        gap = fields.resample(rides.astype(np.float32), plan, grid) - surface
        if sweep is not None:
            gap += np.float32(0.3 * self.ridge * scale) * strokes.grain(
                sweep, grid, 18.0, 0.22, streams.key("drag lines"), 3
            )
            gap -= np.float32(scale) * self._pits(grid, streams)
        gap += np.float32(0.35 * scale) * fields.fbm(grid, 0.12, streams.key("tooth", number), 2, 0.7)
        edge, lip = self._edge(grid, place, streams, scale)
        return edge * blade.fill(gap, edge, mean, self.skim * scale, 2.0 * scale + 0.05) + lip

    def _relief(self, plan: Grid, sweep: Strokes | None, streams: Streams, number: int) -> Array:
        """Return what the hand writes into the surface, mil on the plan grid."""
        rolling = 0.55 * fields.fbm(plan, 2.6, streams.key("hand", number), 4, 0.55)
        if sweep is None:
            return np.float32(self.ridge) * rolling
        grab = strokes.grain(sweep, plan, 2.6, 0.9, streams.key("grab"), 4)
        relief = 0.8 * sweep.lift + 1.3 * sweep.bead + 0.45 * grab + rolling
        if self.style == "tapped":
            relief = relief * 0.5 + 1.2 * self._stipple(plan, streams)
        return np.asarray(np.float32(self.ridge) * relief, np.float32)

    def _stipple(self, plan: Grid, streams: Streams) -> Array:
        """Return the peaks that suction pulls up under a tapped trowel: sharp tips, in zones."""
        tips = fields.lattice(plan, 0.34, streams.key("tips")) + 0.6 * fields.lattice(
            plan, 0.19, streams.key("tips", 2)
        )
        return np.maximum(tips, 0.0) ** 1.6 * (0.4 + 0.6 * blade.zone(plan, 4.0, 0.6, streams.key("tapped")))

    def _pits(self, grid: Grid, streams: Streams) -> Array:
        """Return pinholes and drag pits as a depth in mil, crowded in zones."""
        if self.pits <= 0:
            return np.zeros((1, 1), np.float32)
        zone = blade.zone(grid.plan, 5.0, self.pits, streams.key("pit zones"))
        points = fields.scatter(grid, 6.0, streams.key("pinholes"), 12.0, 0.1)
        at = fields.gather(zone, points.row_in * grid.plan.ppi - 0.5, points.col_in * grid.plan.ppi - 0.5)
        size = 0.03 * np.exp(0.45 * points.normal(2))
        keep = np.where(points.unit(1) < at**2 + 0.02, 1.0, 0.0)
        return blade.splat(grid, points, keep * size**2 * 9.0, 0.03)

    def _edge(self, grid: Grid, place: _Place, streams: Streams, scale: float) -> tuple[Array, Array]:
        """Return the edge profile and the lip: torn and beaded where the blade lifts, feathered where it lands."""
        if self.coverage >= 1.0:
            return np.ones(grid.shape, np.float32), np.zeros((1, 1), np.float32)
        width = np.clip(0.045 - 0.05 * place.lifts, 0.012, 0.12) if self.style != "torn" else np.float32(0.02)
        edge = blade.softened(place.mask, place.distance, width, grid.ppi)
        knob = np.clip(1.0 + 0.8 * fields.lattice(grid, 0.16, streams.key("knobs")), 0.0, 3.0)
        near = np.clip(1.0 - np.abs(place.distance - 0.05) / 0.07, 0.0, 1.0)
        lip = np.clip(0.35 + 0.75 * place.lifts, 0.0, 1.2) * near * near * knob * np.float32(self.lip * scale)
        return edge, lip * edge

    # --- what the surface becomes -----------------------------------------------------------------------------------

    def _surface(
        self, wall: Wall, film: Array, mask: NDArray[np.bool_], place: _Place, sweep: Strokes, streams: Streams
    ) -> dict[str, Array]:
        """Return tone, sheen and looseness after the coat."""
        tone = blade.drying(wall.grid, streams.key("drying"), sweep.lift * 0.6, 0.03)
        rim = np.clip(1.0 - place.distance / 0.3, 0.0, 1.0) * np.clip(0.5 + 0.6 * place.lifts, 0.0, 1.0)
        loose = np.where(mask, rim * (0.9 if self.style == "torn" else 0.6), np.float32(0.0))
        return {
            "tone": np.where(mask, tone, wall.tone).astype(np.float32),
            "loose": np.where(mask, loose, wall.loose).astype(np.float32),
        }


def _below(wall: Wall) -> Array:
    """Return, on the plan grid, where the coat beneath lies (+1) and where it is void (-1), blurred."""
    if not wall.coats:
        return np.zeros(wall.grid.plan.shape, np.float32)
    lies = (wall.coats[-1].film > 0).astype(np.float32)
    share = fields.resample(lies, wall.grid, wall.grid.plan)
    from scipy import ndimage

    blurred = ndimage.uniform_filter(ndimage.uniform_filter(share, 5, mode="nearest"), 5, mode="nearest")
    return np.asarray(2.0 * blurred - 1.0, np.float32)
