"""Noise, masks and scattered points."""

from __future__ import annotations

import tracemalloc

import noise
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import interpolate, signal

from render import fields, seeds, threads
from render.fields import Grid


@pytest.mark.parametrize("wavelength", [0.03, 0.2, 1.0, (0.1, 2.0)])
def test_averaging_down_equals_sampling_coarse(wavelength: float | tuple[float, float]) -> None:
    """A fine lattice averaged 2 x 2 is the coarse lattice: pixel-area integrals."""
    fine = fields.lattice(Grid.over(8, 8, 50), wavelength, 5)
    coarse = fields.lattice(Grid.over(8, 8, 25), wavelength, 5)
    np.testing.assert_allclose(fine.reshape(200, 2, 200, 2).mean((1, 3)), coarse, atol=5e-6)


def test_crop_is_the_crop_of_the_whole() -> None:
    """A smaller wall is the top left corner of a larger one."""
    small, large = fields.fbm(Grid.over(6, 8, 25), 0.7, 3), fields.fbm(Grid.over(12, 20, 25), 0.7, 3)
    np.testing.assert_allclose(large[:150, :200], small, atol=1e-5)


def test_lattice_has_unit_variance() -> None:
    """Well resolved noise has mean 0 and standard deviation 1."""
    got = fields.lattice(Grid.over(60, 60, 12.5), 0.5, 11)
    assert abs(got.mean()) < 0.03
    assert got.std() == pytest.approx(1.0, abs=0.03)


def test_lattice_is_the_cubic_spline_of_its_nodes() -> None:
    """Far above the lattice spacing, pixels equal scipy's B-spline through the same coefficients."""
    grid = Grid.over(4, 4, 200)
    got = fields.lattice(grid, 1.0, 42)
    nodes = np.arange(-4, 10)
    white = (seeds.hash_lattice(nodes, nodes, 42) * 2 - 1) * 3**0.5 / 0.4794
    knots = np.arange(nodes[0] - 2, nodes[-1] + 3)
    rows = interpolate.BSpline.design_matrix(grid.row_in, knots.astype(float), 3).toarray()
    np.testing.assert_allclose(got, rows @ white @ rows.T, atol=2e-4)


@pytest.mark.parametrize("pixels", [5.0, 12.0, 60.0])
def test_noise_far_below_a_pixel_fades_as_its_mean_does(pixels: float) -> None:
    """Noise of many wavelengths to a pixel is as strong as the averaged fine noise: 1/p - d/p^2 on each axis."""
    got = fields.lattice(Grid(400, 400, 1.0), 1.0 / pixels, 8)
    fine = fields.lattice(Grid(int(25 * pixels), int(25 * pixels), pixels), 1.0 / pixels, 9)
    blocks = fine.reshape(25, int(pixels), 25, int(pixels)).mean((1, 3))
    assert got.std() == pytest.approx(blocks.std(), rel=0.1)
    assert got.std() == pytest.approx((1 - 0.6556 / pixels) / pixels / 0.4794, rel=0.02)


@pytest.mark.parametrize("pixels", [2.8, 5.0])
def test_fine_noise_by_few_nodes_is_as_strong(pixels: float) -> None:
    """Two nodes to a pixel stand for many: the same strength, and neighbours hardly more alike than in the mean."""
    few, many = (fields.lattice(Grid(500, 400, 1.0), 1.0 / pixels, 8, most) for most in (2.0, 8.0))
    assert few.std() == pytest.approx(many.std(), rel=0.01)
    assert few.std() == pytest.approx((1 - 0.6556 / pixels) / pixels / 0.4794, rel=0.02)
    alike = [np.corrcoef(one[1:].ravel(), one[:-1].ravel())[0, 1] for one in (few, many)]
    assert alike[0] - alike[1] < 0.2 and alike[0] < 0.26


def test_what_is_sampled_does_not_grow_with_the_wall_in_wavelengths() -> None:
    """Sand on a wall of 100 ft x 30 ft at half a pixel to the inch takes no more memory than the picture's own."""
    tracemalloc.start()
    fields.lattice(Grid.over(360, 1200, 0.5), 0.018, 1)
    assert tracemalloc.get_traced_memory()[1] < 30e6
    tracemalloc.stop()


