"""Block lines drawn with a lining brush."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from render import bond
from render.bond import Bond, Lines
from render.finish import read
from render.layers import ruling
from render.layers.ruling import Ruling
from render.pipeline import Site, build
from render.seeds import Streams
from render.wall import Wall

SITE = Site(30.0, 30.0, 20.0, 2)
LAYOUT = Bond(9.0, 18.0, "running", 0.0)


def ruled(**more: Any) -> Wall:
    """A flat wall with ruled lines, blocks of 9 x 18 in."""
    line = {
        "kind": "ruling", "name": "line", "material": "glaze medium", "medium": "4 fl oz", "wander": "0 in",
        "colourants": {"red iron oxide": "2 tsp"}, "block_height": "9 in", "block_width": "18 in",
        "coverage": "2.5 %", "spread": "9000 ft2/gal",
    }  # fmt: skip
    return build(read({"name": "t", "layer": [{**line, **more}]}), SITE).wall


def test_colour_lies_on_the_lines_of_the_bond() -> None:
    """A line that takes 2.5 % of blocks of 9 x 18 in is about .15 in wide: nothing lies farther than .2 in off a line,
    but where an upright was run on past its bed.
    """
    film = ruled().stratum("line").film
    lines = bond.draw(ruled().grid, LAYOUT, SITE.pour, past_in=0.3)
    assert float(lines.away[film > 0].max()) < 0.2
    assert float(np.mean(film > 0)) == pytest.approx(0.025, abs=1e-4)
    past = film[bond.draw(ruled().grid, LAYOUT, SITE.pour).away > 0.2]
    assert 0 < np.count_nonzero(past) < 0.02 * np.count_nonzero(film)


def test_the_brush_runs_dry_along_a_line() -> None:
    """Over a straight bed the colour falls from full to thin, and jumps back only where the brush was dipped again."""
    wall = ruled(broken="60 %")
    grid, film = wall.grid, wall.stratum("line").film
    bed = film[np.abs(grid.row_in - 9.0) < 0.2].max(0)
    smooth = np.convolve(bed, np.ones(20) / 20, "valid")
    assert smooth.max() > 2.5 * smooth.min()


def test_a_shifted_line_lies_beside_the_first() -> None:
    """Shifted by 3/16 in, the line's middle lies 3/16 in below the bond's."""
    grid = ruled().grid
    straight, moved = (ruled(shift=shift, broken="0 %").stratum("line").film for shift in ("0 in", "3/16 in"))
    level = [float(np.average(grid.row_in[170:190], weights=film[170:190].sum(1))) for film in (straight, moved)]
    assert level[1] - level[0] == pytest.approx(3 / 16, abs=0.03)


def test_a_dry_brush_breaks_the_line() -> None:
    """A drier brush leaves twice as much of the line's middle bare as a full one at the same coverage; that misses
    less than a tenth, where the rule slipped.
    """
    middle = bond.draw(ruled().grid, LAYOUT, SITE.pour).away < 0.03
    bare = [float(np.mean(ruled(broken=share).stratum("line").film[middle] == 0)) for share in ("0 %", "90 %")]
    assert bare[0] < 0.1 and bare[1] > 2.0 * bare[0]


def test_a_full_brush_draws_an_even_line_and_a_dry_one_thins_to_hairs() -> None:
    """Over three beds a full line's narrowest tenth is over half as wide as its widest; a dry one's under a third."""
    narrow = []
    for share in ("0 %", "95 %"):
        wall = ruled(broken=share, coverage="4 %")
        film = wall.stratum("line").film
        beds = [film[np.abs(wall.grid.row_in - bed) < 0.3] for bed in (9.0, 18.0, 27.0)]
        wide = [np.convolve((one > 0.2 * film.max()).sum(0), np.ones(8) / 8, "valid") for one in beds]
        narrow.append(float(np.quantile(wide, 0.1) / np.quantile(wide, 0.9)))
    assert narrow[0] > 0.5 and narrow[1] < 0.33


def test_a_crossing_takes_nothing_off_a_line() -> None:
    """Where an upright crosses a bed, a place lies at least as deep in a line as it would if the bed stood alone."""
    wall = Wall.bare(20.0, 40.0, 25.0)
    layer = Ruling.model_validate({"name": "line", "material": "glaze medium", "broken": "90 %",
                                   "colourants": {"red iron oxide": "2 tsp"}, "block_height": "9 in"})  # fmt: skip
    both = bond.draw(wall.grid, Bond(9.0, 24.0), 2, past_in=0.3)
    drawn = []
    for lines in (both, replace(both, right=np.full_like(both.right, 99.0))):
        place, dry = np.full(wall.grid.shape, -9.0, np.float32), np.zeros(wall.grid.shape, np.float32)
        layer._draw(place.reshape(-1), dry.reshape(-1), wall, lines, Streams(2, "line"))
        drawn.append(place)
    crossing = np.maximum(np.abs(both.down), np.abs(both.right)) < 0.3
    assert np.count_nonzero(crossing) > 200
    assert np.all(drawn[0][crossing] >= drawn[1][crossing] - 1e-6)


def beds() -> tuple[Lines, ruling._Ground]:
    """Lines of a wall 200 in long, and what a brush meets at places along its beds."""
    wall = Wall.bare(20.0, 200.0, 12.5)
    lines = bond.draw(wall.grid, Bond(9.0, 18.0), 2)
    bed = np.flatnonzero(lines.level & (np.abs(lines.down) < 0.05))
    return lines, ruling._Ground.near(wall, bed, np.ones(bed.size, bool), Streams(2, "line"))


def test_strokes_differ() -> None:
    """Along beds the brush is full in one stroke and nearly dry in another, and stays so for a foot and a half."""
    lines, ground = beds()
    stroke = ruling._Stroke.on(ground, lines, 9.0, Streams(2, "line"))
    by_bed = [stroke.full[lines.bed.take(ground.at) == one] for one in np.unique(lines.bed.take(ground.at))]
    inches = [200.0 / np.unique(one).size for one in by_bed if one.size > 1000]
    assert np.ptp(stroke.full) > 0.6 and len(inches) == 3 and min(inches) > 15.0 and max(inches) < 40.0
    assert 0.02 < float(np.abs(stroke.slips).max()) <= ruling._SLIPS_IN


def test_a_line_run_past_its_bed_ends_round() -> None:
    """Clear of the bed, less of the line's width is drawn over its last thirtieth of an inch than farther back."""
    wall = ruled(broken="0 %")
    lines = bond.draw(wall.grid, LAYOUT, SITE.pour, past_in=0.3)
    on, clear = wall.stratum("line").film > 0, (np.abs(lines.right) < 0.08) & (np.abs(lines.down) > 0.12)
    tip, back = clear & (lines.spare < 0.035), clear & (lines.spare > 0.09) & np.isfinite(lines.spare)
    assert float(on[tip].mean()) < 0.7 * float(on[back].mean())


