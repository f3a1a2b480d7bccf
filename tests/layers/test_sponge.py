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
    assert mean[away < 1.2].mean() > mean[(away > 1.9) & (away < 2.3)].mean() + 0.4
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
    """From one loading prints follow each other within a print's width, ever drier and on the whole lighter pressed."""
    dabs = sponge._scatter(Grid.over(60.0, 60.0, 12.5), 5.0, 0.45, 77)
    pairs = [(a, b) for a, b in pairwise(dabs) if b.spent > a.spent]
    near = [np.hypot(b.row - a.row, b.col - a.col) <= 5.0 for a, b in pairs]
    assert np.mean(near) > 0.9  # the rest are the last and the first of two loadings
    wet, dry = ([d.press for d in dabs if (d.spent < 0.3) == early] for early in (True, False))
    assert np.mean(wet) > np.mean(dry) + 0.8


def test_more_prints_where_more_is_covered() -> None:
    """Ten times the coverage takes several times the dabs; a trace takes few."""
    few, many = (len(sponge._scatter(Grid.over(48.0, 48.0, 12.5), 5.0, one, 7)) for one in (0.06, 0.6))
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


def test_a_facet_of_cloth_is_flat_and_ends_at_a_crease() -> None:
    """Nearly everywhere the folds are planes; the steps between are few, straight enough and many times steeper."""
    grid = Grid.over(6.0, 6.0, 50.0)
    v, u = (grid.row_in - 3.0).astype(np.float32)[:, None], (grid.col_in - 3.0).astype(np.float32)[None, :]
    facets = sponge._facets(grid, u, v, 1.3, 9, sharp=False)
    step = np.abs(np.diff(facets, axis=1))
    assert np.quantile(step, 0.95) < 0.06  # a facet leans less than 3 to the inch
    assert (step > 0.2).mean() == pytest.approx(0.01, abs=0.008)


def test_a_wider_wall_keeps_its_prints() -> None:
    """How firmly a place is touched does not change when the wall grows to the right and down."""
    kind = layers.kinds()["sponge"]
    made = kind.model_validate(
        {"name": "d", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"}, "spread": "500 ft2/gal"}
    )
    small, large = Grid.over(10.0, 10.0, 12.0), Grid.over(18.0, 22.0, 12.0)
    touched = []
    for grid in (small, large):
        dabs = sponge._scatter(grid, 5.0, 0.55, 77)
        felt = sponge._felt(grid, dabs, sponge._tool("sponge", 5.0, 12.5, 5))
        touched.append(made._touch(grid, felt, np.zeros(grid.shape, np.float32)))  # type: ignore[attr-defined]
    assert np.allclose(touched[1][:120, :120], touched[0], atol=1e-4)


def test_where_prints_overlap_more_lies() -> None:
    """Film is thicker where dabs lie over one another: it varies several-fold over the touched part."""
    film = dabbed(pressure="60 %").stratum("dab").film
    on = film[film > 0]
    assert np.quantile(on, 0.95) > 4.0 * np.quantile(on, 0.2)


def test_the_tool_prints_fainter_as_it_empties() -> None:
    """A print of a spent tool leaves exp(-4 x pressure) of a fresh one's film, place by place."""
    grid = Grid.over(8.0, 8.0, 20.0)
    made = layers.kinds()["sponge"].model_validate(
        {"name": "d", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"}, "pressure": "50 %"}
    )
    tool, flat = sponge._tool("sponge", 5.0, 25.0, 5), np.zeros(grid.shape, np.float32)
    fresh, spent = (
        made._film(grid, sponge._felt(grid, [sponge._Dab(4.0, 4.0, 0.7, 0.0, s, 0, 0.0, 0.0)], tool), flat)  # type: ignore[attr-defined]
        for s in (0.0, 1.0)
    )
    assert fresh.max() > 0.5
    assert np.allclose(spent, fresh * np.exp(-2.0), atol=1e-6)


def test_wet_colour_stands_in_a_bead_inside_its_edge() -> None:
    """With a bead b > 1, film is thickest where e = (b - 1) / 2b: (1 + b)^2 / 4b of what lies farther in."""
    grid = Grid.over(4.0, 4.0, 25.0)
    made = layers.kinds()["sponge"].model_validate(
        {"name": "d", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"}}
    )
    ramp = np.broadcast_to(np.linspace(-1.0, 7.0, 100, dtype=np.float32), (100, 100))
    dab, flat = sponge._Dab(2.0, 2.0, 0.0, 0.0, 0.0, 0, 0.0, 0.0), np.zeros(grid.shape, np.float32)
    film = made._film(grid, [(dab, (slice(None), slice(None)), ramp)], flat)[50]  # type: ignore[attr-defined]
    soft, bead = sponge._EDGES["sponge"]
    assert (film[:12] == 0).all()
    assert film.max() == pytest.approx((1 + bead) ** 2 / (4 * bead), rel=0.01)
    assert ramp[0, film.argmax()] == pytest.approx(-soft * np.log((bead - 1) / (2 * bead)), abs=0.09)
    assert film[-1] == pytest.approx(1.0, abs=1e-3)


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
