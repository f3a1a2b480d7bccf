"""Strokes of a hand tool on the plan grid."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from render import strokes
from render.fields import Grid
from render.kept import Kept
from render.strokes import Habit, Marks

TROWEL = Habit(8.0, 16.0, 30.0, 90.0, 6.0)
UPRIGHT = Habit(5.0, 14.0, 90.0, 3.0, 4.0, curve_in=90.0, skew_deg=1.0)


def plan(height: float, width: float) -> Grid:
    """Return a plan grid."""
    return Grid.over(height, width, 12.5)


def test_wider_wall_keeps_its_strokes() -> None:
    """A smaller wall is the corner of a larger one, stroke by stroke."""
    small, large = strokes.lay(plan(10, 12), TROWEL, 5), strokes.lay(plan(16, 30), TROWEL, 5)
    at = slice(0, 125), slice(0, 150)
    for name in ("supply", "lift", "bead", "along", "across", "inside", "down", "right"):
        np.testing.assert_allclose(getattr(large, name)[at], getattr(small, name), atol=2e-4, err_msg=name)
    assert np.array_equal(large.ids[large.number[at]], small.ids[small.number])


def test_same_key_same_strokes_other_key_others() -> None:
    """Strokes depend on their key and on nothing else."""
    one, two, other = (strokes.lay(plan(8, 8), TROWEL, key) for key in (1, 1, 2))
    assert np.array_equal(one.lift, two.lift)
    assert abs(np.corrcoef(one.lift.ravel(), other.lift.ravel())[0, 1]) < 0.5


def test_kept_strokes_are_those_drawn_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Strokes are drawn once for a hand, key and wall while they are kept; to the bit as without; others are drawn."""
    drawn: list[int] = []
    draw = strokes._drawn
    monkeypatch.setattr(strokes, "_drawn", lambda *given: drawn.append(1) or draw(*given))
    kept, marks = Kept(), Marks(0.3, 8.0, 2)
    fresh = strokes.lay(plan(8, 8), TROWEL, 1)
    for _ in range(2):
        one = strokes.lay(plan(8, 8), TROWEL, 1, kept)
        for name in ("number", "supply", "lift", "bead", "along", "across", "inside", "down", "right", "clear"):
            assert np.array_equal(getattr(one, name), getattr(fresh, name)), name
        assert np.array_equal(*(strokes.grain(laid, Grid.over(8, 8, 20.0), marks, 4) for laid in (one, fresh)))
    assert len(drawn) == 2
    for grid, habit, key in ((plan(8, 9), TROWEL, 1), (plan(8, 8), UPRIGHT, 1), (plan(8, 8), TROWEL, 2)):
        strokes.lay(grid, habit, key, kept)
    assert len(drawn) == 5 and len(kept) == 4


@pytest.mark.parametrize(("rows", "threads"), [(7, "3"), (1000, "1")])
def test_bands_do_not_matter(monkeypatch: pytest.MonkeyPatch, rows: int, threads: str) -> None:
    """Strokes are the same to the bit whatever the rows drawn at a time and the number of threads."""
    first = strokes.lay(plan(16, 8), TROWEL, 4)
    monkeypatch.setattr(strokes, "_BAND", rows)
    monkeypatch.setenv("FINISHBOARD_THREADS", threads)
    second = strokes.lay(plan(16, 8), TROWEL, 4)
    for name in ("number", "supply", "lift", "bead", "along", "across", "inside"):
        assert np.array_equal(getattr(first, name), getattr(second, name)), name


