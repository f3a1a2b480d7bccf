"""Patina grown on a metal coat."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from render import flow, trails
from render.estimate.cautions import for_finish
from render.fields import Array, Grid
from render.finish import read
from render.layers import patina
from render.physics.runs import Runs
from render.pipeline import Site, build
from render.seeds import Streams
from render.wall import Wall

SITE = Site(24.0, 24.0, 12.5, 6)
IRON = {"kind": "brushed_coat", "name": "iron", "material": "iron paint", "spread": "220 ft2/gal"}


def grown(**more: Any) -> tuple[Wall, Wall]:
    """An iron coat before and after it turned."""
    rust = {"kind": "patina", "name": "rust", "material": "rust activator", "coverage": "55 %", "spread": "600 ft2/gal"}
    built = build(read({"name": "t", "layer": [IRON, {**rust, **more}]}), SITE, keep_walls=True)
    return built.walls[0], built.walls[1]


@pytest.mark.parametrize("method", ["sprayed", "brushed", "sponged"])
def test_hearts_are_thick_and_rims_thin(method: str) -> None:
    """Half an inch inside a patch the oxide is at least three times as thick as within a tenth of its rim."""
    film = grown(method=method)[1].stratum("rust").film
    inside = ndimage.distance_transform_edt(film > 0) / SITE.ppi
    rim, heart = (inside > 0) & (inside < 0.1), inside > 0.5
    assert float(film[heart].mean()) > 3.0 * float(film[rim].mean())


@pytest.mark.parametrize("method", ["sprayed", "brushed", "sponged"])
def test_it_grows_from_nothing_through_every_thickness(method: str) -> None:
    """The thinnest fiftieth is under a twelfth of the mean, the thickest tenth over twice, and no sixteenth of the
    range between them is empty.
    """
    film = grown(method=method)[1].stratum("rust").film
    on = film[film > 0] / float(film[film > 0].mean())
    thin, thick = np.quantile(on, [0.02, 0.9])
    assert thin < 1 / 12 and thick > 2.0
    assert (
        np.histogram(np.log(on), 16, (np.log(thin), np.log(thick)))[0].min() > 0.003 * on.size
    )  # a puddle has little that is thinner than its line


@pytest.mark.parametrize("radius", [0.01, 0.03, 0.11])
def test_a_droplet_keeps_its_area(radius: float) -> None:
    """A lone droplet covers pi r2 whether it is smaller or larger than a pixel, wherever it falls in one."""
    grid = Grid.over(2.0, 2.0, 12.5)
    for at in (0.96, 1.0, 1.03):
        area = float(patina._dots(grid, *(np.array([v]) for v in (at, 1.0, radius))).sum()) / grid.ppi**2
        assert area == pytest.approx(np.pi * radius**2, rel=0.05)


LAYER = patina.Patina(name="rust", material="rust activator", runs="80 %")
EVEN = np.zeros((1, 1), np.float32)


def ways(ppi: float, col: list[float], volume: list[float], leans: float = 0.0, **law: float) -> tuple[Grid, Runs]:
    """Runs from an inch below the top of a bare wall 24 x 4 in: the grid and how they went. They keep plumb, or lean
    toward its middle.
    """
    wall = Wall.bare(24.0, 4.0, ppi)
    bed, start = flow.Bed(wall), (np.full(len(col), 1.0), np.array(col), np.array(volume))
    course = np.where(bed.wet.col_in < 2.0, leans, -leans) * np.ones((bed.wet.rows // 2, 1))
    return wall.grid, trails.sweep(bed, *start, law=replace(patina._LAW, **law), drawn=course.astype(np.float32))


def left(grid: Grid, runs: Runs, frays: Array | None = None) -> patina._Left:
    """What those runs leave."""
    return LAYER._left(grid, runs, np.zeros(grid.shape, np.float32) if frays is None else frays, Streams(2, "rust"))


def test_it_runs_out_of_wet_places_downwards() -> None:
    """Out of a wet band it runs below, fading, and nowhere above it nor where no wet place lies over."""
    wall = Wall.bare(24.0, 12.0, 12.5)
    wet = np.full(wall.grid.shape, -1.0, np.float32)
    wet[50:75, :75] = 1.5
    ran = LAYER._run(wall, np.zeros(wall.grid.shape, np.float32), wet, wet, Streams(1, "rust")).ran > 0.05
    assert not ran[:50].any() and not ran[:, 100:].any()
    near, far = np.count_nonzero(ran[75:125]), np.count_nonzero(ran[250:])
    assert near > 1.5 * far > 0 and near > 100


@pytest.mark.parametrize("ppi", [12.5, 25.0, 50.0, 100.0])
def test_a_run_falls_off_to_both_sides(ppi: float) -> None:
    """Across a run that nothing frays its body rises to one middle and falls, without a step where a pixel shows it."""
    grid, runs = ways(ppi, [2.0], [3.0], width=0.18)
    assert runs.last[0] * runs.step > 5.0
    shaped, *along = LAYER._along(grid, runs, Streams(2, "rust"))
    frays = np.zeros(grid.shape, np.float32)
    pixel, _, over, tide, _ = LAYER._crossed(grid, shaped, along, frays, Streams(2, "rust"))
    body = patina._gathered(grid, pixel, over)[round(2.0 * ppi) : round(5.0 * ppi)]
    slope = np.diff(body, axis=1)
    falling = np.maximum.accumulate(slope < -1e-5, axis=1)
    assert body.max() > 0.3 and not np.any(falling & (slope > 1e-5))
    assert np.abs(slope).max() < (0.5 if ppi > 60.0 else 1.01) and tide.max() > 0.0


def test_a_run_is_thin_in_its_middle_and_stains_beside_it() -> None:
    """A run wide enough to see has less oxide, and darker, in its middle than at its sides, and dark metal beside."""
    grid, runs = ways(100.0, [2.0], [3.0], width=0.18)
    lies = left(grid, runs)
    rows = range(250, 450, 20)
    for row in rows:
        body = np.flatnonzero(lies.ran[row] > 0.5)
        assert body.size > 9
        middle, rims = body[body.size // 2], (body[:3], body[-3:])
        for rim in rims:
            assert lies.dried[row, middle] < 0.9 * lies.dried[row, rim].max()
            assert lies.salt[row, middle] < 0.0 < lies.salt[row, rim].max()
        assert lies.salt[row, body[0] - 4 : body[0]].min() < 0.0


@pytest.mark.parametrize("ppi", [12.5, 25.0, 50.0])
def test_a_run_keeps_its_oxide_at_every_resolution(ppi: float) -> None:
    """What runs leave is, within a twentieth, what they leave at 100 px/in."""
    whole = []
    for one in (ppi, 100.0):
        grid, runs = ways(one, [0.8, 2.0, 3.2], [0.5, 1.2, 4.0])
        whole.append(float(left(grid, runs).dried.sum()) / one**2)
    assert whole[0] == pytest.approx(whole[1], rel=0.05)


def test_runs_that_meet_go_on_as_one() -> None:
    """Below the place where two runs meet there is one body, broader than either was, with no rim inside it."""
    grid, runs = ways(100.0, [1.7, 2.3], [3.0, 2.0], leans=0.1)
    child = np.flatnonzero(runs.parent >= 0)
    assert child.size == 1 and runs.last[child[0]] - runs.first[child[0]] > 5
    shaped = patina._shaped(runs, np.ones(2), np.ones(runs.run.size))
    last, onto = int(runs.last[child[0]]), int(runs.parent[child[0]])
    begin = runs.start[onto] - runs.first[onto]
    above = shaped.half[begin + last - 1], shaped.half[runs.start[child[0]] + last - 1 - runs.first[child[0]]]
    assert shaped.half[begin + last] > 1.15 * max(above)
    lies, below = left(grid, runs), round((last + 1) * runs.step * grid.ppi)
    for row in range(below, below + 100, 10):
        on = np.flatnonzero(lies.ran[row] > 0.3)
        assert on.size == np.ptp(on) + 1  # one body
        core = on[on.size // 3 : -(on.size // 3)]
        assert lies.salt[row, core].max() < 0.0


def test_a_run_ends_in_a_drop_where_it_stopped() -> None:
    """A run that stopped is all drop in its last row and none of it an inch above; one that left the wall has none."""
    wall = Wall.bare(60.0, 24.0, 12.5)
    full = np.linspace(0.5, 200.0, 40)
    went = trails.sweep(flow.Bed(wall), np.full(40, 0.5), np.linspace(1.0, 23.0, 40), full, key=3)
    bead, above = patina._beads(went), (went.last[went.run] - 1 - went.row) * went.step
    stopped = ((went.parent < 0) & (went.off == 0))[went.run]
    assert 0 < np.count_nonzero(stopped) < stopped.size
    assert bead[~stopped].max() == 0.0 and bead[stopped & (above == 0.0)].min() == 1.0
    assert bead[stopped & (above > 1.0 + 9.0 * went.half)].max() < 0.01


def test_a_run_keeps_its_breadth() -> None:
    """Without swells a run narrows all the way, by less than the square root of what its head does."""
    wall = Wall.bare(60.0, 24.0, 12.5)
    full = np.linspace(0.5, 200.0, 40)
    went = trails.sweep(flow.Bed(wall), np.full(40, 0.5), np.linspace(1.0, 23.0, 40), full, key=3)
    shaped = patina._shaped(went, np.ones(went.first.size), np.ones(went.run.size))
    end, alone = np.append(went.start[1:], went.run.size) - 1, ~np.isin(np.arange(went.first.size), went.parent)
    assert np.all(np.diff(shaped.half)[(np.diff(went.run) == 0) & alone[went.run[1:]]] < 0.0)
    kept, shrank = (one.half[end[alone]] / one.half[went.start[alone]] for one in (shaped, went))
    assert np.all(kept >= np.sqrt(shrank)) and shrank.min() < 0.5 and alone.sum() > 20


def test_a_run_ends_in_a_round_drop_broader_than_itself() -> None:
    """The drop is widest near its foot, by a quarter and more than the run there, and round below: within a
    pixel of 100 to the inch on either side it is no deeper than a disc.
    """
    grid, runs = ways(100.0, [2.0], [1.2])
    shaped = patina._shaped(runs, np.ones(1), np.ones(runs.run.size))
    wide = np.count_nonzero(patina._drops(grid, shaped) > 0.5, 1) / grid.ppi
    widest, lowest = (int(np.flatnonzero(one)[-1]) for one in (wide >= wide.max(), wide > 0))
    assert wide.max() > 1.25 * 2.0 * shaped.half[-1]
    assert 0.4 * wide[widest] < wide[lowest] and (lowest - widest) / grid.ppi < 0.5 * wide.max() + 0.01


def test_the_metal_is_dark_beside_a_run_and_not_farther() -> None:
    """Next to what ran the margin is dark, in it and a tenth of an inch beside it there is none, at any resolution."""
    for ppi in (25.0, 50.0, 100.0):
        ran = np.zeros((40, round(2.0 * ppi)), np.float32)
        edge = round(ppi)
        ran[:, :edge] = 1.0
        margin = patina._margin(Grid(40, ran.shape[1], ppi), ran)[20]
        assert margin[edge] > 0.7 and margin[:edge].max() == 0.0 and margin[edge + round(0.1 * ppi) :].max() < 1e-6


def test_runs_side_by_side_have_no_rim_between_them() -> None:
    """Two runs half over one another are one wet body: salts dry at its sides alone, in most rows at both. (In some the
    dark metal beside it takes one side's last few.)
    """
    grid, runs = ways(100.0, [1.92, 2.08], [3.0, 3.0], width=0.18, touch=0.0)
    assert runs.parent.max() < 0
    lies = left(grid, runs)
    both = 0
    for row in range(200, 400, 10):
        bands, count = ndimage.label(lies.salt[row] > 0.05)
        body, found = np.flatnonzero(lies.ran[row] > 0.3), np.flatnonzero(bands)
        both += int(count == 2)
        assert count <= 2 and np.minimum(found - body[0], body[-1] - found).max(initial=0) < 10 < body.size - 20
    assert both > 15


def test_the_drop_at_its_end_is_a_crust_ringed_with_dark_metal() -> None:
    """The drop in which a run stopped has half as much oxide again as its way at least, and darker metal about it."""
    grid, runs = ways(50.0, [2.0], [1.2])
    lies, end = left(grid, runs), runs.last[0] * runs.step
    assert 3.0 < end < 22.0
    way, drop = (
        slice(round((end - far) * grid.ppi), round((end - near) * grid.ppi)) for far, near in ((3, 1.5), (0.3, 0))
    )
    assert lies.dried[drop].max() > 1.5 * lies.dried[way].max()
    assert lies.salt[drop].min() < 1.2 * lies.salt[way].min() < 0.0


@pytest.mark.parametrize(("colour", "pale"), [("#b9d6cf", 1.0), ("#33231c", -0.5)])
def test_copper_s_salts_dry_pale_and_iron_s_dark(colour: str, pale: float) -> None:
    """The rims of a pale growth are paler than it, those of a dark one darker."""
    own = LAYER.material.model_copy(update={"colour": colour})
    made = patina.Patina.model_construct(**{**dict(LAYER), "material": own})
    assert made._pale == pytest.approx(pale)
    assert made.fingerprint() != LAYER.fingerprint()  # what was grown in another colour is not taken for it


def test_a_puddle_dries_to_a_line_at_its_edge() -> None:
    """Where it stood calmly the oxide is thicker and paler at the edge than a little inside; where mist fell it grows
    from nothing.
    """
    grid = Grid.over(60.0, 4.0, 25.0)
    deep = np.broadcast_to(np.linspace(0.0, 0.4, grid.cols, dtype=np.float32), grid.shape)
    film, salt = (
        [one.mean(0) for one in LAYER._thickness(grid, deep, np.full(grid.shape, calm, np.float32),
                                                patina._Left.nothing(), Streams(1, "rust"))]
        for calm in (1.0, 0.0)
    )  # fmt: skip
    line, inside = slice(12, 20), slice(64, 74)
    (film, salt), (mist, none) = film, salt
    assert film[line].mean() > 1.1 * film[inside].mean() and abs(salt[line].mean()) > 5.0 * abs(salt[inside].mean())
    assert mist[line].mean() < 0.5 * mist[inside].mean() and not none.any()


def test_thick_oxide_lifts_in_plates() -> None:
    """A crust breaks off in edges: its steepest thousandth, of its mean slope, is far steeper than a thin growth's."""
    grid, steep = Grid.over(12.0, 12.0, 50.0), []
    for deep in (0.4, 2.0):
        even = np.full(grid.shape, deep, np.float32)
        calm = np.zeros(grid.shape, np.float32)
        film, _ = LAYER._thickness(grid, even, calm, patina._Left.nothing(), Streams(1, "rust"))
        slope = np.abs(np.diff(np.log(film), axis=1))
        steep.append(float(np.quantile(slope, 0.999) / slope.mean()))
    assert steep[1] > 1.25 * steep[0]


def test_a_run_starts_only_where_it_turned() -> None:
    """Where the wall is wet but did not turn nothing runs."""
    wall, wet = Wall.bare(24.0, 12.0, 12.5), np.full((300, 150), -1.0, np.float32)
    wet[50:75] = 1.5
    turned, frays = np.where(np.arange(150) < 75, wet, np.float32(-1.0)), np.zeros(wet.shape, np.float32)
    ran = [LAYER._run(wall, frays, wet, one, Streams(1, "rust")).ran > 0.05 for one in (turned, wet)]
    assert ran[0][:, :60].any() and not ran[0][:, 95:].any() and ran[1][:, 95:].any()


def test_what_runs_leave_changes_without_steps() -> None:
    """The foot of each row has what the top of the run's next has; where it changes evenly a middle has its row's."""
    wall = Wall.bare(30.0, 24.0, 12.5)
    went = trails.sweep(flow.Bed(wall), np.full(9, 0.5), np.linspace(2.0, 22.0, 9), np.full(9, 40.0), key=3)
    every = np.arange(went.run.size)
    goes_on = went.run[1:] == went.run[:-1]
    uneven, even = np.sin(1.7 * every), 0.5 * went.row
    top, foot = (patina._eased(went, uneven, every, np.full(every.size, at, np.float32)) for at in (0.0, 1.0))
    assert np.allclose(foot[:-1][goes_on], top[1:][goes_on], atol=1e-6)
    middle = patina._eased(went, even, every, np.full(every.size, 0.5, np.float32))
    inner = goes_on[1:] & goes_on[:-1]
    assert np.allclose(middle[1:-1][inner], even[1:-1][inner], atol=1e-5)


def test_no_patch_stands_square_to_the_wall() -> None:
    """An upright edge pushed about wavers by an inch and more, and lies where it lay on the mean."""
    plan = Grid.over(60.0, 20.0, 12.5)
    step = np.broadcast_to(np.where(plan.col_in < 10.0, 1.0, 0.0).astype(np.float32), plan.shape)
    edge = patina._bent(step, plan, 5.0, 7).sum(1) / plan.ppi
    assert 0.5 < edge.std() < 2.0 and np.ptp(edge) > 2.0
    assert edge.mean() == pytest.approx(10.0, abs=0.7)


def test_runs_are_of_many_widths() -> None:
    """Of the rows that cross runs on an even wall the widest tenth are at least four times as wide as the narrowest."""
    wall = Wall.bare(40.0, 20.0, 25.0)
    start, widths = (np.full(20, 1.0), np.linspace(1.5, 18.5, 20), np.full(20, 12.0)), []
    frays = np.zeros(wall.grid.shape, np.float32)
    for pour in range(1, 4):
        runs = trails.sweep(flow.Bed(wall), *start, key=pour, law=patina._LAW)
        ran = LAYER._left(wall.grid, runs, frays, Streams(pour, "rust")).ran[200:] > 0.3
        widths.append(np.bincount(ndimage.label(ran, [[0, 0, 0], [1, 1, 1], [0, 0, 0]])[0].ravel())[1:])
    wide = np.quantile(np.concatenate(widths), [0.1, 0.9])
    assert wide[1] >= 4 * wide[0]


def test_running_draws_it_out_downwards() -> None:
    """What runs leave is alike farther down than across, by the autocorrelation at two inches: three times and more."""
    wall = Wall.bare(24.0, 24.0, 12.5)
    wet = np.zeros(wall.grid.shape, np.float32)
    wet[25:50] = 1.5
    ran = LAYER._run(wall, np.zeros(wet.shape, np.float32), wet, wet, Streams(3, "rust")).ran[60:]
    z, lag = ran - ran.mean(), round(2.0 * SITE.ppi)
    assert float(np.mean(z[lag:] * z[:-lag])) > 3.0 * abs(float(np.mean(z[:, lag:] * z[:, :-lag]))) > 0.0


def test_thick_oxide_takes_the_metal_s_sheen() -> None:
    """Where nothing turned the sheen is as it was; under a hiding crust it is gone."""
    before, after = grown()
    film = after.stratum("rust").film
    assert np.array_equal(after.sheen[film == 0], before.sheen[film == 0])
    assert float(after.sheen[film > 3.2].max()) == 0.0


def test_a_second_growth_follows_the_first() -> None:
    """The more it follows, the more of a second growth lies on the first."""
    first = {"kind": "patina", "name": "first", "material": "rust activator", "coverage": "40 %"}
    shares = []
    for follow in ("0 %", "100 %"):
        second = {**first, "name": "second", "coverage": "30 %", "follow": follow}
        wall = build(read({"name": "t", "layer": [IRON, first, second]}), SITE).wall
        both = (wall.stratum("first").film > 0) & (wall.stratum("second").film > 0)
        shares.append(float(np.mean(both)) / 0.3)
    assert shares[1] > shares[0] + 0.15


def test_the_activator_warns() -> None:
    """A finish with an activator carries its caution and the wet floor's, naming the layer; one without does not."""
    rust = {"kind": "patina", "name": "rust", "material": "rust activator"}
    told = {one.key: one.causes for one in for_finish(read({"name": "t", "layer": [IRON, rust]}))}
    assert told == {"activator": ("rust",), "wet floor": ("rust",)}
    assert for_finish(read({"name": "t", "layer": [IRON]})) == ()
