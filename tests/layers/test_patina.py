"""Patina grown on a metal coat."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from render import flow, trails
from render.estimate.cautions import for_finish
from render.fields import Grid
from render.finish import read
from render.layers import patina
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
    assert np.histogram(np.log(on), 16, (np.log(thin), np.log(thick)))[0].min() > 0.005 * on.size


@pytest.mark.parametrize("radius", [0.01, 0.03, 0.11])
def test_a_droplet_keeps_its_area(radius: float) -> None:
    """A lone droplet covers pi r2 whether it is smaller or larger than a pixel, wherever it falls in one."""
    grid = Grid.over(2.0, 2.0, 12.5)
    for at in (0.96, 1.0, 1.03):
        area = float(patina._dots(grid, *(np.array([v]) for v in (at, 1.0, radius))).sum()) / grid.ppi**2
        assert area == pytest.approx(np.pi * radius**2, rel=0.05)


def test_it_runs_out_of_wet_places_downwards() -> None:
    """Out of a wet band it turns below, fading, and nowhere above it nor where no wet place lies over."""
    wall = Wall.bare(24.0, 12.0, 12.5)
    layer = patina.Patina(name="rust", material="rust activator", runs="80 %")
    wet = np.full(wall.grid.shape, -1.0, np.float32)
    wet[50:75, :75] = 1.5
    degree, salt = layer._run(wall, wet.copy(), np.zeros((1, 1), np.float32), wet, wet, Streams(1, "rust"))
    ran = (degree > wet + 0.05) & (wet < 0.0)
    assert not ran[:50].any() and not salt[:50].any() and not ran[:, 100:].any()
    near, far = np.count_nonzero(ran[75:125]), np.count_nonzero(ran[250:])
    assert near > 1.5 * far > 0 and near > 100


def test_runs_branch_at_their_sides() -> None:
    """What branches off a run starts at its side, is smaller than it was there, and comes as often as is said."""
    wall = Wall.bare(60.0, 24.0, 12.5)
    ways = trails.sweep(flow.Bed(wall), np.full(40, 0.5), np.linspace(1.0, 23.0, 40), np.full(40, 20.0), key=3)
    row, col, volume = patina._branches(ways, 5)
    assert row.size == pytest.approx(patina._BRANCHES_PER_IN * ways.row.size * ways.step, rel=0.4)
    for one in range(row.size):
        beside = np.flatnonzero(np.abs((ways.row + 0.5) * ways.step - row[one]) < 1e-6)
        far = np.abs(ways.col[beside] - col[one]) / ways.half[beside]
        near = beside[np.argmin(np.abs(far - 0.3))]
        assert np.abs(far - 0.3).min() < 1e-6 and 0.1 < volume[one] / ways.volume[near] < 0.6


def test_a_run_ends_in_a_drop_where_it_stopped() -> None:
    """A run that stopped is all drop in its last row and none of it an inch above; one that left the wall has none."""
    wall = Wall.bare(60.0, 24.0, 12.5)
    full = np.linspace(0.5, 200.0, 40)
    ways = trails.sweep(flow.Bed(wall), np.full(40, 0.5), np.linspace(1.0, 23.0, 40), full, key=3)
    bead, above = patina._beads(ways), (ways.last[ways.run] - 1 - ways.row) * ways.step
    stopped = ((ways.parent < 0) & (ways.off == 0))[ways.run]
    assert 0 < np.count_nonzero(stopped) < stopped.size
    assert bead[~stopped].max() == 0.0 and bead[stopped & (above == 0.0)].min() == 1.0
    assert bead[stopped & (above > 1.0 + 9.0 * ways.half)].max() < 0.01


def test_a_run_keeps_its_breadth_and_ends_in_a_broader_drop() -> None:
    """Without swells a run narrows all the way, by less than the square root of what its head does, and the drop drawn
    at its end is at least half as broad again as the run beside it.
    """
    wall = Wall.bare(60.0, 24.0, 12.5)
    full = np.linspace(0.5, 200.0, 40)
    ways = trails.sweep(flow.Bed(wall), np.full(40, 0.5), np.linspace(1.0, 23.0, 40), full, key=3)
    shaped = patina._shaped(ways, np.ones(ways.first.size), np.ones(ways.run.size))
    end, alone = np.append(ways.start[1:], ways.run.size) - 1, ~np.isin(np.arange(ways.first.size), ways.parent)
    assert np.all(np.diff(shaped.half)[(np.diff(ways.run) == 0) & alone[ways.run[1:]]] < 0.0)
    kept, shrank = (one.half[end[alone]] / one.half[ways.start[alone]] for one in (shaped, ways))
    assert np.all(kept >= np.sqrt(shrank)) and shrank.min() < 0.5 and alone.sum() > 20
    assert np.all(0.1 * np.cbrt(shaped.tail) >= 1.5 * shaped.half[end])


def test_only_the_drop_at_the_end_has_a_dark_crust() -> None:
    """In the middle of its way a run's rims are pale; near its end they are dark, most between middle and edge."""
    wall = Wall.bare(24.0, 4.0, 50.0)
    layer = patina.Patina(name="rust", material="rust activator", runs="80 %")
    ways = trails.sweep(flow.Bed(wall), np.array([1.0]), np.array([2.0]), np.array([1.2]), key=3, law=patina._LAW)
    pixel, body, _, rims = layer._ran(wall.grid, ways, "", Streams(2, "rust"))
    end = ways.last[0] * ways.step
    down = pixel // wall.grid.cols / wall.grid.ppi
    assert 3.0 < end < 22.0 and rims[down < end - 1.0].min() >= 0.0 and rims[down < end - 1.0].max() > 0.05
    bead = np.abs(end - 0.2 - down) < 0.08
    edge, middle = ((rims[bead & on]).mean() for on in ((body > 0.3) & (body < 0.7), body > 0.95))
    assert edge < -1.0 and middle > 0.3 * edge


