"""Spatter: colour flicked off a brush. Fine mist mostly, some drops, a few large ones with tails, each with its drying ring."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from render import fields, flow
from render.fields import Array, Grid
from render.layers.base import Length, Share, Wash
from render.physics import wetting
from render.seeds import Streams
from render.wall import Wall


class Spatter(Wash):
    """Drops of a wet colour; ``coverage`` is the share of the wall under drops, ``largest`` the radius of the largest."""

    kind: Literal["spatter"] = "spatter"
    coverage: Share = "1.5 %"  # type: ignore[assignment]
    spread_at: Share | None = "100 %"  # type: ignore[assignment]
    largest: Length = "0.16 in"  # type: ignore[assignment]

    title: ClassVar[str] = "spattered"
    tools: ClassVar[tuple[str, ...]] = ("spatter brush",)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the drops on it, set where they are dry at their edges."""
        drops = _throw(wall.grid, self, streams)
        film = flow.share_out(_lie(wall.grid, drops, streams.key("edge")), self.mean_mil(wall))
        return wall.add(self.stratum(film, film * (0.2 + 0.5 * wall.thirst)))


def _throw(grid: Grid, layer: Spatter, streams: Streams) -> flow.Drops:
    """Drops until the coverage is met: sizes log-normal with a long tail, thrown in clusters."""
    key = streams.key("drops")
    # mean drop area is about pi (.027 in)^2; three times as many as coverage needs are offered
    points = fields.scatter(grid, max(3.0 * layer.coverage / 0.0032, 0.05), key, margin_in=0.5)
    size = np.exp(-4.25 + 0.62 * points.normal(1)) + 0.05 * (points.unit(2) < 0.03) * np.exp(0.6 * points.normal(3))
    size = np.clip(size, 0.006, layer.largest)
    zone = fields.drift(grid.at(1.0), 9.0, streams.rng("zones"))
    turn = points.unit(4) + 0.3 * fields.gather(zone, points.row_in, points.col_in)
    tall = np.where(size > 0.045, 3.5 * points.unit(5) ** 3, 0.15 * points.unit(5))
    drops = flow.Drops(points.row_in, points.col_in, size, tall)
    return drops.where(turn <= flow.until(grid.at(25.0), drops, turn, layer.coverage))


def _lie(grid: Grid, drops: flow.Drops, key: int) -> Array:
    """Film of the drops: larger ones lie thicker; pigment stands at the edge as far as a drop dried pinned."""
    reach = 1.0 + 0.6 / grid.ppi / 0.02
    at = flow.patches(grid, drops, flow.outlines(len(drops), key, 0.14, 0.08), reach)
    inside = np.linspace(0.0, 1.0, 64)
    share = wetting.inside_share(inside, 0.35)
    dense = np.diff(share) / np.diff(inside**2)
    ring = np.interp(at.rho, 0.5 * (inside[1:] + inside[:-1]), dense)
    ring = 0.6 * ring + 2.2 * wetting.ring_share(0.35) * np.exp(-(((at.rho - 0.9) / 0.1) ** 2))
    soft = drops.radius[at.drop] * grid.ppi
    cover = np.clip((1.0 - at.rho) * soft + 0.5, 0.0, 1.0) * np.minimum(1.0, (2 * soft) ** 2 / 1.3)
    thick = (drops.radius[at.drop] / 0.02) ** 0.5
    film = np.bincount(at.pixel, cover * ring * thick, minlength=grid.rows * grid.cols)
    return film.astype(np.float32).reshape(grid.shape)
