"""A slab with the marks of its boards."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from render.fields import Grid
from render.finish import read
from render.layers import board_marked
from render.pipeline import Site, build

SITE = Site(24.0, 20.0, 20.0, 5)
PLAIN = {"levels": "0 mil", "grain": "0 mil", "fins": "0 mil", "holes": "0 %", "shade": "0 %"}


def film(site: Site = SITE, **more: Any) -> np.ndarray:
    """The film of a slab on a flat wall, mil."""
    slab = {"kind": "board_marked", "name": "slab", "material": "casting slurry", "spread": "14 ft2/gal", **more}
    return build(read({"name": "t", "layer": [slab]}), site).wall.stratum("slab").film


def test_without_marks_it_is_an_even_slab() -> None:
    """A form without boards gives the mean film everywhere: 1604.17 / 14 = 114.6 mil."""
    assert film(**PLAIN) == pytest.approx(1604.1667 / 14.0, rel=1e-5)


def test_boards_step_at_their_seams() -> None:
    """With levels alone, rows change most across the seams of 6 in boards, and hardly within a board."""
    step = np.abs(np.diff(film(**{**PLAIN, "levels": "20 mil"}).mean(1)))
    at = (np.flatnonzero(step > 0.5 * step.max()) + 1) / SITE.ppi
    assert at.size >= 1
    off = (at - at[0]) / 6.0  # where the first seam lies is chance
    assert np.all(np.abs(off - np.rint(off)) * 6.0 < 0.15)


def test_seams_lie_elsewhere_in_another_pour() -> None:
    """The first seam below the top lies at another height in each of five pours, within a board's width."""
    first = []
    for pour in range(1, 6):
        step = np.abs(np.diff(film(Site(24.0, 6.0, 20.0, pour), **{**PLAIN, "levels": "20 mil"}).mean(1)))
        first.append((int(np.argmax(step[:120])) + 1) / 20.0)
    assert max(first) <= 6.1
    assert len({round(one, 1) for one in first}) >= 4


def test_upright_boards_are_level_boards_turned() -> None:
    """Upright boards vary across the wall as level ones vary down it."""
    level, upright = film(**{**PLAIN, "levels": "20 mil"}), film(**{**PLAIN, "levels": "20 mil", "boards": "upright"})
    assert level.mean(1).std() > 3 * level.mean(0).std()
    assert upright.mean(0).std() > 3 * upright.mean(1).std()


def test_air_holes_take_about_the_share_asked() -> None:
    """Asked for 1 % of holes, between a third and three times that is deeper than 10 mil, and none goes through."""
    wide = Site(48.0, 48.0, 20.0, 5)
    got = film(wide, **{**PLAIN, "holes": "1 %"})
    assert 0.0033 < float(np.mean(got < np.median(got) - 10.0)) < 0.03
    assert float(got.min()) > 0


def test_one_hole_holds_its_volume() -> None:
    """A hole of radius r is a bowl of closed volume, and a picture too coarse to show it still holds about that."""
    volumes = []
    for ppi in (10.0, 80.0):
        grid = Grid.over(1.0, 1.0, ppi)
        depth = np.zeros(grid.shape, np.float32)
        board_marked._bowl(depth, grid, (0.5, 0.5), 0.06, (0.0, 0.0))
        volumes.append(float(depth.sum()) / ppi**2)
    # integral of 1000 r sqrt(1.15 - (x/r)^2) over the disc = 2/3 pi 1000 r^3 (1.15^1.5 - .15^1.5)
    exact = 2.0 / 3.0 * np.pi * 1000.0 * 0.06**3 * (1.15**1.5 - 0.15**1.5)
    assert volumes[1] == pytest.approx(exact, rel=0.1)
    assert volumes[0] == pytest.approx(exact, rel=1e-5)


def test_grain_runs_along_the_boards() -> None:
    """The grain is alike along a board and not across it, at an inch."""
    z = film(**{**PLAIN, "grain": "8 mil"})
    z = z - z.mean()
    lag = round(SITE.ppi)
    along, across = float(np.mean(z[:, lag:] * z[:, :-lag])), float(np.mean(z[lag:] * z[:-lag]))
    assert along > 0.3 * float(z.var()) > across