def test_a_run_is_as_broad_on_bare_metal_as_beside_a_patch() -> None:
    """Where a run covers half a pixel or more it turns it, however little it left and however bare the metal was."""
    body = np.tile(np.array([0.0, 0.2, 0.5, 1.0], np.float32), (3, 1))
    bare = np.repeat(np.array([[-0.1], [-1.0], [-3.0]], np.float32), 4, 1)
    for left in (0.3, 1.0):
        out = patina._turned(bare, np.zeros((1, 1), np.float32), body, np.float32(left) * body, np.zeros_like(body))
        assert np.array_equal(out[:, 0], bare[:, 0]) and np.all(out[:, 2:] > 0.2) and not np.any(out[1:, 1] > 0.0)


def test_a_run_starts_only_where_it_turned() -> None:
    """Where the wall is wet but did not turn nothing runs."""
    wall, wet = Wall.bare(24.0, 12.0, 12.5), np.full((300, 150), -1.0, np.float32)
    wet[50:75] = 1.5
    layer, none = patina.Patina(name="rust", material="rust activator", runs="80 %"), np.zeros((1, 1), np.float32)
    turned = np.where(np.arange(150) < 75, wet, np.float32(-1.0))
    ran = [layer._run(wall, wet.copy(), none, wet, one, Streams(1, "rust"))[0] != wet for one in (turned, wet)]
    assert ran[0][:, :60].any() and not ran[0][:, 95:].any() and ran[1][:, 95:].any()


def test_what_runs_leave_changes_without_steps() -> None:
    """The foot of each row has what the top of the run's next has; where it changes evenly a middle has its row's."""
    wall = Wall.bare(30.0, 24.0, 12.5)
    ways = trails.sweep(flow.Bed(wall), np.full(9, 0.5), np.linspace(2.0, 22.0, 9), np.full(9, 40.0), key=3)
    every = np.arange(ways.run.size)
    goes_on = ways.run[1:] == ways.run[:-1]
    uneven, even = np.sin(1.7 * every), 0.5 * ways.row
    top, foot = (patina._eased(ways, uneven, every, np.full(every.size, at, np.float32)) for at in (0.0, 1.0))
    assert np.allclose(foot[:-1][goes_on], top[1:][goes_on], atol=1e-6)
    middle = patina._eased(ways, even, every, np.full(every.size, 0.5, np.float32))
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
    layer = patina.Patina(name="rust", material="rust activator", runs="80 %")
    start, widths = (np.full(20, 1.0), np.linspace(1.5, 18.5, 20), np.full(20, 12.0)), []
    for pour in range(1, 4):
        pixel, body, _, _ = layer._drawn(wall, *start, Streams(pour, "rust"))[0]
        ran = patina._gathered(wall.grid, pixel, body)[200:] > 0.3
        widths.append(np.bincount(ndimage.label(ran, [[0, 0, 0], [1, 1, 1], [0, 0, 0]])[0].ravel())[1:])
    wide = np.quantile(np.concatenate(widths), [0.1, 0.9])
    assert wide[1] >= 4 * wide[0]


def test_running_draws_it_out_downwards() -> None:
    """With runs the oxide is alike farther down than across, by the autocorrelation at two inches."""
    film = grown(runs="100 %", method="sprayed")[1].stratum("rust").film
    z = np.log(film + 0.05)
    z -= z.mean()
    lag = round(2.0 * SITE.ppi)
    down, across = float(np.mean(z[lag:] * z[:-lag])), float(np.mean(z[:, lag:] * z[:, :-lag]))
    assert down > 1.3 * across


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