@pytest.mark.parametrize("wavelength", [0.05, 0.6, (0.06, 2.0)])
def test_strips_and_threads_change_no_bit(
    monkeypatch: pytest.MonkeyPatch, wavelength: float | tuple[float, float]
) -> None:
    """The same bytes in one strip by one thread and in many strips by four."""
    grid = Grid.over(20, 31, 25)
    found = []
    for nodes, at_least, many in ((1 << 40, 1 << 40, "1"), (5000, 1, "4")):
        monkeypatch.setattr(fields, "_STRIP_NODES", nodes)
        monkeypatch.setattr(threads, "FEW_PIXELS", at_least)
        monkeypatch.setenv("FINISHBOARD_THREADS", many)
        found.append(fields.fbm(grid, wavelength, 77, 3))
    assert np.array_equal(*found)


@pytest.mark.parametrize("ppi", [6.25, 12.5, 25.0, 31.0])
@pytest.mark.parametrize("smooth", [False, True])
def test_strips_change_no_bit_of_what_is_resampled(monkeypatch: pytest.MonkeyPatch, ppi: float, smooth: bool) -> None:
    """Up or down, a field worked whole and one worked two or three rows at a time by four threads are the same."""
    source, target = Grid.over(9.7, 14.3, 12.5), Grid.over(9.7, 14.3, ppi)
    field, found = np.random.default_rng(2).random(source.shape, np.float32), []
    for pixels, at_least in ((1 << 40, 1 << 40), (900, 1)):
        monkeypatch.setattr(fields, "_RESAMPLED", pixels)
        monkeypatch.setattr(threads, "FEW_PIXELS", at_least)
        monkeypatch.setenv("FINISHBOARD_THREADS", "4")
        found.append(fields.resample(field, source, target, smooth=smooth))
    assert np.array_equal(*found)


@pytest.mark.parametrize("wavelength", [(3.0, 5.0), 0.9, 0.33])
def test_octaves_drawn_as_one_are_their_sum(
    monkeypatch: pytest.MonkeyPatch, wavelength: float | tuple[float, float]
) -> None:
    """Each octave sampled by itself and added up: the same to rounding, whichever of them are joined."""
    grid, found = Grid.over(9, 14, 12.5), []
    for most in (0.0, 0.5, 4.0):
        monkeypatch.setattr(fields, "_JOINED", most)
        found.append(fields.fbm(grid, wavelength, 21, 4, 0.6))
    tall, wide = wavelength if isinstance(wavelength, tuple) else (wavelength, wavelength)
    alone = [0.6**k * fields.lattice(grid, (tall / 2**k, wide / 2**k), 21 + k) for k in range(4)]
    wanted = sum(alone) / sum(0.36**k for k in range(4)) ** 0.5
    for got in found:
        np.testing.assert_allclose(got, wanted, atol=5e-6)


def test_halved_nodes_make_the_same_spline() -> None:
    """A spline's nodes on half the spacing, as scipy's spline through those nodes sees them."""
    nodes = np.random.default_rng(4).standard_normal((12, 3)).astype(np.float32)
    fine = fields._halved(nodes)  # the first stands at 0.5
    at = np.linspace(2.0, 9.0, 57)
    wide = interpolate.BSpline(np.arange(-2.0, 14.0), nodes.astype(float), 3)
    narrow = interpolate.BSpline(0.5 * np.arange(-1.0, 24.0), fine.astype(float), 3)
    np.testing.assert_allclose(narrow(at), wide(at), atol=1e-6)


def test_drift_uses_perlin_noise() -> None:
    """The slow field has unit variance over many streams; Perlin's has the deviation that the scaling states."""
    places = np.random.default_rng(0).uniform(0, 256, (100_000, 2))
    raw = np.array([noise.pnoise2(x, y, repeatx=256, repeaty=256) for x, y in places])
    assert raw.std() == pytest.approx(fields._PERLIN_STD, rel=0.02)
    assert np.abs(raw).max() <= 0.7072 * 2**0.5  # gradients of length sqrt 2 in this implementation
    every = [fields.drift(Grid.over(48, 48, 2), 6.0, np.random.default_rng(i)) for i in range(12)]
    assert 0.6 < np.std(every) < 1.1