def along_a_bed(layer: Ruling, **stroke: float) -> tuple[np.ndarray, np.ndarray]:
    """How far inside a line places from .15 in above a bed's middle to .15 in below lie, and how dry it is there, where
    a brush that starts full runs dry over 20 in: (places across, places along).
    """
    across, along = np.meshgrid(np.linspace(-0.15, 0.15, 121, dtype=np.float32),
                                np.linspace(0.0, 20.0, 41, dtype=np.float32), indexing="ij")  # fmt: skip
    even = {name: np.zeros(across.size, np.float32) for name in ruling._Stroke.__dataclass_fields__}
    spent = along.ravel() / 20.0
    even |= {"spent": spent, "gives": spent**2, "spare": even["spare"] + 9.0, "full": even["full"] + 0.5}
    even |= {name: np.full(across.size, value, np.float32) for name, value in stroke.items()}
    every = np.arange(across.size)
    ground = ruling._Ground(every, np.ones(every.size, bool), *[np.zeros(every.size, np.float32)] * 7)
    lines = replace(bond.draw(Wall.bare(2.0, 2.0, 12.5).grid, LAYOUT, 1), down=across, right=across)
    inside, dry = layer._inside(lines, ruling._Stroke(**even), ground)
    return inside.reshape(across.shape), dry.reshape(across.shape)


