"""Runs on a vertical wall: lengths by hand, volumes and pigment kept, merging, ledges, wet and dry."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.physics import runs as pr

LAW = pr.RunLaw(step=0.1, width=0.05, trail=0.5)


def _ground(rows=200, cols=100, drag=1.0, ledge_row=None):
    ledge = np.zeros((rows, cols))
    if ledge_row is not None:
        ledge[ledge_row] = 4.0
    return pr.Ground(np.full((rows, cols), drag), np.zeros((rows, cols)), ledge, 0.1)


def _run(volumes, cols, ground=None, first=0, law=LAW):
    ground = ground or _ground()
    n = len(volumes)
    starts = np.full(n, first)
    return pr.descend(
        starts,
        np.array(cols, float),
        np.array(volumes, float),
        ground=ground,
        wander=np.zeros((ground.drag.shape[0], n)),
        law=law,
    )


def _length(runs):
    return 0.1 * (runs.last - runs.first)[0]


def test_length_of_a_run_by_hand():
    """1.5 V^(2/3) / (2 w trail drag): .5 mil in2 runs 18.9 in, and the sweep stops within one row of it."""
    assert LAW.length(0.5) == pytest.approx(1.5 * 0.5 ** (2 / 3) / 0.05)
    assert _length(_run([0.5], [5.0])) == pytest.approx(LAW.length(0.5), abs=0.1)


def test_a_light_head_stops():
    """With a contact line that keeps .1 mil in2 the run is shorter by that much, and the head stays on the
    wall.
    """
    law = pr.RunLaw(step=0.1, width=0.05, trail=0.5, stop=0.1)
    runs = _run([0.5], [5.0], law=law)
    assert _length(runs) == pytest.approx(law.length(0.5), abs=0.1)
    assert 0 < runs.tail[0] <= 0.1


def test_rough_dry_wall_shortens_runs():
    """Three times the drag, a third of the length."""
    wet, dry = (_length(_run([0.5], [5.0], _ground(drag=d))) for d in (1.0, 3.0))
    assert dry == pytest.approx(wet / 3, abs=0.15)


def test_merging_adds_volumes():
    """Two runs that touch go on as one with both volumes, and the child ends on its parent."""
    runs = _run([0.3, 0.2], [5.0, 5.04])
    assert runs.parent.tolist() == [-1, 0]
    assert runs.table(runs.volume)[0] == pytest.approx([0.5, 0.0])
    assert runs.last[1] == 0


def test_merged_run_goes_farther():
    """The united run reaches as far as one run of the added volume."""
    assert _length(_run([0.3, 0.2], [5.0, 5.04])) == _length(_run([0.5], [5.0]))


def test_runs_apart_stay_apart():
    """Two runs farther apart than their widths do not merge."""
    assert _run([0.3, 0.2], [5.0, 6.0]).parent.tolist() == [-1, -1]


def test_ledge_holds_more():
    """A run leaves more in the row above a ledge than in the rows before it."""
    left = _run([0.5], [5.0], _ground(ledge_row=60)).left  # one run from the first row on: entries are rows
    assert left[60] > 3 * left[55]


def test_run_turns_from_rising_ground():
    """Ground that rises to the right sends the run to the left."""
    ground = _ground()
    lean = np.full(ground.lean.shape, 0.3)
    runs = _run([0.5], [5.0], pr.Ground(ground.drag, lean, ground.ledge, 0.1))
    assert runs.col[100] < 4.0


def test_pigment_is_kept_and_dark_below():
    """On an evenly stained wall a run lays more in the lower half than in the upper; lifted = laid + run
    off.
    """
    runs = _run([0.4], [5.0])
    offered = np.full((runs.volume.size, 1), 0.01)
    taken, laid, off = pr.carry(runs, offered, np.full(runs.volume.shape, 0.02), 3.0)
    assert taken.sum() == pytest.approx(laid.sum() + off.sum(), rel=1e-12)
    middle = runs.last[0] // 2
    net = (laid - taken)[:, 0]
    assert net[:middle].sum() < 0 < net[middle:].sum()


def test_load_of_a_child_goes_on_in_its_parent():
    """What a merged run carried is laid by the run it joined."""
    ground = _ground()
    wander = np.zeros((200, 2))
    wander[:, 1] = -0.2
    runs = pr.descend(
        np.array([0, 0]), np.array([5.0, 5.6]), np.array([0.4, 0.3]), ground=ground, wander=wander, law=LAW
    )
    join = runs.last[1]
    assert runs.parent[1] == 0 and 5 < join < 60
    offered = np.where((runs.row == 2) & (runs.run == 1), 1.0, 0.0)[:, None]
    _, laid, off = pr.carry(runs, offered, np.zeros(runs.volume.shape), 100.0)
    assert laid[runs.run == 0].sum() + off[0].sum() == pytest.approx(1.0, rel=1e-12)


def test_cross_section_pale_middle_dark_sides():
    """Lifting is greatest in the middle, laying at the sides: net colour is less at u = 0 and more at |u|
    = 1.
    """
    edges = np.linspace(-1.5, 1.5, 61)
    net = np.diff(pr.rim_share(edges)) - np.diff(pr.trough_share(edges))
    middles = (edges[1:] + edges[:-1]) / 2
    assert net[np.argmin(abs(middles))] < 0 < net[np.argmin(abs(middles - 1.0))]
    assert net.sum() == pytest.approx(0.0, abs=1e-12)


def test_profiles_are_cumulative_shares():
    """Both profiles rise from 0 to 1, are half at the middle, and do not fall."""
    u = np.linspace(-2, 2, 201)
    for share in (pr.trough_share(u), pr.rim_share(u)):
        assert share[0] == 0 and share[-1] == 1 and share[100] == pytest.approx(0.5)
        assert np.diff(share).min() >= -1e-15


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.01, 2), st.floats(0.2, 9.8), st.integers(0, 150)), min_size=1, max_size=25),
    st.integers(0, 2**31),
)
def test_volume_is_kept(heads, seed):
    """Started = left on the wall + off at the floor, to 1e-12, whatever merges."""
    rng = np.random.default_rng(seed)
    volume, col, first = (np.array(v) for v in zip(*heads, strict=True))
    drag, lean, ledge = rng.uniform(0.3, 2, (200, 100)), rng.normal(0, 0.2, (200, 100)), rng.uniform(0, 0.2, (200, 100))
    ground = pr.Ground(drag, lean, ledge, 0.1)
    runs = pr.descend(first, col, volume, ground=ground, wander=rng.normal(0, 0.2, (200, len(heads))), law=LAW)
    assert runs.left.sum() + runs.tail.sum() + runs.off.sum() == pytest.approx(volume.sum(), rel=1e-12)


def test_entries_are_run_by_run_and_downwards():
    """Each run has one entry for each row from its first to its last, and ``downward`` goes through all by rows."""
    runs = _run([0.3, 0.5, 0.2], [5.0, 2.0, 5.04], first=3)
    for run in range(3):
        assert runs.row[runs.run == run].tolist() == list(range(runs.first[run], runs.last[run]))
    assert (np.diff(runs.run) >= 0).all()
    assert sorted(runs.downward.tolist()) == list(range(runs.row.size))
    assert (np.diff(runs.row[runs.downward]) >= 0).all()


def test_broad_cells_are_read_by_their_breadth():
    """On cells twice as broad as a step is high a bank in the fourth column, .6 to .8 in, turns a run at .7 in."""
    lean = np.zeros((200, 50))
    lean[:, 3] = 0.3
    plain = np.ones((200, 50))
    runs = _run([0.5], [0.7], pr.Ground(plain, lean, 0.0 * plain, 0.2))
    beside = _run([0.5], [0.9], pr.Ground(plain, lean, 0.0 * plain, 0.2))
    assert runs.col[20] < 0.61
    assert beside.col[20] == 0.9


def test_finer_rows_are_the_same_runs():
    """On rows half as high a run is where it was, its volumes are the same, and a bend between is round: the middle
    between rows lies on the parabola through them.
    """
    wander = np.outer(np.linspace(-0.2, 0.2, 200), np.ones(1))
    runs = pr.descend(np.zeros(1, int), np.array([5.0]), np.array([0.5]), ground=_ground(), wander=wander, law=LAW)
    fine = runs.finer()
    assert fine.step == 0.05 and fine.first.tolist() == [0] and fine.last.tolist() == [2 * runs.last[0]]
    assert np.array_equal(fine.row, np.arange(2 * runs.row.size))
    assert np.array_equal(fine.col[::2], runs.col)
    assert fine.left.sum() == pytest.approx(runs.left.sum())
    middle = np.interp(fine.row / 2, runs.row, runs.col)
    bow = fine.col - middle  # a chord lies off an arc by an eighth of the second difference
    second = runs.col[2:] - 2 * runs.col[1:-1] + runs.col[:-2]
    assert bow[41:81:2] == pytest.approx(-second[20:40] / 8, abs=2e-5)


def test_bad_start_is_refused():
    """A run without volume is a fault of the caller."""
    with pytest.raises(ValueError, match="positive volume"):
        _run([0.0], [5.0])