@pytest.mark.parametrize("habit", [TROWEL, UPRIGHT, Habit(9.0, 20.0, 30.0, 90.0, 8.0, 6.0, 35.0, 0.15)])
def test_windows_hold_whole_strokes(monkeypatch: pytest.MonkeyPatch, habit: Habit) -> None:
    """A stroke reaches nowhere beyond its window: drawn over the whole wall each, all comes out the same to the bit."""
    first = strokes.lay(plan(14, 9), habit, 6)
    whole = slice(0, first.grid.rows), slice(0, first.grid.cols)
    monkeypatch.setattr(strokes, "_BAND", first.grid.rows)
    monkeypatch.setattr(strokes._Outlines, "within", lambda *_: [(index, whole) for index in range(first.ids.size)])
    second = strokes.lay(plan(14, 9), habit, 6)
    for name in ("number", "supply", "lift", "bead"):
        assert np.array_equal(getattr(first, name), getattr(second, name)), name


def test_seen_stroke_is_where_it_was_laid() -> None:
    """Inches along and across, and how far inside, are those of the stroke on top; 0 where none came."""
    laid = strokes.lay(plan(12, 12), Habit(2.0, 6.0, 30.0, 90.0, 6.0), 4)
    on = laid.number >= 0
    assert 0.1 < on.mean() < 0.9
    for field in (laid.along, laid.across, laid.inside):
        assert not field[~on].any()
    assert (laid.inside[on] > 0).all() and laid.inside.max() == 1.0
    assert np.abs(laid.across).max() < 1.2  # a tool of 2 in is at most a fifth wider than it should be
    assert np.abs(laid.along).max() < 6.0 * 0.95  # a stroke is at most 1.9 times as long as the mean


def test_places_beside_another_stroke_are_not_clear() -> None:
    """``clear`` is 0 where a place beside, above or below belongs to another stroke, and 1 two places from any."""
    laid = strokes.lay(plan(10, 10), TROWEL, 4)
    cross, square = ndimage.generate_binary_structure(2, 1), np.ones((5, 5))
    lowest, highest = (
        [find(laid.number, footprint=shape, mode="nearest") for shape in (cross, square)]
        for find in (ndimage.minimum_filter, ndimage.maximum_filter)
    )
    other, near = (low != high for low, high in zip(lowest, highest, strict=True))
    assert 0.02 < other.mean() < 0.5
    assert not laid.clear[other].any()
    well = (ndimage.minimum_filter(laid.inside, 3) >= 0.5) & ~near
    np.testing.assert_allclose(laid.clear[well], 1.0, atol=1e-6)


def test_hand_covers_the_wall() -> None:
    """No place of the wall is left without a stroke, or hardly any."""
    assert np.mean(strokes.lay(plan(24, 24), TROWEL, 3).number < 0) < 0.01


@pytest.mark.parametrize(("direction", "mostly"), [(90.0, "down"), (0.0, "right")])
def test_strokes_follow_their_direction(direction: float, mostly: str) -> None:
    """90 degrees is upright, 0 degrees is across the wall."""
    laid = strokes.lay(plan(12, 12), Habit(5.0, 14.0, direction, 3.0, 4.0), 9)
    assert np.mean(np.abs(getattr(laid, mostly))) > 0.95
    np.testing.assert_allclose(laid.down**2 + laid.right**2, 1.0, atol=1e-5)


def test_tool_gives_less_towards_the_end() -> None:
    """Along each stroke the tool runs dry: supply falls with the way."""
    laid = strokes.lay(plan(24, 24), Habit(8.0, 16.0, 0.0, 90.0, 6.0, dry=0.8), 4)
    well_in = (laid.inside > 0.99) & (laid.number >= 0)
    assert np.corrcoef(laid.along[well_in], laid.supply[well_in])[0, 1] < -0.3


@pytest.mark.parametrize("ppi", [12.5, 25.0, 50.0])
def test_marks_run_along_the_strokes(ppi: float) -> None:
    """Streaks of upright strokes change less down the wall than across it, at about unit variance."""
    grid = Grid.over(12, 12, ppi)
    marks = strokes.grain(strokes.lay(grid.plan, UPRIGHT, 7), grid, Marks(0.4, 12.0), 3)
    down, across = (np.mean(np.abs(np.diff(marks, axis=axis))) for axis in (0, 1))
    assert down < 0.35 * across
    assert 0.5 < marks.std() < 1.3
    assert np.isfinite(marks).all()


