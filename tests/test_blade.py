"""What a blade does to plaster: riding, filling, edges, grains and pits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render import blade, fields, seeds
from render.fields import Grid, Points
from render.wall import Stratum, Wall


def test_blade_rides_level_on_a_flat_wall() -> None:
    """A flat wall is its own envelope."""
    flat = np.full((40, 50), 7.0, np.float32)
    np.testing.assert_allclose(blade.ride(flat, 12.5, 0.8, 1.2, 0.7), flat, atol=1e-4)


@given(st.integers(1, 40), st.integers(1, 40), st.integers(0, 12), st.integers(0, 99))
def test_highest_within_a_span(rows: int, cols: int, reach: int, key: int) -> None:
    """The highest of so many pixels down about each is what a maximum filter finds."""
    height = np.random.default_rng(key).random((rows, cols), np.float32)
    wanted = ndimage.maximum_filter1d(height, 2 * reach + 1, axis=0, mode="nearest")
    np.testing.assert_array_equal(blade._highest(height, 2 * reach + 1), wanted)


def test_blade_bridges_a_groove() -> None:
    """Stiff, it rides within a tenth of the way over a narrow groove; limp, it follows the mean down."""
    wall = np.zeros((60, 60), np.float32)
    wall[:, 29:31] = -10.0
    stiff, limp = (blade.ride(wall, 12.5, 0.8, 0.8, s)[30, 30] for s in (1.0, 0.0))
    assert -1.0 < stiff <= 0.01
    assert limp < -1.0


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 80.0), st.floats(0.0, 4.0), st.floats(0.05, 3.0), st.integers(0, 100))
def test_fill_meets_the_mean(mean: float, least: float, rounding: float, key: int) -> None:
    """The level sought on a sample brings the mean within two percent, and nothing below the least film."""
    gap = 4.0 * fields.fbm(Grid.over(8, 8, 12.5), 0.8, key)
    weight = np.clip(fields.lattice(Grid.over(8, 8, 12.5), 1.0, key + 9) + 0.8, 0.0, 1.0)
    film = blade.fill(gap, weight, mean, least, rounding)
    assert np.mean(film * weight) == pytest.approx(mean, rel=0.02)
    assert film.min() >= min(least, 0.5 * mean / float(np.mean(weight))) * 0.99


def test_fill_levels() -> None:
    """Given plenty, the top of the film is the blade's surface: film plus ground varies no more."""
    ground = 2.0 * fields.lattice(Grid.over(6, 6, 12.5), 0.5, 3)
    film = blade.fill(-ground, np.ones_like(ground), 40.0, 0.5, 0.5)
    assert np.std(film + ground) < 0.01


def test_scraped_thin_only_fills_hollows() -> None:
    """Given little, the film lies in the hollows, and high spots keep the least film."""
    ground = 3.0 * fields.lattice(Grid.over(6, 6, 12.5), 0.5, 3)
    film = blade.fill(-ground, np.ones_like(ground), 1.0, 0.1, 0.2)
    assert film[ground > 2.0].max() < 0.2
    assert film[ground < -4.0].min() > 1.0


def test_soft_ramp() -> None:
    """It is x well above zero, nothing well below, and half the rounding at zero."""
    x = np.array([-50.0, 0.0, 50.0], np.float32)
    np.testing.assert_allclose(blade.soft_ramp(x, 2.0), [0.02, 1.0, 50.02], atol=2e-3)


def test_softened_edge() -> None:
    """Off the mask nothing; on it at least a little, all of it once inside by the width."""
    distance = np.linspace(-0.3, 0.7, 51, dtype=np.float32)[None, :]
    edge = blade.softened(distance >= 0, distance, 0.2, 25.0)
    assert not edge[distance < 0].any()
    assert edge[distance >= 0].min() > 0
    np.testing.assert_allclose(edge[distance > 0.23], 1.0)
    assert np.all(np.diff(edge[0]) >= 0)


@settings(max_examples=20, deadline=None)
@given(st.floats(0.5, 5.5), st.floats(0.5, 5.5), st.floats(5.0, 60.0))
def test_splat_keeps_volume(row: float, col: float, ppi: float) -> None:
    """A point's volume lies wholly on the wall: mean times area, in² mil."""
    grid = Grid.over(6, 6, ppi)
    point = Points(np.array([row]), np.array([col]), np.array([1], np.uint64))
    got = blade.splat(grid, point, np.array([2.5]), 0.02)
    assert got.mean(dtype=np.float64) * grid.rows * grid.cols / ppi**2 == pytest.approx(2.5, rel=1e-5)
    centre = (got.sum(1) @ grid.row_in / got.sum(), got.sum(0) @ grid.col_in / got.sum())
    assert centre == pytest.approx((row, col), abs=0.75 / ppi)


def test_grain_within_a_pixel_stays_in_it() -> None:
    """A grain smaller than the pixel in whose middle it lies is seen in no other."""
    got = blade.splat(Grid.over(1, 1, 10), Points(np.array([0.55]), np.array([0.35]), np.array([1], np.uint64)),
                      np.array([2.0]), 0.02)  # fmt: skip
    assert got[5, 3] == pytest.approx(200.0)
    assert np.count_nonzero(got) == 1


def test_sand_is_graded_and_half_sunk() -> None:
    """Grains stand out by very different heights: the tallest tenth of summits is several times the median."""
    field = blade.specks(Grid.over(6, 6, 50), blade.Sand(0.016, 0.55, (0.006, 0.048)), 1.0, 60.0, 4)
    summit = field[(field == ndimage.maximum_filter(field, 5)) & (field > 1.2 * np.median(field))]
    assert np.quantile(summit, 0.95) > 3.0 * np.median(summit)


