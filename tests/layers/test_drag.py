"""Drag: lines along the way asked, spaced as asked, nothing lost."""

from dataclasses import replace

import numpy as np
import pytest
import wetwalls

from render.fields import Grid
from render.layers import drag
from render.layers.drag import _TOOL_IN, Drag, _Fine, _Passes, _strokes, _Tool
from render.seeds import Streams


@pytest.mark.parametrize("tool", ["brush", "comb"])
@pytest.mark.parametrize("way", ["upright", "level"])
def test_lines_run_the_way_asked(tool, way):
    """The film varies several times as much across the lines as along them."""
    before = wetwalls.coloured(wetwalls.smooth(size=8.0), 3.0)
    film = wetwalls.lay(Drag(name="drag", tool=tool, way=way), before).stratum("colour").film
    down, right = (np.abs(np.diff(film, axis=a)).mean() for a in (0, 1))
    assert (right > 3 * down) if way == "upright" else (down > 3 * right)


def test_account_closes():
    """The colour keeps its amount to 1e-6."""
    wall = wetwalls.lay(Drag(name="drag"), wetwalls.coloured(wetwalls.relief(), 3.0))
    assert wetwalls.balance(wall) < 1e-6
    assert abs(wall.ledger["colour"].run_off) < 1e-6 * wall.ledger["colour"].added


def test_comb_spacing():
    """A comb of .4 in leaves its strongest wave finer than the tool's half at .4 in, within a twentieth."""
    before = wetwalls.coloured(wetwalls.smooth(size=16.0), 3.0)
    film = wetwalls.lay(Drag(name="drag", tool="comb", spacing="0.4 in"), before).stratum("colour").film
    power = np.abs(np.fft.rfft(film - film.mean(), axis=1)) ** 2
    waves = np.fft.rfftfreq(film.shape[1], 1 / 25.0)
    wave = waves[np.where(waves > 2.0 / _TOOL_IN, power.mean(0), 0.0).argmax()]
    assert 1 / wave == pytest.approx(0.4, rel=0.05)


def test_strength():
    """Cleaner lines differ more."""
    before = wetwalls.coloured(wetwalls.smooth(size=6.0), 3.0)
    soft, clean = (
        wetwalls.lay(Drag(name="drag", strength=s), before).stratum("colour").film.std() for s in ("20 %", "90 %")
    )
    assert clean > 2 * soft


def test_bristles_scratch_to_the_ground_between_ridges():
    """A clean drag leaves a twentieth of the wall under .4 of the mean film and a twentieth over 1.5 of it, in lines:
    half the wall across a line's .05 in differs by a fifth or more.
    """
    before = wetwalls.coloured(wetwalls.smooth(size=6.0), 3.0)
    film = wetwalls.lay(Drag(name="drag", strength="100 %", spacing="0.08 in"), before).stratum("colour").film
    film = film[20:-20] / film.mean()
    assert np.quantile(film, 0.05) < 0.4 and np.quantile(film, 0.95) > 1.5
    assert np.median(np.abs(np.diff(film, axis=1))) > 0.1


def test_hairs_are_fine_and_set_in_and_lift_off():
    """Close up, what changes along a fine brush's way is alike across it over .25 mm and little over half a mm, and
    along it has changed by a quarter over .3 in, by more than half over .6 in.
    """
    before = wetwalls.coloured(wetwalls.smooth(size=6.0, ppi=100.0), 3.0)
    film = wetwalls.lay(Drag(name="drag", strength="95 %", spacing="0.045 in"), before).stratum("colour").film
    film = film[100:-100] - film[100:-100].mean()
    film -= film.mean(0)  # a line that runs all along is no hair
    by = film.var()
    near, far = (float((film[:, lag:] * film[:, :-lag]).mean() / by) for lag in (1, 2))
    assert near > 0.5 and far < 0.33  # a third, since some hairs are twice as wide as others
    soon, late = (float((film[lag:] * film[:-lag]).mean() / by) for lag in (30, 60))
    assert soon < 0.75 and late < 0.45


