"""Volumes by layer and material: each worked by hand."""

from __future__ import annotations

from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render import units
from render.estimate.quantities import WASTE, by_material, finish_estimate
from render.finish import Finish
from render.layers.base import Coat, Layer, Liquid, Wash
from render.materials import Container, Material
from render.units import Span


class Plaster(Coat):
    """A coat for tests."""

    kind: Literal["test_plaster"] = "test_plaster"
    tool: str = "12 in trowel"


class Stain(Wash):
    """A glaze for tests."""

    kind: Literal["test_stain"] = "test_stain"


class Mist(Liquid):
    """A liquid for tests."""

    kind: Literal["test_mist"] = "test_mist"


class Sanding(Layer):
    """An act for tests."""

    kind: Literal["test_sanding"] = "test_sanding"


TOPPING = Material.model_validate(
    {"name": "test topping", "class": "plaster", "containers": [Container(size="1 gal", price=50)]}
)
MEDIUM = Material.model_validate(
    {"name": "test medium", "class": "glaze medium", "containers": [Container(size="1 qt", price=20)]}
)
WATER = Material.model_validate({"name": "water", "class": "water"})
SHELF = {one.name: one for one in (TOPPING, MEDIUM, WATER)}


def close(span: Span, low: float, likely: float, high: float) -> bool:
    """Tell whether a range has these three values."""
    return (span.low, span.likely, span.high) == pytest.approx((low, likely, high), rel=1e-12)


def plaster(**keys: object) -> Plaster:
    """Return a plaster coat with the given keys."""
    return Plaster.model_validate({"name": "top", "material": TOPPING, **keys})


def stain(**keys: object) -> Stain:
    """Return the strong glaze of common practice, no source: 12 fl oz of medium to 2 tbsp of colour."""
    recipe = {"medium": "12 fl oz", "colourants": {"burnt umber": "2 tbsp"}, "spread": "250 ft2/gal"}
    return Stain.model_validate({"name": "stain", "material": MEDIUM, **recipe, **keys})


def test_a_coat_by_hand() -> None:
    """120 ft² at 60-75 ft²/gal measured at 80 %, laid over 60 %, thinned 10-30 %, by hand.

    Product: 120/75 x .75 = 1.2, 120/67.5 x .75 = 4/3, 120/60 x .75 = 1.5 gal. Water .12, .2667, .45.
    """
    layer = plaster(spread="60-75 ft2/gal", spread_at="80 %", coverage="60 %", thin="10-30 %")
    got = finish_estimate(Finish("one coat", (layer,), shelf=SHELF), 120.0, waste=0.0)
    line = got.layers[0]
    assert close(line.product, 1.2, 4 / 3, 1.5)
    assert close(line.water, 0.12, 0.8 / 3, 0.45)
    assert close(line.mixed, 1.32, 1.6, 1.95)
    assert close(line.materials["test topping"], 1.2, 4 / 3, 1.5)
    assert close(line.materials["water"], 0.12, 0.8 / 3, 0.45)
    assert line.tool == "12 in trowel"


def test_a_glaze_is_split_into_medium_and_colour() -> None:
    """12 fl oz + 2 tbsp make 13 fl oz; 500 ft² at 250 take 2 gal, of it 12/13 medium and 1/13 colour."""
    got = by_material(stain().amounts(500.0))
    assert close(got["test medium"], *(3 * [24 / 13]))
    assert close(got["burnt umber"], *(3 * [2 / 13]))


def test_a_thinned_glaze_keeps_its_recipe() -> None:
    """Thinned by half: the medium and colour are as before, and 1 gal of water comes to them."""
    got = by_material(stain(thin="50 %").amounts(500.0))
    assert close(got["test medium"], *(3 * [24 / 13]))
    assert close(got["burnt umber"], *(3 * [2 / 13]))
    assert close(got["water"], 1.0, 1.0, 1.0)


def test_water_as_the_material_itself() -> None:
    """A mist of 0.64 fl oz/ft² on 100 ft² is half a gallon of water, and water is not bought."""
    mist = Mist.model_validate({"name": "mist", "material": WATER, "dose": "0.64 fl oz/ft2"})
    got = finish_estimate(Finish("wet", (mist,), shelf=SHELF), 100.0)
    assert close(got.materials[0].net, 0.5, 0.5, 0.5)
    assert close(got.materials[0].with_waste, 0.5, 0.5, 0.5)
    assert got.materials[0].purchase is None
    assert got.unpriced == ()


