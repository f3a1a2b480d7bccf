"""Colour dabbed on with a sponge, a rag or a bag."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from render import layers
from render.fields import Grid
from render.finish import read
from render.layers import sponge
from render.pipeline import Site, build
from render.wall import Wall

FACES = ("sponge", "rag", "bag")


SITE = Site(16.0, 16.0, 20.0, 3)


def dabbed(**more: Any) -> Wall:
    """A flat wall, dabbed."""
    dab = {
        "kind": "sponge", "name": "dab", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"},
        "coverage": "45 %", "spread": "500 ft2/gal",
    }  # fmt: skip
    return build(read({"name": "t", "layer": [{**dab, **more}]}), SITE).wall


@pytest.mark.parametrize("face", FACES)
def test_each_face_prints_its_own_way(face: str) -> None:
    """The coverage is met to a pixel, and no two faces leave the same print."""
    film = dabbed(face=face).stratum("dab").film
    assert np.count_nonzero(film) == round(0.45 * film.size)
    others = [dabbed(face=one).stratum("dab").film for one in FACES if one != face]
    assert all(abs(np.corrcoef(film.ravel(), one.ravel())[0, 1]) < 0.8 for one in others)


@pytest.mark.parametrize("face", FACES)
def test_a_print_ends_within_its_width(face: str) -> None:
    """A print 5 in wide touches hardest near its middle, and nowhere beyond .66 of its width, ragged as it is."""
    tools = [sponge._tool(face, 5.0, 25.0, key) for key in range(5, 9)]
    place = (np.arange(tools[0].sides[0].shape[0]) + 0.5) / 25.0 - tools[0].reach
    away = np.hypot(place[:, None], place[None, :])
    sides = np.array([side for tool in tools for side in tool.sides])
    mean = sides.mean(0)
    assert mean[away < 1.2].mean() > mean[(away > 2.1) & (away < 2.5)].mean() + 0.4
    assert sides[:, away > 3.3].max() < -3.0  # a touch has about unit spread


def test_the_same_face_recurs_turned() -> None:
    """A dab a quarter turn on prints the same, turned a quarter; another side of the tool prints otherwise."""
    grid, tool = Grid.over(8.0, 8.0, 25.0), sponge._tool("sponge", 4.0, 25.0, 5)

    def print_(turn: float, side: int) -> Any:
        dab = sponge._Dab(4.0, 4.0, turn, 0.0, 0.0, side, 0.0, 0.0)
        at = dab.window(grid, 2.0)
        assert at is not None
        return dab.touch(grid, (slice(50, 150), slice(50, 150)), tool)

    once = print_(0.0, 1)
    assert np.allclose(np.rot90(print_(np.pi / 2, 1), -1), once, atol=1e-3)
    assert np.corrcoef(once[25:75, 25:75].ravel(), print_(0.0, 2)[25:75, 25:75].ravel())[0, 1] < 0.5


def test_a_hand_prints_its_way_until_the_tool_is_empty() -> None:
    """From one loading prints follow each other about a print's width on, ever drier and mostly lighter pressed."""
    dabs = sponge._scatter(Grid.over(60.0, 60.0, 12.5), 5.0, 0.45, 0.78, 77)
    pairs = [(a, b) for a, b in pairwise(dabs) if b.spent > a.spent]
    near = [np.hypot(b.row - a.row, b.col - a.col) <= 5.6 for a, b in pairs]
    assert np.mean(near) > 0.9  # the rest are the last and the first of two loadings
    wet, dry = ([d.press for d in dabs if (d.spent < 0.3) == early] for early in (True, False))
    assert np.mean(wet) > np.mean(dry) + 0.5


def test_more_prints_where_more_is_covered() -> None:
    """Ten times the coverage takes several times the dabs; a trace takes few."""
    few, many = (len(sponge._scatter(Grid.over(48.0, 48.0, 12.5), 5.0, one, 0.78, 7)) for one in (0.06, 0.6))
    assert 0 < 4 * few < many


def test_clusters_leave_open_ground_between() -> None:
    """At 40 % coverage of a yard, some squares of 3 in are bare and some nearly full: no even sprinkling."""
    dab = {
        "kind": "sponge", "name": "dab", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"},
        "coverage": "40 %", "spread": "500 ft2/gal",
    }  # fmt: skip
    film = build(read({"name": "t", "layer": [dab]}), Site(36.0, 36.0, 12.5, 3)).wall.stratum("dab").film
    shares = ndimage.uniform_filter((film > 0).astype(float), int(3 * 12.5))
    assert shares.min() < 0.01
    assert shares.max() > 0.85