def test_a_scratch_is_bare_and_a_ridge_stands_beside_it():
    """Across a scratch of even slopes less than a tenth of the colour is left in it and more than twice as much as laid
    on beside it, and between the two lies a twentieth of the way; far off about as much as was laid on. Pressed
    harder it is wider, and the ridges stand farther apart.
    """
    across = np.linspace(-4.0, 4.0, 801, dtype=np.float32)  # .01 to a step
    soft, hard = (np.exp(drag._scratched(1.0 - np.abs(across), np.full_like(across, press))) for press in (0.8, 1.5))
    for left in (soft, hard):
        ridges = np.flatnonzero(left > 2.0)
        assert left[400] < 0.1 and left.max() < 4.0 and 0.4 < left[[0, 50, 750, 800]].min() < 1.5
        one = ridges[ridges > 400].min()
        assert 0.0 < one - np.flatnonzero(left < 0.2).max() < 40
    apart = [np.ptp(np.flatnonzero(left < 0.2)) for left in (soft, hard)]
    assert apart[1] > apart[0] + 50


def test_a_leaning_hair_keeps_its_strength():
    """A hair one column wide that leans by a column in seven rows has its full strength in every row, .5 columns or
    less from its place.
    """
    fine = _Fine.over(Grid.over(8.0, 8.0, 25.0))
    hair = np.zeros((fine.rows, fine.cols), np.float32)
    hair[:, 200] = 1.0
    lean = np.arange(fine.rows, dtype=np.float32)[:, None] / np.float32(7.0 * fine.across)
    out = fine.aside(hair, np.broadcast_to(lean, hair.shape))
    assert np.array_equal(out.sum(1), np.ones(fine.rows))
    assert np.abs(out.argmax(1) - (200.0 - lean[:, 0] * fine.across)).max() <= 0.5 + 1e-3


def test_a_brush_leaves_its_own_pattern_in_each_pass():
    """Where its bristles score alike, what a worn brush leaves an inch from the edge of one pass it leaves in the next
    that is pressed as hard; another pour's brush leaves another.
    """
    fine = _Fine.over(Grid.over(20.0, 30.0, 25.0))
    rows = []
    for pour in (2, 3):
        passes, tool = (
            _Passes.over(fine, 0, 1, 0.3, Streams(pour, "drag")),
            drag._bristles(fine, 0.05, Streams(pour, "drag")),
        )
        even = replace(passes, marks=(), press=np.ones_like(passes.press), heavy=passes.heavy * 0, bead=passes.bead * 0)
        row = even.drawn(replace(tool, lines=tool.lines * 0 - 0.5, sway=tool.sway * 0), 5)[125]
        at = [round(float(edge) * fine.across) + 70 for edge in passes.left[125, 2:5]]
        rows.append([row[one : one + 45] for one in at])
    (one, next_, last), other = rows[0], rows[1][0]
    assert np.corrcoef(one, next_)[0, 1] > 0.9 and np.corrcoef(one, last)[0, 1] > 0.9
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.8


@pytest.mark.parametrize("way", ["upright", "level"])
def test_it_stops_heavier_at_both_ends(way):
    """The quarter inch at either end of the strokes holds a fifth more than the inches between."""
    before = wetwalls.coloured(wetwalls.smooth(size=8.0), 3.0)
    film = wetwalls.lay(Drag(name="drag", way=way, strength="90 %"), before).stratum("colour").film
    along = film.mean(1 if way == "upright" else 0)
    middle = along[50:-50].mean()
    assert along[:6].mean() > 1.2 * middle and along[-6:].mean() > 1.2 * middle