def test_resample_is_consistent() -> None:
    """Going up to 50 and averaging to 25 px/in equals going up to 25."""
    grid = Grid.over(6, 6, 12.5)
    field = np.random.default_rng(2).normal(size=grid.shape).astype(np.float32)
    fine, coarse = fields.resample(field, grid, grid.at(50)), fields.resample(field, grid, grid.at(25))
    np.testing.assert_allclose(fine.reshape(150, 2, 150, 2).mean((1, 3)), coarse, atol=1e-5)
    assert fields.resample(field, grid, grid) is field


@pytest.mark.parametrize(("rows", "cols", "ratio"), [(8, 12, 2), (7, 9, 2), (13, 10, 4), (1, 3, 2), (11, 12, 2.5)])
def test_resampling_down_is_the_mean_of_areas(rows: int, cols: int, ratio: float) -> None:
    """Whole cells or parts of them: each pixel is the mean over its area, the rim repeated beyond the wall."""
    field = np.random.default_rng(rows).normal(size=(rows, cols)).astype(np.float32)
    source = Grid(rows, cols, 10.0)
    got = fields.resample(field, source, source.at(10.0 / ratio))
    fine = np.kron(field, np.ones((10, 10)))  # tenths of a cell
    step, tall, wide = round(10 * ratio), *got.shape
    fine = np.pad(fine, ((0, step * tall - 10 * rows), (0, step * wide - 10 * cols)), "edge")
    np.testing.assert_allclose(got, fine.reshape(tall, step, wide, step).mean((1, 3)), atol=1e-6)


@given(st.integers(1, 40), st.integers(1, 40), st.floats(0, 1), st.integers(0, 5))
@settings(max_examples=60, deadline=None)
def test_cover_is_exact_to_a_pixel(rows: int, cols: int, share: float, steps: int) -> None:
    """The mask has round(share x pixels) pixels, even where values tie, and no pixel left out is higher."""
    values = np.random.default_rng(rows * cols).normal(size=(rows, cols)).astype(np.float32)
    values = np.round(values * steps) if steps else values
    mask = fields.cover(values, share)
    assert mask.sum() == round(share * values.size)
    if mask.any() and not mask.all():
        assert values[mask].min() >= values[~mask].max()


def test_edge_distance_of_a_slope() -> None:
    """On a plane rising 2 per inch the distance from the contour is exact."""
    grid = Grid.over(4, 4, 20)
    plane = np.broadcast_to((2.0 * grid.col_in).astype(np.float32), grid.shape)
    got = fields.edge_distance(plane, 4.0, 20)
    np.testing.assert_allclose(got[:, 1:-1], np.broadcast_to(grid.col_in - 2.0, grid.shape)[:, 1:-1], atol=2e-3)


def test_scatter_statistics_clark_evans_1954() -> None:
    """Mean distance to the nearest neighbour of a Poisson scatter is 1/(2 sqrt density) (Clark & Evans 1954)."""
    from scipy.spatial import cKDTree

    points = fields.scatter(Grid.over(120, 120, 1), 0.5, 17, margin_in=6)
    places = np.column_stack([points.row_in, points.col_in])
    inner = ((places > 0) & (places < 120)).all(axis=1)
    nearest = cKDTree(places).query(places[inner], 2)[0][:, 1]
    error = 0.26136 / (inner.sum() * 0.5) ** 0.5
    assert abs(nearest.mean() - 0.5 / 0.5**0.5) < 4 * error


def test_wider_wall_keeps_its_points() -> None:
    """The points of a small wall are all in the larger one."""
    small, large = fields.scatter(Grid.over(20, 20, 5), 2.0, 9), fields.scatter(Grid.over(40, 60, 5), 2.0, 9)
    assert set(small.ids.tolist()) <= set(large.ids.tolist())


