"""Crack nets: laws in closed form, topology of the picture, ink, crops, flakes."""

from __future__ import annotations

import numpy as np
import pytest
from crack_topology import measure
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial import Voronoi
from skimage.draw import polygon2mask

from render.fields import Grid
from render.kept import Kept
from render.physics import crack_division, crack_flakes, cracks

PLAIN = cracks.SpacingMap.even(0.34, 0.006)


def inked(map_: cracks.SpacingMap, side_in: float, ppi: float, key: int = 1) -> NDArray[np.float32]:
    """Return the ink of a net over a square."""
    window = cracks.Window(round(side_in * ppi), round(side_in * ppi), ppi)
    return cracks.ink_of(cracks.net(map_, window.bounds, key).strands, window)[0]


def crossing_distance(ink: NDArray[np.float32], ppi: float) -> float:
    """Return the mean distance between cracks along straight lines, inches, read off the picture."""
    crack = ink > 0.1
    met = sum(np.count_nonzero(one[1:] & ~one[:-1]) for one in (crack, crack.T))
    return 2.0 * crack.size / met / ppi


def test_critical_thickness_is_griffiths_balance() -> None:
    """At the critical thickness a channelling crack frees just its own energy: Z s^2 h / E = G."""
    thickness = cracks.critical_thickness(stress=5e6, modulus=1e9, energy=5.0)
    assert 1.976 * (5e6) ** 2 * thickness / 1e9 == pytest.approx(5.0, rel=1e-12)
    assert cracks.critical_thickness(10e6, 1e9, 5.0) == pytest.approx(thickness / 4.0, rel=1e-12)


@pytest.mark.parametrize("bad", [(0.0, 1.0, 1.0), (1.0, -1.0, 1.0), (1.0, 1.0, 0.0)])
def test_critical_thickness_refuses_what_is_not_above_zero(bad: tuple[float, float, float]) -> None:
    """Stress, modulus and energy are above zero."""
    with pytest.raises(ValueError, match="above zero"):
        cracks.critical_thickness(*bad)


def test_spacing_is_linear_in_thickness_and_falls_with_friction() -> None:
    """Groisman & Kaplan 1994: linear in the thickness; half the friction doubles the distance."""
    one, two = cracks.spacing([5e-4, 1e-3], strength=1e5, friction=2e4)
    assert one == pytest.approx(5e-3) and two == pytest.approx(2 * one)
    assert cracks.spacing(5e-4, 1e5, 1e4) == pytest.approx(2 * one)


def test_openings_in_closed_form() -> None:
    """A stuck film opens by 2 Z strain h; a sliding one by its free shrinkage less half its strain at break."""
    assert cracks.bonded_opening(1e-3, 0.05) == pytest.approx(2 * 1.976 * 0.05 * 1e-3)
    assert cracks.sliding_opening(0.04, 0.05, 0.06) == pytest.approx(0.04 * 0.02)
    assert cracks.sliding_opening(0.04, 0.02, 0.06) == 0.0


@pytest.mark.parametrize("key", [1, 2])
def test_topology_bohn_2005_goehring_2010(key: int) -> None:
    """Over 500 cells: 4.0-4.6 corners, > 90 % T-junctions, 80 % of the arms within 90 +- 20 degrees."""
    found = measure(inked(PLAIN, 9.0, 130.0, key), reach=11)
    assert found.cells >= 500
    assert 4.0 <= found.corners_per_cell <= 4.6
    assert found.t_share > 0.90
    assert found.square_share >= 0.80


