"""Patina: a metal paint turns under an activator, from seeds where it stays wet, drawn down where it ran.

What a finisher sees: a stain that begins as pinpricks, joins into patches with feathered upright edges, is thick and
dark at its heart and a bright veil at its rim, and leaves trails below where the activator ran.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field
from scipy import ndimage, signal

from render import fields
from render.fields import Array
from render.layers.base import Coat, Length, Share, scaled
from render.seeds import Streams
from render.voids import beneath
from render.wall import Wall


class Patina(Coat):
    """The oxide that grows on a metal coat; its material is the activator, with the colour that the metal turns."""

    kind: Literal["patina"] = "patina"
    coverage: Annotated[Share, Field(description="Share of the wall that turns.")] = "60 %"  # type: ignore[assignment]
    method: Annotated[
        Literal["sprayed", "brushed", "sponged"],
        Field(description="How the activator is put on: it turns in drifts, in level bands, or in dabs."),
    ] = "sprayed"
    patch: Annotated[Length, Field(description="Size of the larger patches.")] = "7 in"  # type: ignore[assignment]
    runs: Annotated[Share, Field(description="How strongly it is drawn down by running wet.")] = "40 %"  # type: ignore[assignment]
    depth: Annotated[Share, Field(description="How much thicker hearts are than rims.")] = "60 %"  # type: ignore[assignment]
    follow: Annotated[Share, Field(description="How strongly it grows where the last patina did.")] = "30 %"  # type: ignore[assignment]

    title: ClassVar[str] = "patina grown with an activator"
    tools: ClassVar[tuple[str, ...]] = ("pump sprayer", "block brush", "drop cloths")
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)

    def words(self) -> str:
        """Return the layer's line."""
        return f"{self.material.name}, {self.method}, left to turn"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Grow the oxide; coverage and mean film are met exactly."""
        place = self._placement(wall, streams)
        on = fields.cover(place, self.coverage)
        deep = np.maximum(place - np.float32(fields.threshold(place, self.coverage)), 0.0)
        heart = np.expm1(np.float32(0.4 + 1.8 * self.depth) * np.minimum(deep, 2.2))
        crust = fields.fbm(wall.grid, 0.11, streams.key("crust"), 3, 0.75)
        worn = fields.fbm(wall.grid, (1.9, 1.1), streams.key("worn"), 5, 0.62)  # thick and thin within a patch
        crust = np.exp(np.float32(0.42) * crust + np.float32(0.55) * worn)
        film = np.where(on, (heart + np.float32(0.035)) * crust, 0.0).astype(np.float32)
        film = scaled(film, self.mean_mil(wall))
        tone = 1.0 + 0.075 * fields.fbm(wall.grid, 0.5, streams.key("shade"), 5, 0.7)
        tone -= 0.10 * np.clip(deep - 0.7, 0.0, 1.2)
        clear = np.clip(1.0 - film / np.float32(0.5 * self.material.hides), 0.0, 1.0)
        return wall.add(
            self.stratum(film),
            tone=np.where(on, 1.0 + (np.maximum(tone, 0.4) - 1.0) * (1.0 - clear), wall.tone).astype(np.float32),
            sheen=(wall.sheen * np.where(on, clear, 1.0)).astype(np.float32),
        )

    def _placement(self, wall: Wall, streams: Streams) -> Array:
        """Return where it turns first, about unit variance: drifts, hollows, trails, feathers and pinpricks."""
        grid, key = wall.grid, streams.key
        slow = fields.resample(self._drifts(wall, streams), grid.plan, grid)
        feather = fields.fbm(grid, (0.62, 0.15), key("feather"), 4, 0.66)
        fine = fields.fbm(grid, (0.13, 0.07), key("fine"), 2, 0.8)
        spots = np.maximum(fields.lattice(grid, (0.24, 0.17), key("spots")) - 1.1, 0.0)
        place = slow + np.float32(0.5) * feather + np.float32(0.2) * fine + np.float32(0.9) * spots
        return np.asarray(place - 0.05 * np.clip(self._proud(wall), -6.0, 6.0), np.float32)

    def _drifts(self, wall: Wall, streams: Streams) -> Array:
        """Return the slow part on the plan grid."""
        plan, key, size = wall.grid.plan, streams.key, max(self.patch, 0.5)
        if self.method == "brushed":
            base = 0.62 * fields.fbm(plan, (0.45 * size, 2.6 * size), key("bands"), 4, 0.6)
            base += 0.55 * fields.fbm(plan, size, key("drift"), 4, 0.55)
        elif self.method == "sponged":
            base = 0.85 * fields.fbm(plan, 0.5 * size, key("dabs"), 4, 0.65)
            base += 0.35 * fields.fbm(plan, 2.0 * size, key("drift"), 2, 0.5)
        else:
            base = 0.9 * fields.fbm(plan, size, key("drift"), 5, 0.58)
        base = base + np.float32(0.4) * fields.drift(plan, max(3.5 * size, 4.0), streams.rng("reach"))
        base = base + np.float32(1.1 * self.runs) * self._trails(plan, base, streams)
        return np.asarray(base + np.float32(self.follow) * beneath(wall), np.float32)

    def _trails(self, plan: fields.Grid, source: Array, streams: Streams) -> Array:
        """Return trails below where it is heavy: lanes that start at sources and fade downwards."""
        if self.runs <= 0:
            return np.zeros((1, 1), np.float32)
        lanes = fields.fbm(plan, (9.0, 0.34), streams.key("lanes"), 3, 0.7)
        seeded = np.maximum(source - 0.9, 0.0) * np.exp(0.9 * lanes)
        keep = float(np.exp(-1.0 / (7.0 * plan.ppi)))
        trail = signal.lfilter([1.0 - keep], [1.0, -keep], seeded, axis=0)
        trail = np.log1p(np.maximum(trail, 0.0) * 14.0) * (0.7 + 0.3 * np.tanh(lanes))
        return np.asarray(trail - 0.5, np.float32)

    def _proud(self, wall: Wall) -> Array:
        """Return how far a place stands above its half inch, mil: wet stays in the hollows."""
        plan = wall.grid.plan
        low = ndimage.uniform_filter(fields.resample(wall.height, wall.grid, plan), 7, mode="nearest")
        return wall.height - fields.resample(low, plan, wall.grid)