def test_marks_are_the_same_at_another_resolution() -> None:
    """Marks at 50 px/in averaged down are those at 12.5 px/in."""
    laid = strokes.lay(plan(10, 10), TROWEL, 7)
    fine = strokes.grain(laid, Grid.over(10, 10, 50), Marks(0.5, 8.0), 3).reshape(125, 4, 125, 4).mean((1, 3))
    coarse = strokes.grain(laid, laid.grid, Marks(0.5, 8.0), 3)
    assert np.corrcoef(fine.ravel(), coarse.ravel())[0, 1] > 0.95


def test_gouges_only_cut() -> None:
    """A caught grain draws grooves: it lowers some places and raises none."""
    laid = strokes.lay(plan(12, 12), TROWEL, 7)
    plain, gouged = (strokes.grain(laid, Grid.over(12, 12, 50), Marks(0.4, 12.0, 2, g), 3) for g in (0.0, 3.0))
    change = gouged - plain
    assert change.max() <= 1e-5
    assert change.min() < -0.3
    assert 0.001 < np.mean(change < -0.05) < 0.2


def test_chatter_ripples_across_the_way() -> None:
    """Where the blade jumps, ripples vary along the way more than the streaks do."""
    laid = strokes.lay(plan(16, 16), UPRIGHT, 7)
    grid = Grid.over(16, 16, 25)
    plain, rippled = (strokes.grain(laid, grid, Marks(0.8, 12.0, 1, 0.0, c), 3) for c in (0.0, 0.4))
    extra = rippled - plain
    assert np.abs(np.diff(extra, axis=0)).mean() > 1.5 * np.abs(np.diff(extra, axis=1)).mean()


@pytest.mark.parametrize("count", [2, 3, 5, 9])
def test_sheet_is_averaged_over_rows(count: int) -> None:
    """The mean over some rows of a sheet, its rim repeated, is that of an outside library."""
    sheet = np.random.default_rng(5).standard_normal((71, 6)).astype(np.float32)
    expected = ndimage.uniform_filter1d(sheet, count, axis=0, mode="nearest")
    np.testing.assert_allclose(strokes._averaged(sheet, count), expected, atol=1e-6)


def test_caught_grain_is_dragged_to_its_end() -> None:
    """A groove deepens evenly along the way and ends at once, where the grain stayed."""
    ppi = 20.0
    groove = strokes._dragged(Grid(400, 900, 1.0), (ppi, ppi), 5)
    step = np.diff(groove, axis=1)
    assert groove.min() == 0
    assert 0.005 < np.mean(groove > 0.1) < 0.2
    assert np.mean(step > 1e-3) > 1.4 * np.mean(step < -1e-3)
    assert np.quantile(-step[step < -1e-3], 0.9) > 1.4 * np.quantile(step[step > 1e-3], 0.9)


def test_scratches_only_cut() -> None:
    """Hairline scratches lower the surface, run along the strokes, and leave much of it as it was."""
    laid, grid = strokes.lay(plan(8, 8), UPRIGHT, 7), Grid.over(8, 8, 50)
    plain, scratched = (strokes.grain(laid, grid, Marks(0.13, 30.0, 3, scratch=depth), 3) for depth in (0.0, 1.0))
    change = scratched - plain
    down, across = (np.mean(np.abs(np.diff(change, axis=axis))) for axis in (0, 1))
    assert down < 0.4 * across


@pytest.mark.parametrize(("rows", "cols"), [(1, 1), (1, 30), (40, 2)])
def test_smallest_walls(rows: int, cols: int) -> None:
    """A wall of one pixel is a wall."""
    grid = Grid(rows, cols, 12.5)
    laid = strokes.lay(grid, TROWEL, 7)
    assert strokes.grain(laid, grid, Marks(0.5, 8.0), 3).shape == (rows, cols)