def test_a_voronoi_net_fails_the_topology_test() -> None:
    """The same measure tells a Voronoi net, drawn with the same pen, from a crack net."""
    seeds = np.random.default_rng(5).random((900, 2)) * 10.0 - 0.5
    net = Voronoi(seeds)
    ridges = [net.vertices[list(ridge)] for ridge in net.ridge_vertices if min(ridge) >= 0]
    points = np.concatenate([a + (b - a) * np.linspace(0, 1, 12)[:, None] for a, b in ridges])
    half = np.full(len(points), 0.004)
    aside = np.repeat([((b - a) / np.hypot(*(b - a)))[::-1] * (-1, 1) for a, b in ridges], 12, axis=0)
    strands = cracks.Strands(np.arange(len(ridges) + 1) * 12, points, half, half, np.ones(len(points)), aside)
    found = measure(cracks.ink_of(strands, cracks.Window(1170, 1170, 130.0))[0], reach=11)
    assert found.cells >= 500
    assert found.corners_per_cell > 4.6
    assert found.t_share < 0.6
    assert found.square_share < 0.6


def test_corners_per_cell_follow_from_euler() -> None:
    """Every junction of the division is a T, so inner cells have 4 corners and 6 neighbours' ends on their rings."""
    division = cracks.divide(PLAIN, (0.0, 0.0, 16.0, 16.0), 5)
    first = division.cell_start[:-1]
    centre = division.cell_shape.centre
    inner = ((centre > 1.0) & (centre < 15.0)).all(axis=1)
    corners = np.add.reduceat(division.cell_corner.astype(int), first)[inner]
    ends = np.concatenate(
        [division.crack_points[division.crack_start[:-1]], division.crack_points[division.crack_start[1:] - 1]]
    )
    junction = np.zeros(len(division.points), int)
    np.add.at(junction, ends, 1)
    met = np.add.reduceat((junction > 0)[division.cell_points].astype(int), first)[inner]
    assert inner.sum() > 1000
    assert corners.mean() == pytest.approx(4.0, rel=0.02)
    assert met.mean() == pytest.approx(6.0, rel=0.02)


def test_cells_tile_the_wall() -> None:
    """The cells' areas over a window add up to the window's, and their mean size is the spacing asked for."""
    window = cracks.Window(400, 400, 40.0)
    net = cracks.net(PLAIN, window.bounds, 3)
    drawn = cracks.draw(net, window, np.zeros(len(net.cells.name)), np.zeros((len(net.cells.name), 2)))
    pixels = np.bincount(drawn.cell.ravel(), minlength=len(net.cells.name)) / 1600.0
    whole = (net.cells.shape.low > 0.2).all(axis=1) & (net.cells.shape.high < 9.8).all(axis=1)
    assert np.median(np.abs(pixels[whole] / net.cells.shape.area[whole] - 1.0)) < 0.05
    assert pixels[whole].sum() == pytest.approx(net.cells.shape.area[whole].sum(), rel=0.01)
    assert np.sqrt(net.cells.shape.area[whole].mean()) == pytest.approx(0.34, rel=0.08)


def test_cells_are_filled_as_polygons_are() -> None:
    """The row-by-row filling of whole cells agrees with scikit-image's even-odd polygon filling."""
    window = cracks.Window(240, 240, 40.0)
    net = cracks.net(PLAIN, window.bounds, 4)
    start, cell = cracks.runs_of(net, window)
    filled = np.repeat(cell, np.diff(start, append=240 * 240)).reshape(240, 240)
    whole = np.flatnonzero((net.cells.shape.low > 0.1).all(axis=1) & (net.cells.shape.high < 5.9).all(axis=1))
    for one in whole[:60]:
        ring = net.points[net.cells.ring[net.cells.start[one] : net.cells.start[one + 1]]] * 40.0 - 0.5
        reference = polygon2mask((240, 240), ring)
        assert np.count_nonzero((filled == one) != reference) <= 2 + 0.03 * reference.sum()