def test_gather_interpolates() -> None:
    """A linear field is read exactly between pixels."""
    field = np.add.outer(np.arange(5.0), 10.0 * np.arange(6.0)).astype(np.float32)
    got = fields.gather(field, np.array([0.5, 3.25]), np.array([2.5, 4.75]))
    np.testing.assert_allclose(got, [25.5, 50.75], rtol=1e-6)


@pytest.mark.parametrize("shape", [(7, 9), (2, 5), (1, 6), (6, 1), (1, 1)])
def test_gradient_is_numpys(shape: tuple[int, int]) -> None:
    """Changes equal numpy's where it has any; along a single row there are none."""
    field = np.random.default_rng(1).standard_normal(shape).astype(np.float32)
    for axis, got in enumerate(fields.gradient(field)):
        wanted = np.gradient(field, axis=axis) if shape[axis] > 1 else np.zeros(shape)
        np.testing.assert_allclose(got, wanted, atol=1e-6)


def test_smooth_resampling_keeps_means_and_has_no_facets() -> None:
    """A cubic spline of the plan grid: the same mean, the same averaged down, and a slope without jumps."""
    plan = Grid.over(6, 6, 12.5)
    field = np.random.default_rng(3).standard_normal(plan.shape).astype(np.float32)
    field[:3] = field[-3:] = field[:, :3] = field[:, -3:] = 0.0  # a quiet rim, so that nothing runs over it
    fine, same = (fields.resample(field, plan, plan.at(ppi), smooth=True) for ppi in (100.0, 12.5))
    assert fine.mean(dtype=np.float64) == pytest.approx(field.mean(dtype=np.float64), abs=1e-6)
    np.testing.assert_allclose(fine.reshape(75, 8, 75, 8).mean((1, 3)), same, atol=1e-5)
    straight = fields.resample(field, plan, plan.at(100.0))
    assert np.abs(np.diff(fine, 2, axis=0)).max() < 0.3 * np.abs(np.diff(straight, 2, axis=0)).max()


def test_grain_is_the_fractal_without_what_is_finer_than_half_a_pixel() -> None:
    """On a fine grid grain is fbm; on a coarse one the octaves that are left are as strong as in the whole."""
    fine, coarse = fields.Grid(40, 40, 100.0), fields.Grid(40, 40, 10.0)
    assert np.array_equal(fields.grain(fine, 0.1, 3, 4, 0.7), fields.fbm(fine, 0.1, 3, 4, 0.7))
    two = fields.fbm(coarse, 0.1, 3, 2, 0.7) * np.float32(((1 + 0.7**2) / sum(0.7 ** (2 * k) for k in range(4))) ** 0.5)
    np.testing.assert_allclose(fields.grain(coarse, 0.1, 3, 4, 0.7), two, rtol=1e-5, atol=1e-6)


@pytest.mark.parametrize("axis", [0, 1])
def test_carried_is_the_filter_of_the_first_order(axis: int) -> None:
    """Line by line it is scipy's recursive filter; held, an even field stays even."""
    field = np.random.default_rng(1).normal(size=(40, 30)).astype(np.float32)
    kept = field.copy()
    got = fields.carried(field, 0.9, axis)
    np.testing.assert_allclose(got, signal.lfilter([1.0], [1.0, -0.9], field.astype(float), axis=axis), atol=2e-5)
    assert got.dtype == np.float32 and np.array_equal(field, kept)
    np.testing.assert_allclose(fields.carried(np.full((9, 7), 0.1), 0.9, axis, held=True), 1.0, atol=1e-6)


@given(st.integers(1, 60), st.floats(0.0, 1.0), st.integers(0, 2**32 - 1))
def test_threshold_among_many_equals(levels: int, share: float, seed: int) -> None:
    """It is the value that a full sort gives, however many pixels are alike."""
    placement = np.random.default_rng(seed).integers(-levels, levels, (40, 60)).clip(0).astype(np.float32)
    count = round(share * placement.size)
    got = fields.threshold(placement, share)
    if count:
        assert got == np.sort(placement, axis=None)[-count]
    assert int(np.count_nonzero(fields.cover(placement, share))) == count
