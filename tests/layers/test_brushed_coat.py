"""Brushed coats: exact volume, clouds, crossing strokes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.layers.brushed_coat import BrushedCoat
from render.seeds import Streams
from render.wall import Wall


def coat(name: str = "wash", **keys: Any) -> BrushedCoat:
    """Return a limewash."""
    return BrushedCoat.model_validate({"name": name, "material": "limewash", **keys})


def lay(layer: BrushedCoat, wall: Wall | None = None, pour: int = 3) -> Wall:
    """Return the wall after a coat."""
    return layer.apply(wall or Wall.bare(8, 8, 12.5), Streams(pour, layer.name))


@settings(max_examples=30, deadline=None)
@given(st.floats(2.0, 100.0), st.floats(25.0, 2000.0), st.integers(0, 10**6))
def test_coverage_and_volume_are_exact(share: float, spread: float, pour: int) -> None:
    """Every coverage and spread: to the pixel, to 1e-6, nowhere negative."""
    layer = coat(coverage=f"{share:.4f} %", spread=f"{spread:.4f} ft2/gal", spread_at="100 %")
    film = lay(layer, Wall.bare(5, 6, 12.5), pour).stratum("wash").film
    assert np.count_nonzero(film > 0) == round(layer.coverage * film.size)
    assert film.mean(dtype=np.float64) == pytest.approx(1604.1666667 / layer.spread.likely * layer.coverage, rel=1e-6)
    assert film.min() >= 0


def test_clouds_build_up() -> None:
    """Three coats build patches: the film of each varies by a fifth and more, and no two vary alike."""
    wall = Wall.bare(24, 24, 12.5)
    for name in ("one", "two", "three"):
        wall = lay(coat(name), wall)
    films = [wall.stratum(name).film for name in ("one", "two", "three")]
    assert all(film.std() > 0.2 * film.mean() for film in films)
    assert abs(np.corrcoef(films[0].ravel(), films[1].ravel())[0, 1]) < 0.4


def test_cloud_key_sets_the_depth() -> None:
    """More cloud, more unevenness; none leaves bristles only."""
    slow = []
    for cloud in ("0 %", "30 %", "90 %"):
        film = lay(coat(cloud=cloud, bristle="0 %"), Wall.bare(20, 20, 12.5)).stratum("wash").film
        slow.append(float(film.std() / film.mean()))
    assert slow[0] < 0.02 < slow[1] < slow[2]


def test_bristles_follow_the_strokes() -> None:
    """Strokes across the wall leave marks that change less along a row than down a column."""
    film = lay(coat(scatter="4 deg", bristle="60 %"), Wall.bare(12, 12, 25)).stratum("wash").film
    along, across = np.abs(np.diff(film, axis=1)).mean(), np.abs(np.diff(film, axis=0)).mean()
    assert along < 0.6 * across


def test_metal_flakes_glint() -> None:
    """The sheen of a metal paint is about the material's at large and uneven; another paint's is even."""
    metal, plain = (lay(BrushedCoat.model_validate({"name": "wash", "material": name}), Wall.bare(20, 20, 25)).sheen
                    for name in ("copper paint", "stencil paint"))  # fmt: skip
    assert metal.mean() == pytest.approx(0.3, rel=0.25) and metal.std() > 0.3 * metal.mean() and metal.max() <= 1.0
    assert np.ptp(plain) == 0.0


def test_wider_wall_keeps_its_strokes() -> None:
    """A smaller wall is the corner of a larger one, but for the level of the mean."""
    small, large = (lay(coat(), Wall.bare(8, width, 12.5)).height for width in (8.0, 15.0))
    assert np.corrcoef(small[:, :95].ravel(), large[:, :95].ravel())[0, 1] > 0.999


@pytest.mark.parametrize(("height", "width", "ppi"), [(0.05, 0.05, 12.5), (1.0, 1.0, 1.0), (30.0, 40.0, 0.1)])
def test_smallest_pictures(height: float, width: float, ppi: float) -> None:
    """A picture of a pixel or a few works like any other."""
    layer = coat(coverage="80 %")
    wall = lay(layer, Wall.bare(height, width, ppi))
    assert wall.stratum("wash").film.mean(dtype=np.float64) == pytest.approx(layer.mean_mil, rel=1e-6)


@pytest.mark.parametrize(("material", "share"), [("limewash", 0.2), ("stencil paint", 0.35)])
def test_a_coat_sinks_as_it_dries(material: str, share: float) -> None:
    """The wall rises by 20 % of a wet limewash and 35 % of a wet paint, wherever it lies."""
    before = lay(coat("one"))
    after = lay(coat("two", material=material, coverage="70 %"), before)
    assert np.allclose(after.height - before.height, share * after.stratum("two").film, atol=1e-4)


def test_hairs_are_unbroken_and_of_all_widths() -> None:
    """Level strokes change a sixth as much along a row as down a column over a fiftieth of an inch, and a quarter as
    much over a tenth, where the hand that strays is seen.
    """
    film = np.log(lay(coat(scatter="0 deg", cloud="0 %", bristle="60 %"), Wall.bare(12, 12, 50)).stratum("wash").film)
    for step, most in ((1, 1.0 / 6.0), (5, 0.25)):
        along, across = (np.abs(np.diff(film[::step, ::step], axis=axis)).mean() for axis in (1, 0))
        assert along < most * across


def test_an_emptying_brush_combs_the_coat() -> None:
    """Without clouds bristles alone are left: of squares of half an inch the fifth combed most has 3.5 times the
    marks of the fifth combed least, where marks of one strength have little over twice.
    """
    film = lay(coat(cloud="0 %", bristle="60 %"), Wall.bare(24, 24, 50)).stratum("wash").film
    rough = np.sort((film / film.mean()).reshape(48, 25, 48, 25).std((1, 3)).ravel())
    fifth = rough.size // 5
    assert rough[-fifth:].mean() > 3.5 * rough[:fifth].mean()


def test_a_dry_brush_misses_in_long_bristle_lines() -> None:
    """Of strokes that all run across the wall, what a coat at 60 % misses is long and narrow: a column crosses from
    bare to covered four times as often as a row, and eight times as often as where no bristle shows.
    """
    crossed = []
    for bristle in ("60 %", "0 %"):
        wall = lay(coat(scatter="3 deg", coverage="60 %", cloud="60 %", bristle=bristle), Wall.bare(16, 16, 50))
        missed = wall.stratum("wash").film == 0
        crossed.append([np.count_nonzero(np.diff(missed, axis=axis)) for axis in (0, 1)])
    assert crossed[0][0] > 4.0 * crossed[0][1]
    assert crossed[0][0] > 8.0 * crossed[1][0]


def test_a_dry_brush_catches_what_stands_up() -> None:
    """On a wall ribbed by 4 mil every half inch a coat at 50 % lies on a tenth more of the crests than of the
    hollows.
    """
    grid = Wall.bare(16, 16, 25).grid
    ribs = np.broadcast_to((2.0 * np.sin(4.0 * np.pi * grid.col_in)).astype(np.float32)[None, :], grid.shape)
    wall = Wall.bare(16, 16, 25).evolve(height=ribs)
    on = lay(coat(coverage="50 %", cloud="60 %"), wall).stratum("wash").film > 0
    assert on[ribs > 1.0].mean() > 1.1 * on[ribs < -1.0].mean()