def test_grains_are_crushed_close_up() -> None:
    """Broken faces take here and add there, a good part of a grain's height, and together nothing; none is dug out."""
    even, rough = np.ones((600, 600), np.float32), fields.lattice(Grid.over(6, 6, 100), 0.03, 5)
    broken = blade._crushed(even, rough)
    assert float(broken.mean()) == pytest.approx(1.0, abs=0.02)
    assert 0.3 < float(broken.std()) < 0.7
    assert broken.min() >= 0.0


def test_a_large_grain_is_broken_stone() -> None:
    """Close up no grain is like another or like itself turned, its highest flat is no point, and all keep their volume.

    A pyramid on a square, as two boxes give, is itself turned by a quarter; its top is one pixel.
    """
    number = 200
    place = (np.arange(number) + 0.5) * 0.2
    points = Points(np.full(number, 0.1), place, seeds.mix64(np.arange(number, dtype=np.uint64)))
    grid = Grid.over(0.2, 0.2 * number, 200)
    field = blade._broken(grid, points, np.full(number, 0.08, np.float32), np.full(number, 0.01, np.float32))
    stones = field.reshape(40, number, 40).swapaxes(0, 1)
    np.testing.assert_allclose(stones.sum((1, 2)) / 200**2, 0.01, rtol=1e-3)
    turned = [np.corrcoef(one.ravel(), np.rot90(one).ravel())[0, 1] for one in stones]
    assert np.median(turned) < 0.96
    assert np.corrcoef(stones.reshape(number, -1)).mean() < 0.93
    height = stones.max((1, 2))
    near_top = (stones > 0.8 * height[:, None, None]).sum((1, 2))
    assert np.median(near_top) > 12
    assert np.quantile(height, 0.9) > 1.3 * np.quantile(height, 0.1)


def test_stones_off_the_wall_leave_no_mark() -> None:
    """Those that lie off the wall altogether are laid beside it."""
    far = Points(np.array([-0.1, 1.1, 0.5, 0.5]), np.array([0.5, 0.5, -0.1, 1.1]), np.arange(1, 5, dtype=np.uint64))
    got = blade._broken(Grid.over(1, 1, 100), far, np.full(4, 0.05, np.float32), np.ones(4, np.float32))
    assert not got.any()


def test_sand_is_crowded() -> None:
    """In squares half an inch wide the volume of what stands proud differs far more than Poisson's grains would."""
    sand = blade.Sand(0.016, 0.62, (0.006, 0.048))
    field = blade._single(Grid.over(24, 24, 50), sand, 120.0, 0.5, 4)
    squares = field.reshape(48, 25, 48, 25).mean((1, 3))
    assert squares.std() > 0.6 * squares.mean()


@pytest.mark.parametrize("share", [0.1, 0.35, 0.8])
def test_zone_fills_its_share(share: float) -> None:
    """Zones fill about the share asked."""
    got = blade.zone(Grid.over(60, 60, 6.25), 2.0, share, 5)
    assert float(np.mean(got > 0.5)) == pytest.approx(share, abs=0.06)
    assert got.min() >= 0
    assert got.max() <= 1


def test_drying_is_subtle() -> None:
    """The factor stays within a few percent of one."""
    tone = blade.drying(Grid.over(36, 36, 12.5), 5, None, 0.03)
    assert float(tone.mean()) == pytest.approx(1.0, abs=0.02)
    assert 0.01 < float(tone.std()) < 0.035


def test_plan_height_keeps_the_mean() -> None:
    """The plan sees the wall's mean height."""
    wall = Wall.bare(6, 6, 50.0)
    wall = wall.evolve(height=fields.lattice(wall.grid, 0.4, 3))
    assert blade.plan_height(wall).mean() == pytest.approx(wall.height.mean(), abs=1e-5)


def test_film_that_stands_off_is_pressed_down() -> None:
    """A plate 120 mil off comes down to within 12 mil, a swell as high that is solid stays, and a rough skin too."""
    wall = Wall.bare(2, 3, 25.0)
    swell = np.zeros(wall.grid.shape, np.float32)
    swell[:, 50:] = 120.0
    plate, rough = np.zeros_like(swell), np.zeros_like(swell)
    plate[:, :25], rough[:, 25:50] = 120.0, 2.5
    wall = wall.add(Stratum("base", "coat", 10.0 + swell)).add(Stratum("paint", "coat", np.full_like(swell, 5.0)))
    off = blade.pressed(wall.evolve(height=wall.height + plate + rough)).height - wall.height
    assert off[:, :25].min() > 3.0 and off[:, :25].max() < 12.0
    np.testing.assert_allclose(off[:, 25:], rough[:, 25:], atol=1e-4)
    assert blade.pressed(Wall.bare(2, 3, 25.0)).height.max() == 0.0


def test_overhanging_rims_of_cracks_go_down() -> None:
    """Where a fifth of a pixel is open crack, a rim 20 mil over its film goes down to the tooth of the film."""
    wall = Wall.bare(2, 2, 25.0).add(Stratum("paint", "coat", np.full((50, 50), 5.0, np.float32)))
    cracks = np.zeros(wall.grid.shape, np.float32)
    cracks[:, 20] = 0.2
    off = blade.pressed(wall.evolve(height=wall.height + 20.0 * (cracks > 0), cracks=cracks)).height - wall.height
    np.testing.assert_allclose(off[:, 20], blade.TOOTH, atol=0.01)
    assert not np.delete(off, 20, axis=1).any()