def test_a_window_in_the_middle_shows_the_same_cells() -> None:
    """Filling a window that begins in the midst of cells names every pixel as the filling of the whole does."""
    net = cracks.net(PLAIN, (0.0, 0.0, 12.0, 12.0), 12)
    cells = len(net.cells.name)
    whole = cracks.draw(net, cracks.Window(600, 600, 50.0), np.zeros(cells), np.zeros((cells, 2)))
    part = cracks.draw(net, cracks.Window(200, 150, 50.0, 5.0, 6.0), np.zeros(cells), np.zeros((cells, 2)))
    assert np.mean(part.cell != whole.cell[250:450, 300:450]) < 1e-3
    np.testing.assert_allclose(part.ink[2:-2, 2:-2], whole.ink[252:448, 302:448], atol=0.02)


def strokes_inside(net: cracks.Net, box: tuple[float, float, float, float]) -> set[bytes]:
    """Return the strands that lie wholly in a box, as bytes: points, both half widths, depth."""
    one = net.strands
    found = set()
    for a, b in zip(one.start[:-1], one.start[1:], strict=True):
        points = one.points[a:b]
        if (points > box[:2]).all() and (points < box[2:]).all():
            found.add(b"".join(part[a:b].tobytes() for part in (one.points, one.left, one.right, one.depth)))
    return found


@settings(max_examples=6, deadline=None)
@given(
    top=st.floats(0, 60),
    left=st.floats(0, 60),
    tall=st.floats(1, 4),
    wide=st.floats(1, 4),
    key=st.integers(0, 2**64 - 1),
)
def test_a_crop_has_the_same_net(top: float, left: float, tall: float, wide: float, key: int) -> None:
    """Every strand and cell that reaches into a crop is bit for bit the one of the larger wall."""
    crop = (top + 1.0, left + 1.0, top + 1.0 + tall, left + 1.0 + wide)
    small = cracks.open_cracks(cracks.divide(PLAIN, crop, key), PLAIN, crop)
    around = (top, left, top + 7.0, left + 7.0)
    large = cracks.open_cracks(cracks.divide(PLAIN, around, key), PLAIN, around)
    place = {name: i for i, name in enumerate(large.cells.name.tolist())}
    seen = ((small.cells.shape.high > crop[:2]) & (small.cells.shape.low < crop[2:])).all(axis=1)
    for i in np.flatnonzero(seen):
        j = place[int(small.cells.name[i])]
        ours = small.points[small.cells.ring[small.cells.start[i] : small.cells.start[i + 1]]]
        theirs = large.points[large.cells.ring[large.cells.start[j] : large.cells.start[j + 1]]]
        assert np.array_equal(ours, theirs)
    assert strokes_inside(small, crop) == strokes_inside(large, crop)
    window = cracks.Window(int(tall * 40), int(wide * 40), 40.0, crop[0], crop[1])
    mine, theirs = (cracks.ink_of(net.strands, window)[0] for net in (small, large))
    np.testing.assert_allclose(mine, theirs, atol=2e-5)  # the order of float32 sums differs


def test_the_same_net_at_every_resolution() -> None:
    """Pictures at 12.5, 25 and 50 px/in agree when the finer ones are averaged down: correlation >= .96."""
    coarse, middle, fine = (inked(PLAIN, 16.0, ppi, 9) for ppi in (12.5, 25.0, 50.0))
    halved = middle.reshape(200, 2, 200, 2).mean(axis=(1, 3))
    quartered = fine.reshape(200, 4, 200, 4).mean(axis=(1, 3))
    assert np.corrcoef(coarse.ravel(), halved.ravel())[0, 1] >= 0.96
    assert np.corrcoef(coarse.ravel(), quartered.ravel())[0, 1] >= 0.96