def test_an_act_takes_nothing() -> None:
    """Sanding uses no material."""
    got = finish_estimate(Finish("bare", (Sanding(name="sand"),), shelf=SHELF), 100.0)
    assert got.materials == ()
    assert got.layers[0].as_dict()["mixed_gal"] == {"low": 0.0, "likely": 0.0, "high": 0.0}


def test_two_coats_add_up_and_are_bought_together() -> None:
    """100 ft² at 50 and at 40 ft²/gal: 2 + 2.5 = 4.5 gal, with 20 % waste 5.4: six cans, 300, 0.6 over."""
    coats = (plaster(spread="50 ft2/gal"), plaster(name="second", spread="40 ft2/gal"))
    line = finish_estimate(Finish("two coats", coats, shelf=SHELF), 100.0, waste=0.2).materials[0]
    assert close(line.with_waste, 5.4, 5.4, 5.4)
    assert line.purchase is not None
    assert (line.purchase.words(), line.purchase.cost) == ("6 × 1 gal", 300)
    assert line.purchase.leftover == pytest.approx(0.6)


def test_the_high_end_is_bought_unless_told_otherwise() -> None:
    """40-50 ft²/gal on 100 ft² without waste: 2 to 2.5 gal; three cans for the high end, two for the low."""
    finish = Finish("range", (plaster(spread="40-50 ft2/gal"),), shelf=SHELF)
    high = finish_estimate(finish, 100.0, waste=0.0)
    low = finish_estimate(finish, 100.0, waste=0.0, buy="low")
    assert (high.cost, low.cost) == (150, 100)


def test_a_material_without_sizes_is_named() -> None:
    """A colourant that the shelf does not sell is listed as unpriced and costs nothing."""
    got = finish_estimate(Finish("stained", (stain(),), shelf=SHELF), 500.0)
    assert got.unpriced == ("burnt umber",)
    assert got.as_dict()["unpriced"] == ["burnt umber"]
    assert got.waste == WASTE


def test_containers_without_a_price_are_counted_and_cost_nothing() -> None:
    """2 gal of a topping at 50 the gallon and 2 gal of one without a price, 10 % waste: three cans each, 150 in all."""
    unpriced = Material.model_validate({"name": "gift", "class": "plaster", "containers": [Container(size="1 gal")]})
    coats = (plaster(spread="50 ft2/gal"), plaster(name="second", material=unpriced, spread="50 ft2/gal"))
    got = finish_estimate(Finish("two", coats, shelf={**SHELF, "gift": unpriced}), 100.0)
    assert [one.purchase.words() for one in got.materials if one.purchase] == ["3 × 1 gal", "3 × 1 gal"]
    assert (got.cost, got.unpriced) == (150, ("gift",))


def test_negative_area_or_waste_is_refused() -> None:
    """There is no such wall and no such waste."""
    for area, waste in ((-1.0, 0.1), (1.0, -0.1)):
        with pytest.raises(ValueError, match="zero or more"):
            finish_estimate(Finish("none", (), shelf=SHELF), area, waste)


@settings(max_examples=60, deadline=None)
@given(
    area=st.floats(1, 5000),
    low=st.floats(20, 400),
    wider=st.floats(0, 100),
    thin=st.floats(0, 100),
    share=st.floats(1, 100),
)
def test_nothing_is_lost_between_layer_and_material(
    area: float, low: float, wider: float, thin: float, share: float
) -> None:
    """Materials sum to the mixed volume, likely film is 1604.1667 x gal / ft², and the range is in order."""
    spread = f"{low:.4f}-{low + wider:.4f} ft2/gal"
    keys = {"spread": spread, "thin": f"{thin:.3f} %", "coverage": f"{share:.3f} %"}
    layers = (plaster(**keys), stain(**keys))
    for line in finish_estimate(Finish("any", layers, shelf=SHELF), area).layers:
        summed = sum(one.likely for one in line.materials.values())
        assert summed == pytest.approx(line.mixed.likely, rel=1e-9)
        assert line.mixed.low <= line.mixed.likely <= line.mixed.high
        assert units.film_mil(line.mixed.likely, area) == pytest.approx(231 / 0.144 * summed / area, rel=1e-9)