def _face_at(ppi: float) -> tuple[Grid, Any, Any]:
    """A grid of 6 in and how far its places lie down and to the right of its middle."""
    grid = Grid.over(6.0, 6.0, ppi)
    return grid, (grid.row_in - 3.0).astype(np.float32)[:, None], (grid.col_in - 3.0).astype(np.float32)[None, :]


def _lines(sharp: bool, seen: float) -> Any:
    """How far facets 1.3 in wide stand out over what lies within ``seen`` inches of them."""
    grid, v, u = _face_at(100.0)
    pads = sponge._pads(grid, u, v, 1.3, 9, sharp=sharp)
    return pads - ndimage.median_filter(pads[::2, ::2], round(seen * 50.0)).repeat(2, 0).repeat(2, 1)


def test_facets_are_smooth_and_some_creases_of_cloth_stand_out_as_thin_lines() -> None:
    """Within an eighth of an inch nearly all the cloth is even; on a few parts in a hundred a crease stands out by half
    a touch and more; lines are thinner than .1 in. All creases of a bag stand out, so that more of it does.
    """
    cloth, bag = (_lines(sharp, 0.25) for sharp in (False, True))
    assert np.quantile(np.abs(cloth), 0.8) < 0.1
    line = cloth > 0.4
    assert 0.002 < line.mean() < 0.05
    assert 2.0 * ndimage.distance_transform_edt(line).max() / 100.0 < 0.1
    assert (bag > 0.2).mean() > (cloth > 0.2).mean()