@pytest.mark.parametrize("ppi", [10.0, 25.0, 60.0])
def test_hairlines_keep_their_ink_below_a_pixel(ppi: float) -> None:
    """A lone crack .004 in wide and 6 in long darkens 0.024 square inches at any resolution."""
    points = np.stack([np.linspace(1.0, 4.6, 121), np.linspace(1.2, 6.0, 121)], axis=1)
    half = np.full(121, 0.002)
    aside = np.tile([-0.8, 0.6], (121, 1))
    lone = cracks.Strands(np.array([0, 121]), points, half, half, np.ones(121), aside)
    ink, depth = cracks.ink_of(lone, cracks.Window(round(6 * ppi), round(7 * ppi), ppi))
    assert float(ink.sum(dtype=float)) / ppi**2 == pytest.approx(0.024, rel=1e-3)
    assert np.array_equal(ink, depth)


def test_a_wide_crack_is_filled_to_its_lips() -> None:
    """A crack .2 in wide is wholly open inside, closed outside, and its edge lies where it should."""
    points = np.stack([np.full(81, 1.0), np.linspace(0.0, 4.0, 81)], axis=1)
    aside = np.tile([-1.0, 0.0], (81, 1))
    lone = cracks.Strands(np.array([0, 81]), points, np.full(81, 0.05), np.full(81, 0.15), np.ones(81), aside)
    ink, _ = cracks.ink_of(lone, cracks.Window(100, 200, 50.0))
    middle = ink[:, 60:140]
    assert middle[45:50].min() > 0.97  # .85 to 1.05 in: right is towards the wall's top here
    assert middle[:41].max() < 0.02 and middle[55:].max() < 0.02
    assert float(middle.sum(axis=0).mean()) / 50.0 == pytest.approx(0.2, abs=0.012)


def test_no_crack_where_the_film_does_not_open() -> None:
    """A map without opening, below the critical thickness, draws nothing at all."""
    assert inked(cracks.SpacingMap.even(0.34, 0.0), 4.0, 40.0).max() == 0.0


def test_width_varies_threefold_along_one_crack() -> None:
    """Along the long cracks the 90th percentile of the width is two to five times the 10th."""
    strands = cracks.net(PLAIN, (0.0, 0.0, 24.0, 24.0), 2).strands
    sizes = np.diff(strands.start)
    width = strands.left + strands.right
    ratios = []
    for k in np.flatnonzero(sizes > 60)[:60]:
        low, high = np.percentile(width[strands.start[k] : strands.start[k + 1]], [10, 90])
        ratios.append(high / low)
    assert 2.0 < np.median(ratios) < 5.0


def test_old_cracks_stand_wider_open() -> None:
    """Cracks that divided many cells' worth of film are wider than those that divided the last two."""
    division = cracks.divide(PLAIN, (0.0, 0.0, 24.0, 24.0), 2)
    net = cracks.open_cracks(division, PLAIN, (0.0, 0.0, 24.0, 24.0))
    width = net.strands.left + net.strands.right
    means = np.add.reduceat(width, net.strands.start[:-1]) / np.diff(net.strands.start)
    sizes = np.diff(net.strands.start)
    assert np.median(means[sizes > 60]) > 1.5 * np.median(means[(sizes > 8) & (sizes < 16)])


def test_first_generations_hang_on_no_map(monkeypatch: pytest.MonkeyPatch) -> None:
    """A net is the same, bit for bit, whether its first generations are divided once for all maps or with its own."""
    window = (3.0, 0.0, 33.0, 40.0)
    plates = cracks.SpacingMap(np.linspace(0.3, 2.5, 60).reshape(6, 10), np.zeros((6, 10)), np.full((6, 10), 0.01), 4.0)
    shared = cracks.divide(plates, window, 11)
    assert len(crack_division._stem(window, 11, 0.075, crack_division.STEP_IN, 2048.0).cracks) > 6
    monkeypatch.setattr(crack_division, "_always_divided", lambda map_: np.inf)
    own = cracks.divide(plates, window, 11)
    for name in ("points", "crack_points", "crack_id", "crack_sway", "cell_points", "cell_id"):
        np.testing.assert_array_equal(getattr(shared, name), getattr(own, name))
    np.testing.assert_array_equal(np.minimum(own.crack_cells, 256.0), np.minimum(shared.crack_cells, 256.0))