def test_a_brush_that_runs_dry_forks_into_two_hairs() -> None:
    """Across a line of .15 in whose brush parts there is one ridge at its start, and at its end two with less than half
    the line's width between them; a brush that keeps together has one. One of the hairs is the drier.
    """
    layer = Ruling.model_validate({"name": "line", "material": "glaze medium", "coverage": "2.5 %", "broken": "60 %",
                                   "colourants": {"red iron oxide": "2 tsp"}, "block_height": "9 in",
                                   "block_width": "18 in"})  # fmt: skip
    for parts, ridges in ((1.0, 2), (0.0, 1)):
        inside, dry = along_a_bed(layer, forks=parts, longer=1.0)
        ends = inside[:, 0], inside[:, -1]
        peaks = [np.flatnonzero((one[1:-1] >= one[:-2]) & (one[1:-1] > one[2:])) for one in ends]
        assert [len(one) for one in peaks] == [1, ridges]
        assert np.ptp(peaks[1]) * 0.0025 < 0.15
    inside, dry = along_a_bed(layer, forks=1.0, longer=1.0)
    assert dry[20, -1] > dry[100, -1] + 0.3 and dry[20, 0] == dry[100, 0]


def test_a_stroke_is_set_on_over_the_end_of_the_last() -> None:
    """Along a bed every place has a stroke that began up to 37 in before; the one before it has gone on for as long as
    it draws, dried out, and stands another hair's breadth off line.
    """
    lines, ground = beds()
    last, under = (ruling._Stroke.on(ground, lines, 9.0, Streams(2, "line"), before) for before in (0, 1))
    assert last.begun.min() >= 0.0 and last.begun.max() < 37.0
    long = under.begun - last.begun
    assert long.min() > 19.9 and long.max() < 37.1
    over = last.begun < ruling._LAPS_IN
    assert over.any() and under.spent[over].min() >= 1.0 - 1e-5 and under.gives[over].min() > 1.0
    assert float(np.abs(under.slips - last.slips)[over].mean()) > 0.01


def test_a_brush_set_down_on_its_tip_swells() -> None:
    """Where a stroke begins it stands on its tip, 1.2 in on it lets most colour go, and 3 in on it does neither."""
    lines, ground = beds()
    stroke = ruling._Stroke.on(ground, lines, 9.0, Streams(2, "line"))
    first, swollen, later = (np.abs(stroke.begun - one) < 0.1 for one in (0.1, 1.2, 3.0))
    assert stroke.tip[first].min() > 0.95 and stroke.pool[first].max() < 0.1
    assert stroke.pool[swollen].min() > 0.9 and stroke.tip[later].max() < 0.01 and stroke.pool[later].max() < 0.05


def test_a_line_swells_from_its_start() -> None:
    """A stroke on its tip is narrower by .64 of half the line's width to either side than the same stroke off it."""
    layer = Ruling.model_validate({"name": "line", "material": "glaze medium", "coverage": "2.5 %", "broken": "0 %",
                                   "colourants": {"red iron oxide": "2 tsp"}, "block_height": "9 in",
                                   "block_width": "18 in"})  # fmt: skip
    tip, broad = (along_a_bed(layer, tip=far)[0][:, 0] for far in (1.0, 0.0))
    assert np.allclose(broad - tip, 0.64 * 0.5 * layer._width, atol=1e-5)


def test_a_restart_lies_wet_over_the_end_of_the_last_stroke() -> None:
    """Over the last stroke's end a stroke's start is less dry, by up to .22, on less than a tenth of the lines."""
    wall = Wall.bare(20.0, 120.0, 25.0)
    layer = Ruling.model_validate({"name": "line", "material": "glaze medium", "broken": "40 %",
                                   "colourants": {"red iron oxide": "2 tsp"}, "block_height": "9 in"})  # fmt: skip
    lines = bond.draw(wall.grid, Bond(9.0, 24.0), 2, past_in=0.3)
    drawn = []
    for wet in (ruling._WET, 0.0):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(ruling, "_WET", wet)
            place, dry = np.full(wall.grid.shape, -9.0, np.float32), np.zeros(wall.grid.shape, np.float32)
            layer._draw(place.reshape(-1), dry.reshape(-1), wall, lines, Streams(2, "line"))
        drawn.append(dry)
    less = drawn[1] - drawn[0]
    some = less > 0.0
    assert 50 < np.count_nonzero(some) < 0.1 * np.count_nonzero(place > -0.5 * layer._width)
    assert less.max() == pytest.approx(0.22, abs=1e-5) and less.min() == 0.0
