"""Block lines: sizes, courses and the hand's wander."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render import bond
from render.bond import Bond
from render.fields import Grid

GRID = Grid.over(48.0, 60.0, 10.0)


def test_share_of_straight_lines_is_the_closed_form() -> None:
    """Lines 1 in wide round blocks of 12 x 20 in take 1 - (11/12)(19/20) of the wall."""
    layout = Bond(12.0, 20.0, "stacked", 0.0)
    drawn = float(np.mean(bond.draw(GRID, layout, 1).away < 0.5))
    assert bond.share(layout, 1.0) == pytest.approx(1 - 11 / 12 * 19 / 20)
    assert drawn == pytest.approx(bond.share(layout, 1.0), abs=0.01)


def test_courses_lie_at_their_height() -> None:
    """Without wander the level lines of 12 in courses run at 12, 24 and 36 in."""
    lines = bond.draw(GRID, Bond(12.0, 20.0, "running", 0.0), 1)
    clear = lines.level[:, 150]
    middle = GRID.row_in[clear & (lines.away[:, 150] < 0.051)]
    assert sorted({round(float(r) / 12.0) * 12 for r in middle}) == [0, 12, 24, 36, 48]
    assert np.all(np.abs(middle / 12.0 - np.rint(middle / 12.0)) < 0.051 / 12.0 + 1e-6)


def test_running_bond_sets_each_course_half_a_block_on() -> None:
    """The upright lines of one course stand in the middle of the blocks of the next, and of none in a stacked bond."""
    for pattern, apart in (("running", 10.0), ("stacked", 0.0)):
        away = bond.draw(GRID, Bond(12.0, 20.0, pattern, 0.0), 1).away  # type: ignore[arg-type]
        first, second = (GRID.col_in[np.argsort(away[row])[:2]] % 20.0 for row in (60, 180))
        gap = abs(float(first[0]) - float(second[0])) % 20.0
        assert min(gap, 20.0 - gap) == pytest.approx(apart, abs=0.11)


@settings(max_examples=20, deadline=None)
@given(st.floats(1.0, 40.0), st.floats(1.0, 60.0), st.sampled_from(["running", "stacked", "broken"]), st.floats(0, 0.5))
def test_nothing_is_farther_than_half_a_course(tall: float, wide: float, pattern: str, wander: float) -> None:
    """No place is farther from a line than half a block's shorter side and the wander."""
    lines = bond.draw(Grid.over(20.0, 20.0, 4.0), Bond(tall, wide, pattern, wander), 2)  # type: ignore[arg-type]
    assert lines.away.min() >= 0
    assert lines.away.max() <= 0.5 * min(tall, wide) + 1.01 * wander + 1e-4
    assert np.unique(lines.block).size >= (20 // max(tall, wide)) ** 2


def test_lines_do_not_depend_on_the_layer() -> None:
    """A layout is drawn on the same places for whoever asks in the same pour, and elsewhere in another pour."""
    layout = Bond(12.0, 20.0, "broken", 0.1)
    first, again, other = (bond.draw(GRID, layout, pour).away for pour in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_blocks_differ_as_much_as_asked() -> None:
    """With 30 % of variation blocks 20 in long are 14 to 26 in, not all of one length; courses vary half as much."""
    layout = Bond(12.0, 20.0, "broken", 0.0, 0.3)
    lines = bond.draw(Grid.over(60.0, 300.0, 5.0), layout, 3)
    row = int(np.argmax(np.abs(lines.down[:, 0])))  # the middle of a course
    at = np.flatnonzero(np.diff(np.sign(lines.right[row])) > 0)
    long = np.diff(at) / 5.0
    assert 14.0 - 0.4 <= long.min() < 18.0
    assert 22.0 < long.max() <= 26.0 + 0.4
    beds = np.diff(np.flatnonzero(np.diff(np.sign(lines.down[:, 0])) > 0)) / 5.0
    assert np.all(np.abs(beds - 12.0) <= 0.15 * 12.0 + 0.4)
    assert beds.max() - beds.min() > 0.4


def test_a_wall_cut_out_of_a_longer_one_starts_with_no_sliver() -> None:
    """Where blocks vary, the first course is at least .45 - .15/2 of a course high in every pour."""
    layout = Bond(12.0, 20.0, "running", 0.0, 0.15)
    first = []
    for pour in range(1, 30):
        down = bond.draw(GRID, layout, pour).down[:, 0]
        first.append(GRID.row_in[np.flatnonzero(np.diff(np.sign(down)) > 0)[0]])
    assert min(first) > 12.0 * (0.45 - 0.075)
    assert max(first) - min(first) > 3.0


def test_uprights_run_past_their_beds() -> None:
    """Asked for 1 in, uprights of a running bond go on past a bed, none farther than that, and no two alike."""
    layout = Bond(12.0, 20.0, "running", 0.0)
    plain, past = (bond.draw(GRID, layout, 1, past_in=far) for far in (0.0, 1.0))
    new = (np.abs(past.right) < 0.06) & (np.abs(plain.right) > 1.0)
    assert 0.5 < float(np.abs(past.down[new]).max()) <= 1.0
    lengths = {
        round(float(np.abs(past.down[new & (past.upright == one)]).max()), 1) for one in np.unique(past.upright[new])
    }
    assert len(lengths) > 3
    assert np.array_equal(plain.block, past.block)


def test_what_is_spare_of_a_line_run_past() -> None:
    """An upright run past its bed has as much to spare as it still goes: with what it went, up to the 1 in asked."""
    lines = bond.draw(GRID, Bond(9.0, 18.0, "running", 0.0), 1, past_in=1.0)
    past = np.isfinite(lines.spare)
    assert np.count_nonzero(past) > 0 and float(lines.spare.min()) > 0.0
    assert float((lines.spare + np.abs(lines.down))[past].max()) <= 1.0 + 1e-6
    ends = (lines.spare + np.abs(lines.down))[past]
    for one in np.unique(lines.upright[past]):
        own = ends[lines.upright[past] == one]
        assert np.unique(np.round(own, 3)).size <= 2  # one end above, one below
    assert not np.isfinite(bond.draw(GRID, Bond(9.0, 18.0, "running", 0.0), 1).spare).any()