@pytest.mark.parametrize("ppi", [25.0, 50.0])
def test_curl_is_flat_in_the_middle_and_rises_to_the_rim(ppi: float) -> None:
    """A plate's middle stays on the wall while its rim stands off, whatever the resolution."""
    plates = cracks.SpacingMap.even(2.0, 0.03, slip=1.0)
    window = cracks.Window(round(8 * ppi), round(8 * ppi), ppi)
    net = cracks.net(plates, window.bounds, 6)
    drawn = cracks.draw(net, window, np.full(len(net.cells.name), 30.0), np.zeros((len(net.cells.name), 2)))
    centre = np.floor(net.cells.shape.centre * ppi).astype(int)
    inside = ((centre >= 0) & (centre < 8 * ppi)).all(axis=1)
    assert drawn.curl[tuple(centre[inside].T)].max() < 0.2
    assert drawn.curl.min() >= 0.0
    rim = drawn.curl[drawn.ink > 0.5]
    assert 15.0 < np.median(rim) < 45.0


def test_a_plate_that_lies_to_one_side_lifts_at_the_other() -> None:
    """Moved a quarter of its size down, the place where a plate touches the wall leaves its upper rim higher."""
    window = cracks.Window(200, 200, 25.0)
    net = cracks.net(cracks.SpacingMap.even(2.0, 0.03, slip=1.0), window.bounds, 6)
    count = len(net.cells.name)
    down = np.stack([0.25 * net.cells.size, np.zeros(count)], axis=1)
    even, moved = (
        cracks.draw(net, window, np.full(count, 30.0), np.zeros((count, 2)), aside).curl for aside in (0.0, down)
    )
    cell = net.cells.shape.centre[:, 0][cracks.draw(net, window, np.zeros(count), 0.0 * down).cell]
    above = (np.arange(200)[:, None] + 0.5) / 25.0 < cell - 0.5
    below = (np.arange(200)[:, None] + 0.5) / 25.0 > cell + 0.5
    assert moved[above].mean() > 1.5 * even[above].mean()
    assert moved[below].mean() < 0.7 * even[below].mean()


@pytest.mark.parametrize(("roll", "straight"), [(1.0, 1), (-1.0, 0)])
def test_a_rolled_plate_is_straight_one_way(roll: float, straight: int) -> None:
    """At a roll of 1 a plate curls along its long axis and is level along its short one; at -1 it is the other way."""
    window = cracks.Window(400, 400, 50.0)
    net = cracks.net(cracks.SpacingMap.even(2.0, 0.03, slip=1.0), window.bounds, 6)
    count, none = len(net.cells.name), np.zeros((len(net.cells.name), 2))
    drawn = cracks.draw(net, window, np.full(count, 30.0), none, 0.0, np.full(count, roll))
    long = net.cells.shape.axis
    ways = [long, np.stack([-long[:, 1], long[:, 0]], axis=1)]
    centre, rises = net.cells.shape.centre, []
    for way in ways:
        at = np.floor((centre + 0.3 * net.cells.size[:, None] * way) * 50.0).astype(int)
        inside = ((at >= 0) & (at < 400)).all(axis=1)
        at, mine = at[inside], np.flatnonzero(inside)
        same = drawn.cell[tuple(at.T)] == mine
        rises.append(drawn.curl[tuple(at[same].T)])
    assert rises[straight].max() < 0.1
    assert np.median(rises[1 - straight]) > 1.0