def test_a_wider_wall_keeps_its_prints() -> None:
    """How firmly a place is touched does not change when the wall grows to the right and down."""
    kind = layers.kinds()["sponge"]
    made = kind.model_validate(
        {"name": "d", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"}, "spread": "500 ft2/gal"}
    )
    small, large = Grid.over(10.0, 10.0, 12.0), Grid.over(18.0, 22.0, 12.0)
    touched = []
    for grid in (small, large):
        dabs = sponge._scatter(grid, 5.0, 0.55, 0.78, 77)
        tool, flat = sponge._tool("sponge", 5.0, 12.5, 5), np.zeros(grid.shape, np.float32)
        touched.append(sponge._touch(grid, made._felt(grid, dabs, tool, flat)))  # type: ignore[attr-defined]
    assert np.allclose(touched[1][:120, :120], touched[0], atol=1e-4)


def test_where_prints_overlap_more_lies() -> None:
    """Film is thicker where dabs lie over one another: it varies several-fold over the touched part."""
    film = dabbed(pressure="60 %").stratum("dab").film
    on = film[film > 0]
    assert np.quantile(on, 0.95) > 4.0 * np.quantile(on, 0.2)


def _made(**more: Any) -> Any:
    """A layer of dabs, for its own methods."""
    return layers.kinds()["sponge"].model_validate(
        {"name": "d", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"}, **more}
    )


def test_the_tool_prints_fainter_as_it_empties() -> None:
    """A print of a spent tool leaves less than exp(-5 x pressure) of a fresh one's film, and touches where that did."""
    grid, made = Grid.over(8.0, 8.0, 20.0), _made(pressure="50 %")
    tool, flat = sponge._tool("sponge", 5.0, 25.0, 5), np.zeros(grid.shape, np.float32)
    fresh, spent = (
        made._film(grid, made._felt(grid, [sponge._Dab(4.0, 4.0, 0.7, 0.0, s, 0, 0.0, 0.0)], tool, flat), 0.0)
        for s in (0.0, 1.0)
    )
    assert fresh.max() > 0.3
    assert 0.0 < spent.sum() < np.exp(-2.5) * fresh.sum()
    assert np.array_equal(spent > 0, fresh > 0)


def _across(spent: float, ppi: float = 100.0) -> Any:
    """The film across the edge of a print, where the touch rises from -1 to 4 over 500 pixels."""
    ramp = np.broadcast_to(np.linspace(-1.0, 4.0, 501, dtype=np.float32), (500, 501))
    dab = sponge._Dab(2.0, 2.0, 0.0, 0.0, spent, 0, 0.0, 0.0)
    return _made(pressure="0 %")._film(Grid(500, 501, ppi), [(dab, (slice(None), slice(None)), ramp)], 0.0)[250]


def test_a_fresh_tool_prints_soft_edges_and_a_spent_one_crisp() -> None:
    """Nothing lies outside the touch; a tenth of what lies at a touch of 1 is reached at once by a dry tool, later by a
    wet one, which leaves more at a firm touch; pressed harder, more is left.
    """
    wet, dry = _across(0.0), _across(0.99)
    assert (wet[:101] == 0).all() and (dry[:101] == 0).all()
    tenth = [int(np.argmax(film > 0.1 * film[200])) - 100 for film in (dry, wet)]
    assert tenth[0] * 1.5 < tenth[1]
    assert wet[-1] > 1.5 * dry[-1]
    assert wet[-1] > 1.2 * wet[200]


def test_an_edge_is_no_crisper_than_a_pixel_can_show() -> None:
    """At 12.5 px/in a dry print's edge rises several times as slowly as at 100 px/in."""
    fine, coarse = (_across(0.99, ppi)[105] for ppi in (100.0, 12.5))
    assert 0.0 < 2.5 * coarse < fine


def test_colour_is_drawn_up_into_ridges_where_it_is_thick() -> None:
    """A thick film is drawn into ridges and furrows, a thin one hardly; no film is lost beyond a fifth."""
    grid = Grid.over(6.0, 6.0, 50.0)
    rough = []
    for thick in (1.0, 0.02):
        film = np.full(grid.shape, thick, np.float32)
        sponge._pulled(film, grid, sponge._PRINTS["sponge"], 9)
        assert film.mean() == pytest.approx(thick, rel=0.2)
        rough.append(float(film.std() / film.mean()))
    assert rough[0] > 0.12 > 5.0 * rough[1]


def test_what_dries_of_a_print_stands_out() -> None:
    """The surface rises by the dry share of the film, and nowhere else."""
    wall = dabbed()
    film = wall.stratum("dab").film
    assert np.allclose(wall.height, sponge._DRY * film, atol=1e-4)
    assert wall.height.max() > 0.5


@pytest.mark.parametrize("face", FACES)
def test_large_walls_are_printed_as_small_ones(face: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether touches are kept or worked out twice, no bit differs."""
    kept = dabbed(face=face).stratum("dab").film
    monkeypatch.setattr(sponge, "_KEPT_PIXELS", 0)
    assert np.array_equal(kept, dabbed(face=face).stratum("dab").film)


def test_a_sea_sponge_prints_lace() -> None:
    """Of a print's bare pores most are small, half of them within an eighth of an inch, many to the inch; some are
    large.
    """
    film = dabbed(face="sponge", coverage="60 %").stratum("dab").film
    pores, count = ndimage.label(film == 0)
    size = np.sqrt(np.bincount(pores.ravel())[1:]) / SITE.ppi
    assert count > 2.0 * 16.0 * 16.0
    assert np.median(size) < 0.125
    assert np.count_nonzero((size > 0.25) & (size < 0.7)) > 20


def test_a_sea_sponge_prints_a_web_about_pores_of_all_sizes() -> None:
    """Of the heart of a print, pressed lightly (a fifth touches), eight pieces and more to the square inch print;
    pressed hard (85 parts in a hundred touch) they are one web, about ten pores and more to the square inch, whose
    areas differ thirtyfold from the tenth to the ninetieth in a hundred and a hundredfold to the largest hundredth.
    """
    pieces, pores, web = 0, [], []
    for key in range(3):
        for side in sponge._tool("sponge", 5.0, 100.0, key).sides:
            heart = side[200:400, 200:400]
            pieces += ndimage.label(heart > np.quantile(heart, 0.8))[1]
            on = heart > np.quantile(heart, 0.15)
            whole = np.bincount(ndimage.label(on)[0].ravel())[1:]
            web.append(whole.max() / whole.sum())
            pores.append(np.bincount(ndimage.label(~on)[0].ravel())[1:])
    square_inches, area = 9 * 4.0, np.quantile(np.concatenate(pores), [0.1, 0.9, 0.99])
    assert pieces > 8 * square_inches and np.concatenate(pores).size > 10 * square_inches
    assert min(web) > 0.95 and area[1] > 30.0 * area[0] and area[2] > 100.0 * area[0]


def test_hollows_of_a_sponge_stay_open_under_pressure() -> None:
    """Pressed by two units more than half of its heart asks, a fiftieth and more of every side does not touch."""
    for key in range(4):
        for side in sponge._tool("sponge", 5.0, 50.0, key).sides:
            heart = side[100:200, 100:200]
            assert (heart < np.median(heart) - 2.0).mean() > 0.02


def test_a_print_of_a_sponge_ends_in_scattered_dabs() -> None:
    """Toward its outline less of a sponge touches, at four fifths of the way a fifth less than at its heart, and in the
    corners of what holds it nothing.
    """
    sides = np.array([side for key in range(5, 9) for side in sponge._tool("sponge", 5.0, 25.0, key).sides])
    place = (np.arange(sides.shape[1]) + 0.5) / 25.0
    away = np.hypot(*np.meshgrid(place - place.mean(), place - place.mean())) / 2.5
    zones = (0.0, 0.4), (0.75, 0.85), (1.2, 2.0)
    heart, edge, corners = ((sides[:, (away > near) & (away < far)] > 0.0).mean() for near, far in zones)
    assert 0.3 * heart < edge < 0.8 * heart and corners < 0.001
