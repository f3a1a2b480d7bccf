"""Texture coat: exact volume, sand with its sizes and share, direction of the passes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render import blade, texture
from render.fields import Grid
from render.layers.texture_coat import TextureCoat
from render.seeds import Streams
from render.wall import Wall


def coat(**keys: Any) -> TextureCoat:
    """Return a texture coat."""
    return TextureCoat.model_validate({"name": "base", "material": "sanded wall coat", **keys})


def lay(layer: TextureCoat, height: float = 8, width: float = 8, ppi: float = 12.5, pour: int = 3) -> Wall:
    """Return a bare wall after the coat."""
    return layer.apply(Wall.bare(height, width, ppi), Streams(pour, "base"))


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from(["roll", "brush", "trowel"]), st.floats(2.0, 100.0), st.floats(25.0, 2000.0), st.integers(0, 10**6)
)  # fmt: skip
def test_coverage_and_volume_are_exact(method: str, share: float, spread: float, pour: int) -> None:
    """Every method, coverage and spread: to the pixel, to 1e-6, nowhere negative."""
    layer = coat(method=method, coverage=f"{share:.4f} %", spread=f"{spread:.4f} ft2/gal", spread_at="100 %")
    wall = lay(layer, 5, 6, pour=pour)
    film = wall.stratum("base").film
    assert np.count_nonzero(film > 0) == round(layer.coverage * film.size)
    assert film.mean(dtype=np.float64) == pytest.approx(layer.mean_mil, rel=1e-6)
    assert film.min() >= 0


def test_common_practice_film() -> None:
    """Thinned a fifth and rolled at 180 ft²/gal, the coat is 8.9 mil of product (common practice, no source)."""
    wall = lay(coat(spread="180 ft2/gal", thin="20 %"))
    assert wall.stratum("base").film.mean(dtype=np.float64) == pytest.approx(1604.1667 / 180 * 1.2, rel=1e-6)
    assert coat(spread="180 ft2/gal").mean_mil == pytest.approx(8.9, abs=0.05)


def test_grains_are_lognormal() -> None:
    """Half the grains are finer than the median, and one standard deviation is the spread; the ends hold."""
    sand = blade.Sand(0.016, 0.4, (0.008, 0.035))
    unit = np.array([0.5, 0.8413447, 0.1586553, 1e-9, 1 - 1e-9])
    got = sand.diameter(unit)
    np.testing.assert_allclose(got[:3], 0.016 * np.exp([0.0, 0.4, -0.4]), rtol=1e-5)
    np.testing.assert_allclose(got[3:], [0.008, 0.035])


@pytest.mark.parametrize(("mean", "most"), [(0.1, 1e9), (2.0, 1e9), (2.0, 60.0)])
def test_sand_keeps_its_volume(mean: float, most: float) -> None:
    """All drawn singly or the largest only, the grains come to the volume that the coat holds."""
    sand = blade.Sand(0.016, 0.35, (0.008, 0.032))
    got = blade.specks(Grid.over(12, 12, 25), sand, mean, most, 9).mean(dtype=np.float64)
    assert got == pytest.approx(mean, rel=0.05)


def test_sand_at_another_resolution() -> None:
    """Grains are binned by volume: averaged down, a fine picture is the coarse one, grain for grain."""
    sand = blade.Sand(0.016, 0.35, (0.008, 0.032))
    fine, coarse = (blade.specks(Grid.over(6, 6, ppi), sand, 0.2, 1e9, 9) for ppi in (50.0, 12.5))
    down = fine.reshape(75, 4, 75, 4).mean((1, 3))
    assert down[1:-1, 1:-1].sum() == pytest.approx(coarse[1:-1, 1:-1].sum(), rel=0.01)
    assert np.corrcoef(down.ravel(), coarse.ravel())[0, 1] > 0.75


def test_sanded_base_is_grainy() -> None:
    """Sand gives the surface the kurtosis and the short lag of grains (ISO 25178-2, Sku and Sal).

    The lag was asked below .06 in while grains were pegs: the film slopes up to a grain, and one stands by another.
    """
    plain, sandy = (
        texture.parameters(lay(coat(material=m, spread="165 ft2/gal", hop="0 %"), 8, 8, 50).height, 50.0)
        for m in ("primer", "sanded wall coat")
    )
    assert sandy["Sku"] > 5.0
    assert sandy["Ssk"] > 1.0
    assert sandy["Sal_in"] < min(0.1, 0.6 * plain["Sal_in"])


@pytest.mark.parametrize(("method", "width", "stroke"), [("roll", "9 in", "26 in"), ("brush", "4 in", "14 in")])
def test_upright_passes_show_a_direction(method: str, width: str, stroke: str) -> None:
    """Upright passes give a lower Str than passes every way (mean of four pours)."""
    upright, every = (
        np.mean([
            texture.parameters(
                lay(coat(method=method, width=width, stroke=stroke, scatter=s), 30, 30, 8, p).height, 8.0
            )["Str"]
            for p in range(1, 5)
        ])
        for s in ("4 deg", "90 deg")
    )  # fmt: skip
    assert upright < 0.85 * every


def test_hopping_makes_heavy_and_light_areas() -> None:
    """An even hand leaves an even coat; hopping leaves it heavy here and light there, with the same volume."""
    spread = []
    for hop in ("0 %", "80 %"):
        film = lay(coat(hop=hop, material="primer"), 24, 24).stratum("base").film
        spread.append(film.reshape(12, 25, 12, 25).mean((1, 3)).std() / film.mean())
    assert spread[1] > 4 * spread[0]


def test_longer_nap_is_coarser() -> None:
    """A longer nap leaves a coarser peel."""
    short, long = (
        texture.parameters(lay(coat(material="primer", nap=nap, hop="0 %"), 10, 10, 25).height, 25.0)["Sal_in"]
        for nap in ("1/4 in", "1 in")
    )
    assert long > 1.5 * short


def test_wider_wall_keeps_its_coat() -> None:
    """A smaller wall is the corner of a larger one."""
    small, large = (lay(coat(), 8, width).height for width in (8.0, 15.0))
    assert np.corrcoef(small[:, :95].ravel(), large[:, :95].ravel())[0, 1] > 0.999


def test_resolution() -> None:
    """At 25 px/in averaged down it is the wall at 12.5 px/in."""
    fine, coarse = (lay(coat(), 10, 10, ppi).height for ppi in (25.0, 12.5))
    down = fine.reshape(125, 2, 125, 2).mean((1, 3))
    assert np.corrcoef(down.ravel(), coarse.ravel())[0, 1] >= 0.96


@pytest.mark.parametrize("method", ["roll", "brush", "trowel"])
@pytest.mark.parametrize(("height", "width", "ppi"), [(0.05, 0.05, 12.5), (1.0, 1.0, 1.0), (30.0, 40.0, 0.1)])
def test_smallest_pictures(height: float, width: float, ppi: float, method: str) -> None:
    """A picture of a pixel or a few works like any other."""
    layer = coat(method=method, coverage="80 %")
    wall = lay(layer, height, width, ppi)
    assert wall.stratum("base").film.mean(dtype=np.float64) == pytest.approx(layer.mean_mil, rel=1e-6)


def test_words() -> None:
    """The layer list says how the passes run."""
    assert coat(tool="9 in roller").words() == "texture coat rolled upright, 9 in roller"
    assert coat(scatter="90 deg", method="trowel").words() == "texture coat trowelled every way"


@pytest.mark.parametrize(
    ("keys", "tools"),
    [
        ({"method": "roll", "nap": "10 mm"}, ("9 in roller (3/8 in nap)",)),
        ({"method": "roll", "nap": "1 1/4 in", "width": "18 in"}, ("18 in roller (1 1/4 in nap)",)),
        ({"method": "roll", "nap": "1 in"}, ("9 in roller (1 in nap)",)),
        ({"method": "brush"}, ("block brush",)),
        ({"method": "trowel"}, ("hawk", "trowel")),
        ({"method": "roll", "tool": "my roller"}, ("my roller",)),
    ],
)
def test_a_method_names_its_tool(keys, tools):
    """Rolled, brushed or trowelled: the crew's list has the roller with its nap, the brush or hawk and trowel."""
    from render import layers, materials

    given = {"kind": "texture_coat", "name": "base", "material": "sanded wall coat", **keys}
    model = layers.kinds()["texture_coat"]
    assert model.model_validate(given, context={"materials": materials.shipped()}).tools_used() == tools