def test_tilt_is_a_plane_through_the_middle() -> None:
    """A tilted piece rises linearly across the wall: its slope is the one asked for."""
    window = cracks.Window(200, 200, 50.0)
    net = cracks.net(cracks.SpacingMap.even(1.5, 0.02), window.bounds, 8)
    slope = np.tile([3.0, -2.0], (len(net.cells.name), 1))
    drawn = cracks.draw(net, window, np.zeros(len(net.cells.name)), slope)
    same = drawn.cell[1:, 1:] == drawn.cell[:-1, :-1]
    step = (drawn.curl[1:, 1:] - drawn.curl[:-1, :-1])[same]
    np.testing.assert_allclose(step, (3.0 - 2.0) / 50.0, atol=2e-4)


def test_a_map_interpolates_between_its_nodes() -> None:
    """Half way between nodes of 1 and 3 the spacing is 2; beyond the rim it stays level."""
    map_ = cracks.SpacingMap(np.array([[1.0, 3.0]]), np.zeros((1, 2)), np.zeros((1, 2)), step_in=0.5)
    at = map_.at("spacing", np.array([[0.25, 0.25], [0.25, 0.5], [9.0, 0.75], [0.0, -5.0]]))
    assert at.tolist() == [1.0, 2.0, 3.0, 1.0]


def test_maps_of_the_same_content_are_one_in_the_cache() -> None:
    """A net asked for again is the very same object, even through an equal map."""
    kept = Kept()
    first = cracks.net(cracks.SpacingMap.even(0.5, 0.01), (0.0, 0.0, 3.0, 3.0), 1, 25.0, kept)
    assert cracks.net(cracks.SpacingMap.even(0.5, 0.01), (0.0, 0.0, 3.0, 3.0), 1, 25.0, kept) is first
    finer = cracks.net(cracks.SpacingMap.even(0.5, 0.01), (0.0, 0.0, 3.0, 3.0), 1, 50.0, kept)
    assert finer.points is first.points and len(finer.strands.points) > len(first.strands.points)
    assert cracks.SpacingMap.even(0.5, 0.01) != cracks.SpacingMap.even(0.5, 0.02)


@pytest.mark.parametrize("wide_in", [240.0, 900.0])
def test_a_board_shows_the_corner_of_the_hall(wide_in: float) -> None:
    """The net of a 4 ft board is that of the corner of a wall 20 or 75 ft wide, to the bit."""
    board, hall = (cracks.net(cracks.SpacingMap.even(2.0, 0.02), (0.0, 0.0, 48.0, wide), 5) for wide in (48.0, wide_in))
    box = (0.0, 0.0, 40.0, 40.0)
    assert len(strokes_inside(board, box)) > 100
    assert strokes_inside(board, box) == strokes_inside(hall, box)


def test_faulty_maps_and_windows_are_refused() -> None:
    """Spacing above zero, fields of one shape, windows inside the root square."""
    with pytest.raises(ValueError, match="above zero"):
        cracks.SpacingMap.even(0.0, 0.01)
    with pytest.raises(ValueError, match="one shape"):
        cracks.SpacingMap(np.ones((2, 2)), np.ones((2, 3)), np.ones((2, 2)), 1.0)
    with pytest.raises(ValueError, match=r"reaches 337.+divide the wall"):
        cracks.divide(PLAIN, (0.0, 0.0, 5000.0, 10.0), 1)


@pytest.mark.parametrize("side_in", [900.0, 960.0, 3900.0])
def test_a_long_wall_has_cells_of_the_same_size(side_in: float) -> None:
    """To the far end of a wall of 75, 80 or 325 ft the cells tile it, at the spacing asked for."""
    strip = (0.0, side_in - 20.0, 20.0, side_in)
    division = cracks.divide(cracks.SpacingMap.even(1.0, 0.01), strip, 3)
    centre = division.cell_shape.centre - (strip[0], strip[1])
    inner = ((centre > 0.0) & (centre < 20.0)).all(axis=1)
    assert np.sqrt(division.cell_shape.area[inner].mean()) == pytest.approx(1.0, rel=0.1)
    assert division.cell_shape.area[inner].sum() == pytest.approx(400.0, rel=0.06)


# --- flakes ----------------------------------------------------------------------------------------------------------


