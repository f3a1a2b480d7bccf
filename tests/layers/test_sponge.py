"""Colour dabbed on with a sponge, a rag or a bag."""

from __future__ import annotations

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


def test_a_print_fades_out_within_its_width() -> None:
    """One dab 5 in wide touches hardest at its middle and nowhere beyond three quarters of its width."""
    grid = Grid.over(12.0, 12.0, 20.0)
    sheet = np.zeros((600, 600), np.float32)
    dab = sponge._Dab(6.0, 6.0, 2.5, 0.7, 0.0, 0.0, 10.0, 10.0, 1.0)
    at = dab.window(grid)
    assert at is not None
    touch = dab.touch(grid, at, sheet, 20.0)
    down, right = grid.row_in[at[0]][:, None] - 6.0, grid.col_in[at[1]][None, :] - 6.0
    away = np.sqrt(down**2 + right**2)
    assert touch.max() == pytest.approx(0.0, abs=1e-3)
    assert touch[away > 3.3].max() < -2.2
    assert np.unravel_index(np.argmax(touch), touch.shape) == pytest.approx(np.array(touch.shape) / 2, abs=6)


def test_a_wider_wall_keeps_its_prints() -> None:
    """How firmly a place is touched does not change when the wall grows to the right and down."""
    kind = layers.kinds()["sponge"]
    made = kind.model_validate(
        {"name": "d", "material": "glaze medium", "colourants": {"raw umber": "1 tsp"}, "spread": "500 ft2/gal"}
    )
    small, large = Grid.over(10.0, 10.0, 12.0), Grid.over(18.0, 22.0, 12.0)
    touched = []
    for grid in (small, large):
        dabs = sponge._scatter(grid, 5.0, 77)
        felt = sponge._felt(grid, dabs, sponge._sheet("sponge", 12.0, 5))
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
    face, flat = sponge._sheet("sponge", 20.0, 5), np.zeros(grid.shape, np.float32)
    fresh, spent = (
        made._film(grid, sponge._felt(grid, [sponge._Dab(4.0, 4.0, 2.5, 0.7, 0.0, s, 10.0, 10.0, 1.0)], face), flat)  # type: ignore[attr-defined]
        for s in (0.0, 1.0)
    )
    assert fresh.max() > 0.5
    assert np.allclose(spent, fresh * np.exp(-2.0), atol=1e-6)


@pytest.mark.parametrize("face", FACES)
def test_large_walls_are_printed_as_small_ones(face: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether touches are kept or worked out twice, no bit differs."""
    kept = dabbed(face=face).stratum("dab").film
    monkeypatch.setattr(sponge, "_KEPT_PIXELS", 0)
    assert np.array_equal(kept, dabbed(face=face).stratum("dab").film)


def test_a_sea_sponge_prints_lace() -> None:
    """Of a print's bare pores most are small: half of them under a tenth of an inch across, and many to the inch."""
    film = dabbed(face="sponge", coverage="60 %").stratum("dab").film
    pores, count = ndimage.label(film == 0)
    size = np.sqrt(np.bincount(pores.ravel())[1:]) / SITE.ppi
    assert count > 2.0 * 16.0 * 16.0
    assert np.median(size) < 0.1