def test_ridges_stand_up_as_they_dry():
    """The surface rises by .35 of the colour that came and falls by .35 of what left: its mean stays."""
    before = wetwalls.coloured(wetwalls.smooth(size=6.0), 3.0)
    after = wetwalls.lay(Drag(name="drag"), before)
    moved = after.stratum("colour").film - before.stratum("colour").film
    assert np.allclose(after.height - before.height, 0.35 * moved, atol=1e-4)
    assert abs(float((after.height - before.height).mean())) < 1e-4
    assert float((after.height - before.height).std()) > 0.1


def test_lines_waver_and_never_stand_dead_straight():
    """A line of a fine brush followed for a foot and a half strays from the straight between its ends by a fiftieth of
    an inch or more in nine of ten, and never by half an inch.
    """
    fine = _Fine.over(Grid.over(48.0, 48.0, 12.5))
    tool = drag._bristles(fine, 0.05, Streams(2, "drag"))
    passes = _Passes.over(fine, 0, 1, tool.aside, Streams(2, "drag"))
    stands = (tool.sway - passes.spread(passes.shift))[150:375, 200::50]
    straight = np.linspace(0.0, 1.0, len(stands))[:, None]
    strays = np.abs(stands - stands[0] - straight * (stands[-1] - stands[0])).max(0)
    same = np.abs(np.diff(passes.spread(np.arange(passes.left.shape[1]))[150:375, 200::50], axis=0)).max(0) == 0
    assert np.quantile(strays[same], 0.1) > 0.02 and strays[same].max() < 0.5


def test_a_brush_runs_out_down_its_pass():
    """Over a hundred passes the third of the way below the set-down's mark has more colour and is more strongly combed
    than the last third above the lift's.
    """
    fine = _Fine.over(Grid.over(48.0, 260.0, 12.5))
    passes = [_Passes.over(fine, 0, 1, 0.3, Streams(pour, "drag")) for pour in range(2)]
    press, heavy = (np.concatenate([getattr(one, what) for one in passes], 1) for what in ("press", "heavy"))
    assert press[40:200].mean() > 1.1 * press[400:560].mean()
    assert heavy[40:200].mean() > heavy[400:560].mean() + 0.03


def test_two_passes_of_five_stop_on_their_way():
    """Of a thousand passes 400, give or take 50, stop between .15 and .85 of the way; a comb's lines go on as they
    stood.
    """
    stops, slips = drag._stops(1000, 0.35, np.random.default_rng(3))
    on = stops < 1.0
    assert abs(on.sum() - 400) < 50 and stops[on].min() >= 0.15 and stops[on].max() <= 0.85
    assert slips.std() > 0.02 and not drag._stops(1000, 0.0, np.random.default_rng(3))[1].any()


def test_marks_where_a_brush_is_set_on_stops_and_is_lifted():
    """Each pass of a wall 48 in high is set on within .8 in of its top and lifted within .7 in of its foot; one that
    stops 20 in down has a mark there, one that never does has none.
    """
    first, second = ([one for one in drag._marks(np.array([20.0, 400.0]), 48.0, (True, True), np.random.default_rng(1))
                      if one.number == number] for number in (0, 1))  # fmt: skip
    assert [len(first), len(second)] == [3, 2] and first[1].at == 20.0
    for every in (first, second):
        assert every[0].at <= 0.8 and every[-1].at >= 47.3 and min(one.size for one in every) > 0.2
    inner = drag._marks(np.array([400.0]), 120.0, (False, False), np.random.default_rng(1))
    assert not inner


def test_a_mark_lies_in_its_own_pass_alone():
    """Colour stands higher at a stop than a foot above and below it, and the passes beside it know nothing of it."""
    fine = _Fine.over(Grid.over(48.0, 24.0, 12.5))
    passes, tool = _Passes.over(fine, 0, 1, 0.3, Streams(2, "drag")), plain(fine)
    bare, number = replace(passes, marks=()).drawn(tool, 5), 3
    marked = replace(passes, marks=(drag._Mark(number, 24.0, 0.5, 0.2, 0.5, 1.0),)).drawn(tool, 5)
    own, more = passes.spread(np.arange(passes.left.shape[1])) == number, marked - bare
    assert not more[~own].any() and np.abs(more[[150, 450]]).max() == 0.0
    assert np.median(more[300][own[300]]) > 0.1