def hanging(share: float, ppi: float = 30.0) -> tuple[NDArray[np.float32], crack_flakes.Break, Grid]:
    """Return looseness, what broke away and the grid, on a wall whose left half slips."""
    grid = Grid.over(10.0, 10.0, ppi)
    window = cracks.Window(grid.rows, grid.cols, ppi)
    net = cracks.net(cracks.SpacingMap.even(1.0, 0.02, slip=1.0), window.bounds, 3)
    drawn = cracks.draw(net, window, np.zeros(len(net.cells.name)), np.zeros((len(net.cells.name), 2)))
    slip = np.repeat(np.clip(2.5 - grid.col_in / 2.0, 0.0, 1.0)[None, :], grid.rows, axis=0).astype(np.float32)
    score = crack_flakes.scores(net.cells, np.zeros(len(net.cells.name)), 11)
    loose = crack_flakes.looseness(drawn, net.cells, score, slip, grid, 5)
    return loose, crack_flakes.break_away(loose, drawn.ink, share, grid, crack_flakes.tearing(grid, 6)), grid


@pytest.mark.parametrize("share", [0.0, 0.02, 0.1, 0.9])
def test_no_more_falls_than_asked_and_only_what_is_loose(share: float) -> None:
    """The share that lost any film is at most the one asked for, and nothing falls that is held."""
    loose, came, _ = hanging(share)
    assert np.mean(came.gone > 0) <= share + 1e-9
    assert not came.gone[loose == 0].any()
    assert (came.hole <= came.gone + 1e-6).all()
    if share == 0.1:
        assert np.mean(came.gone > 0) > 0.09


def test_ledges_are_between_015_and_3_mm() -> None:
    """Between the sound film and the hole lies a ledge; its mean width is within the range a fracture leaves."""
    _, came, grid = hanging(0.12, 60.0)
    ledge = np.count_nonzero((came.gone > 0) & (came.gone < 1)) / grid.ppi**2
    hole = came.gone >= 1
    rim = np.count_nonzero(hole[1:] ^ hole[:-1]) + np.count_nonzero(hole[:, 1:] ^ hole[:, :-1])
    assert 0.15 < ledge / (rim * np.pi / 4.0 / grid.ppi) * 25.4 < 3.0


def test_the_score_ranks_clusters_and_large_plates_first() -> None:
    """More of a cluster, or a larger plate, hangs looser on average."""
    net = cracks.net(cracks.SpacingMap.even(0.5, 0.01), (0.0, 0.0, 12.0, 12.0), 3)
    low, high = (crack_flakes.scores(net.cells, np.full(len(net.cells.name), z), 1).mean() for z in (-1.0, 1.0))
    assert high > low + 0.3
    plain = crack_flakes.scores(net.cells, np.zeros(len(net.cells.name)), 1)
    order = np.argsort(net.cells.size)
    assert plain[order[-200:]].mean() > plain[order[:200]].mean()


@pytest.mark.parametrize("size", range(3, 20))
def test_a_short_ring_is_judged_by_its_own_points(size: int) -> None:
    """Of two cells side by side in one ring each outline is made of that cell's points alone, and closed."""
    points = np.exp(2j * np.pi * np.arange(2 * size) / size).astype(np.complex64)
    points[size:] += 100.0
    ring = np.arange(2 * size, dtype=np.int32) << crack_division._MARKS
    cells = crack_division._Cells(ring, np.array([0, size]), np.array([size, size]), np.zeros(2, np.uint64))
    outlines = crack_division._outlines(points, cells)
    row, col = outlines.line + outlines.base[:, None]
    assert np.abs(row[:, 0]).max() <= 1.001 and np.abs(row[:, 1] - 100.0).max() <= 1.001 and np.abs(col).max() <= 1.001
    assert np.array_equal(outlines.line[:, 0], outlines.line[:, -1])
