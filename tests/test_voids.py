"""Where a coat lies: exact shares, edges displaced in inches, voids below."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render import strokes, voids
from render.fields import Grid
from render.rips import Rips
from render.seeds import Streams
from render.wall import Stratum, Wall

HABIT = strokes.Habit(8.0, 16.0, 0.0, 90.0, 6.0)


def edges(grid: Grid, torn: float = 0.0, key: int = 3) -> tuple[voids.Edges, strokes.Strokes]:
    """Return edges over strokes."""
    sweep = strokes.lay(grid.plan, HABIT, key)
    streams = Streams(key, "top")
    return edges_over(grid, sweep, streams, torn), sweep


def edges_over(grid: Grid, sweep: strokes.Strokes, streams: Streams, torn: float) -> voids.Edges:
    """Return edges over given strokes."""
    rips = Rips.of(streams)
    noise = voids.knobbly(grid, sweep, rips), voids.gritty(grid, streams)
    return voids.Edges(grid, sweep, rips, noise, streams, torn)


def slowly(grid: Grid, sweep: strokes.Strokes, size_in: float, key: int, torn: float) -> np.ndarray:
    """Return a placement on the plan grid."""
    streams = Streams(key, "top")
    return voids.slow(grid.plan, sweep, Rips.of(streams), size_in, streams, torn)


@settings(max_examples=20, deadline=None)
@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(0, 99))
def test_share_is_exact(share: float, torn: float, key: int) -> None:
    """A pass covers what is asked to the pixel, however torn."""
    grid = Grid.over(4, 5, 12.5)
    made, sweep = edges(grid, torn, key)
    place = made.place(slowly(grid, sweep, 2.0, key, torn), share)
    assert np.count_nonzero(place.mask) == round(share * place.mask.size)
    assert place.lifts.min() >= -1e-5
    assert place.lifts.max() <= 1 + 1e-5


@pytest.mark.parametrize("steepness", [0.3, 1.0, 2.0])
def test_raggedness_is_in_inches(steepness: float) -> None:
    """Across a straight ramp a torn edge strays as far from the line, however steep the placement is."""
    grid = Grid.over(10, 10, 25)
    made, _ = edges(grid, torn=1.0)
    ramp = np.broadcast_to(((grid.plan.col_in - 5.0) * steepness).astype(np.float32)[None, :], grid.plan.shape)
    place = made.place(ramp, 0.5)
    line = 10.0 - place.mask.sum(1) / 25.0  # where the edge of each row lies
    stray = line[25:-25].std()
    assert 0.02 < stray < 0.12


def test_distance_is_in_inches() -> None:
    """Off a straight, hardly displaced edge the distance is the distance, to a quarter."""
    grid = Grid.over(10, 10, 25)
    made, _ = edges(grid, torn=1.0)
    ramp = np.broadcast_to((grid.plan.col_in - 5.0).astype(np.float32)[None, :], grid.plan.shape)
    place = made.place(ramp, 0.5)
    at = place.distance[40:-40, 25 * 7].mean()
    assert at == pytest.approx(2.0 / 1.25, rel=0.1)  # a ragged edge is a quarter longer than a straight one


def test_torn_edges_leave_islands_and_spikes() -> None:
    """A torn edge is ragged: its perimeter is well beyond that of its smoothed outline, with islands beside it."""
    grid = Grid.over(14, 14, 25)
    made, sweep = edges(grid, torn=1.0)
    mask = made.place(slowly(grid, sweep, 3.0, 3, 1.0), 0.7).mask
    smooth = ndimage.gaussian_filter(mask.astype(float), 5.0) > 0.5

    def rim(m: np.ndarray) -> int:
        return int(np.sum(m[1:] != m[:-1]) + np.sum(m[:, 1:] != m[:, :-1]))

    assert rim(mask) > 1.5 * rim(smooth)
    assert ndimage.label(mask)[1] > 5


def test_voids_have_many_sizes() -> None:
    """A few large voids hold most of the ground, and many small ones lie about."""
    grid = Grid.over(36, 36, 12.5)
    made, sweep = edges(grid)
    mask = made.place(slowly(grid, sweep, 3.0, 3, 0.0), 0.75).mask
    label, count = ndimage.label(~mask)
    size = np.sort(ndimage.sum_labels(~mask, label, np.arange(1, count + 1)))[::-1]
    assert count > 60
    assert size[: count // 20].sum() > 0.4 * size.sum()
    assert np.mean(size < 12) > 0.25


def test_beneath_reads_the_last_coat_with_voids() -> None:
    """A full coat over a broken one leaves the broken one to be followed; without voids there is nothing to follow."""
    wall = Wall.bare(4, 4, 12.5)
    assert not voids.beneath(wall).any()
    broken = np.ones(wall.grid.shape, np.float32)
    broken[:, :25] = 0.0
    wall = wall.add(Stratum("broken", "coat", broken)).add(Stratum("full", "coat", np.ones_like(broken)))
    got = voids.beneath(wall)
    assert got[:, :15].max() < -0.9
    assert got[:, 35:].min() > 0.9


def test_voids_run_along_the_strokes() -> None:
    """Under strokes across the wall voids are drawn out across it: longer runs than up and down, mean of four pours."""
    grid, across, upright = Grid.over(24, 24, 12.5), 0.0, 0.0
    for key in range(4):
        sweep = strokes.lay(grid.plan, strokes.Habit(8.0, 16.0, 0.0, 4.0, 6.0), key)
        streams = Streams(key, "top")
        made = edges_over(grid, sweep, streams, 0.0)
        place = made.place(slowly(grid, sweep, 3.0, key, 0.0), 0.75)
        across += float(np.mean(place.mask[:, 1:] != place.mask[:, :-1]))
        upright += float(np.mean(place.mask[1:] != place.mask[:-1]))
    assert upright > 1.4 * across


def test_most_of_a_skipped_wall_is_tight() -> None:
    """Voids gather: of square inches, at least four in ten are whole though a quarter of the wall is void."""
    grid = Grid.over(36, 36, 12.5)
    whole = []
    for key in range(3):
        made, sweep = edges(grid, key=key)
        mask = made.place(slowly(grid, sweep, 3.0, key, 0.0), 0.75).mask
        whole.append(np.mean(mask[:432, :432].reshape(36, 12, 36, 12).mean((1, 3)) > 0.97))
    assert min(whole) > 0.4


def test_mood_goes_by_pour() -> None:
    """The same pour has the same mood, other pours others, all within what a hand does."""
    moods = [voids.Mood.of(Streams(pour, "top")) for pour in range(30)]
    assert moods[3] == voids.Mood.of(Streams(3, "top"))
    assert len({one.size for one in moods}) == 30
    for one in moods:
        assert 0.67 <= one.size <= 1.5 and 0.67 <= one.deep <= 1.5
        assert 0.85 <= one.patchy <= 1.65 and 2.0 <= one.stretch <= 5.0 and 0.5 <= one.dry <= 1.8
