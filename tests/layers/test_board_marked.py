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
    off = (at - at[0]) / 6.0  # where the first seam lies is chance, and boards are sawn true to 4 % of their width
    assert np.all(np.abs(off - np.rint(off)) * 6.0 < 0.05 + 2.0 * 0.022 * 6.0 + 0.05)


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


def test_holes_below_a_pixel_hold_their_volume() -> None:
    """Holes too small to show take as much, of the same wall at 10 px/in, as they do drawn at 80, within a tenth."""
    pinholes = {**PLAIN, "holes": "0.4 %", "hole": "0.12 in"}
    coarse, fine = (film(Site(16.0, 16.0, ppi, 5), **pinholes) for ppi in (10.0, 80.0))
    lost = [float(np.quantile(one, 0.999) - one.mean()) for one in (coarse, fine)]
    assert lost[0] == pytest.approx(lost[1], rel=0.1)


def test_one_hole_holds_its_volume() -> None:
    """A hole of radius r is a bowl of closed volume."""
    grid = Grid.over(1.0, 1.0, 80.0)
    depth = np.zeros(grid.shape, np.float32)
    board_marked._bowl(depth, grid, (0.5, 0.5), 0.06, (0.0, 0.0))
    # integral of 620 r sqrt(1.15 - (x/r)^2) over the disc = 2/3 pi 620 r^3 (1.15^1.5 - .15^1.5)
    exact = 2.0 / 3.0 * np.pi * 620.0 * 0.06**3 * (1.15**1.5 - 0.15**1.5)
    assert float(depth.sum()) / 80.0**2 == pytest.approx(exact, rel=0.1)
    assert exact == pytest.approx(board_marked._BOWL * 0.06**3, rel=1e-9)


def test_mean_area_of_a_power_law() -> None:
    """A hundred thousand holes drawn as the layer draws them have the mean area of the closed form, to 1 %."""
    a, least = board_marked._STEEP, 0.03
    unit = (np.arange(100_000) + 0.5) / 100_000
    size = least * (1.0 - unit * (1.0 - 0.1**a)) ** (-1.0 / a)
    assert size.max() < 0.3 and size.min() >= least
    assert board_marked._mean_area(least, 0.3) == pytest.approx(float(np.mean(np.pi / 4.0 * size**2)), rel=0.01)


def test_few_holes_are_large() -> None:
    """Of holes twice as wide there are a third or fewer."""
    from scipy import ndimage

    got = film(Site(48.0, 48.0, 40.0, 5), **{**PLAIN, "holes": "0.7 %"})
    marks, _ = ndimage.label(got < np.median(got) - 12.0)
    wide = 2.0 * np.sqrt(np.bincount(marks.ravel())[1:] / np.pi) / 40.0
    counts = [int(np.count_nonzero(wide > inches)) for inches in (0.08, 0.16, 0.32)]
    assert counts[0] > 3 * counts[1] > 0 and counts[1] > 3 * counts[2]


def test_boards_are_cut_where_asked() -> None:
    """A place lies between its cuts: worked by hand for cuts at 0.1, 0.9 and 2.0."""
    cuts = np.array([[-1.0, 0.1, 0.9, 2.0, 3.0]])
    place = np.array([0.05, 0.5, 0.95, 1.9, 2.5], np.float32)
    board, before, behind = board_marked._within(place, cuts, -1)
    assert board.tolist() == [-1, 0, 1, 1, 2]
    assert before == pytest.approx([1.05, 0.4, 0.05, 1.0, 0.5], abs=1e-6)
    assert behind == pytest.approx([0.05, 0.4, 1.05, 0.1, 0.5], abs=1e-6)


def test_boards_differ_in_grain() -> None:
    """The boldest board's grain is at least three times as deep as the faintest's."""
    got = film(Site(60.0, 60.0, 20.0, 5), **{**PLAIN, "grain": "8 mil", "length": "30 in"})
    rough = [got[r : r + 60, c : c + 60].std() for r in range(0, 1140, 60) for c in range(0, 1140, 60)]
    assert np.quantile(rough, 0.95) > 3.0 * np.quantile(rough, 0.05)


def test_grain_runs_along_the_boards() -> None:
    """The grain is alike along a board and not across it, at an inch."""
    z = film(**{**PLAIN, "grain": "8 mil"})
    z = z - z.mean()
    lag = round(SITE.ppi)
    along, across = float(np.mean(z[:, lag:] * z[:, :-lag])), float(np.mean(z[lag:] * z[:-lag]))
    assert along > 0.3 * float(z.var()) > across