def plain(fine):
    """A tool that leaves no lines, so that only passes and strokes show."""
    nothing = np.zeros((fine.rows, fine.cols), np.float32)
    return _Tool(nothing, nothing, 0.3, np.multiply)


def test_a_stroke_longer_than_a_reach_overlaps_the_next():
    """On a wall 10 ft high strokes meet once, about half-way, where more lies than a foot above and below; on one of
    4 ft nowhere.
    """
    for tall, meets in ((120.0, True), (48.0, False)):
        fine = _Fine.over(Grid.over(tall, 48.0, 12.5))
        ends = _strokes(fine, plain(fine), Streams(2, "drag")).mean(1)
        middle, row = len(ends) // 2, round(16.0 * 12.5)
        heavier = ends[middle - 20 : middle + 20].mean() > ends[[middle - row, middle + row]].max() + 0.04
        assert heavier == meets


def test_strokes_meet_at_another_height_in_each_pass():
    """The second strokes start between 53 and 67 in down a wall of 120 in, no two at the same height."""
    fine = _Fine.over(Grid.over(120.0, 48.0, 12.5))
    starts = _Passes.over(fine, 1, 2, 0.3, Streams(2, "drag")).starts
    assert starts.min() >= 53.0 and starts.max() <= 67.0
    assert np.unique(starts).size == starts.size and np.ptp(starts) > 5.0


def test_passes_lap_over_one_another():
    """Each pass is the tool's width or less, its edge never stands still, and it lies double over its neighbour for
    up to .4 of the width: there more colour lies than in the rest of it, by a tenth or more.
    """
    fine = _Fine.over(Grid.over(48.0, 48.0, 12.5))
    passes = _Passes.over(fine, 0, 1, 0.3, Streams(2, "drag"))
    inner = passes.left[:, 2:-2]
    assert np.diff(inner, axis=1).max() < 1.2 * _TOOL_IN and (inner.std(0) > 0.01).all()
    assert 0.0 < passes.lap[:, 1:].mean() < 0.4 * _TOOL_IN
    left, inside = passes.drawn(plain(fine), 5), fine.col_in - passes.spread(passes.left)
    double = (inside > 0.05) & (inside < passes.spread(passes.lap) - 0.15)
    once = inside > passes.spread(passes.lap) + 0.5
    assert left[double].mean() > left[once].mean() + 0.1


def test_each_place_has_its_pass():
    """What is spread over a lattice is each pass's own between its left edge and the next's, within a column."""
    fine = _Fine.over(Grid.over(10.0, 20.0, 12.5))
    passes = _Passes.over(fine, 0, 1, 0.3, Streams(2, "drag"))
    number = passes.spread(np.arange(passes.left.shape[1], dtype=np.float32))
    row, at = 40, fine.col_in[0]
    expected = np.clip(np.searchsorted(passes.left[row], at, side="right") - 1, 0, None)
    near = np.abs(at[:, None] - passes.left[row]).min(1) < 1.0 / fine.across
    assert np.array_equal(number[row][~near], expected[~near])


def test_a_coarse_picture_has_the_same_hairs():
    """Hairs of .016 in are drawn at the same places whatever the picture: at 12.5 px/in lies what at 25 px/in lies on
    the mean of four pixels.
    """
    films = []
    for ppi in (12.5, 25.0):
        before = wetwalls.coloured(wetwalls.smooth(size=12.0, ppi=ppi), 3.0)
        films.append(wetwalls.lay(Drag(name="drag", spacing="0.045 in"), before).stratum("colour").film)
    coarse, fine = films
    halved = fine.reshape(len(coarse), 2, -1, 2).mean((1, 3))
    assert np.corrcoef(coarse.ravel(), halved.ravel())[0, 1] > 0.98
