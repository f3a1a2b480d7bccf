"""Coverage is exact to a pixel, and films to their volume: what the layer bases and the placement promise."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from pydantic import TypeAdapter

from render import fields
from render.finish import read
from render.layers import base as layer_base
from render.layers.base import Coat, Laid, Layer, Liquid, Wash, scaled
from render.materials import Material
from render.units import Span
from render.wall import Stratum, Wall
from tests_support import base, table

TOPPING = Material.model_validate(
    {"name": "topping", "class": "plaster", "spread": "50 ft2/gal", "absorbency": "70 %", "sheen": "20 %"}
)
MEDIUM = Material.model_validate({"name": "medium", "class": "glaze medium"})


class Trowelled(Coat):
    """A coat for tests."""

    kind: Literal["test_trowelled"] = "test_trowelled"
    tool: str = ""


class Rubbed(Wash):
    """A glaze for tests."""

    kind: Literal["test_rubbed"] = "test_rubbed"


class Splash(Liquid):
    """A liquid for tests."""

    kind: Literal["test_splash"] = "test_splash"


class Scrape(Layer):
    """An act for tests, aimed at half of the wall."""

    kind: Literal["test_scrape"] = "test_scrape"
    coverage: float = 0.5


def coat(**keys: object) -> Trowelled:
    """Return a coat of topping."""
    return Trowelled.model_validate({"name": "top", "material": TOPPING, **keys})


def ends(span: Span) -> tuple[float, float, float]:
    """Return a range as three numbers."""
    return span.low, span.likely, span.high


# --- which pixels ----------------------------------------------------------------------------------------------------


def test_the_highest_places_are_covered() -> None:
    """Of 1 to 6, a third covers 5 and 6; the level is 5."""
    placement = np.array([[3, 6, 1], [5, 2, 4]], np.float32)
    assert fields.threshold(placement, 1 / 3) == 5.0
    assert fields.cover(placement, 1 / 3).tolist() == [[False, True, False], [True, False, False]]
    assert fields.threshold(placement, 5 / 6) == 2.0
    assert fields.threshold(placement, 1.0) == 1.0 == fields.threshold(placement, 7.0)
    assert fields.threshold(placement, 0.0) == np.nextafter(np.float32(6), np.float32(7))
    assert fields.threshold(placement, -1.0) > 6.0 and not fields.cover(placement, 0.0).any()
    assert fields.cover(placement, 1.0).all()


def test_ties_are_taken_from_the_top_left() -> None:
    """Half of an even placement is its first half; half of one with ties at the level fills up from the top left."""
    even = np.zeros((2, 4), np.float32)
    assert fields.cover(even, 0.5).tolist() == [[True] * 4, [False] * 4]
    assert fields.cover(even, 1 / 8).ravel().tolist() == [True] + [False] * 7
    some = np.array([2, 1, 1, 3, 1, 0], np.float32)[np.newaxis]
    assert fields.cover(some, 0.5).tolist() == [[True, True, False, True, False, False]]
    assert fields.cover(some, 0.5, fields.threshold(some, 0.5)).tolist() == fields.cover(some, 0.5).tolist()


@given(arrays.arrays(np.float32, (5, 7), elements=st.integers(-3, 3).map(float)), st.floats(0, 1))
@settings(max_examples=80, deadline=None)
def test_exactly_the_share_asked(placement: np.ndarray, share: float) -> None:
    """The number covered is round(share x pixels) whatever the ties, and nothing left bare lies higher."""
    mask = fields.cover(placement, share)
    assert mask.sum() == round(share * 35)
    if mask.any() and not mask.all():
        assert placement[~mask].max() <= placement[mask].min()


# --- how much --------------------------------------------------------------------------------------------------------


def test_a_film_is_scaled_to_its_volume() -> None:
    """1, 0, 3, 4 with mean 2 become 3, 0, 9, 12 for a mean of 6; nothing to scale, or to nothing, is nothing."""
    film = np.array([[1, 0], [3, 4]], np.float32)
    assert scaled(film, 6.0).tolist() == [[3, 0], [9, 12]] and scaled(film, 6.0).dtype == np.float32
    assert scaled(film, 0.5).tolist() == [[0.25, 0], [0.75, 1]]
    for none in (scaled(film, 0.0), scaled(film, -1.0), scaled(np.zeros_like(film), 5.0)):
        assert none.shape == film.shape and not none.any()


@pytest.mark.parametrize(
    ("keys", "product", "water"),
    [
        ({}, (2.0, 2.0, 2.0), (0.0, 0.0, 0.0)),
        ({"coverage": "40 %"}, (2.0, 2.0, 2.0), (0.0, 0.0, 0.0)),
        ({"coverage": "40 %", "spread_at": "80 %"}, (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)),
        ({"coverage": "0 %"}, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        ({"coverage": "0 %", "spread_at": "80 %"}, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        ({"spread": "40-60 ft2/gal"}, (100 / 60, 2.0, 2.5), (0.0, 0.0, 0.0)),
        ({"spread": "100 ft2/gal", "thin": "10-30 %"}, (1.0, 1.0, 1.0), (0.1, 0.2, 0.3)),
    ],
)
def test_a_coat_on_a_hundred_square_feet(
    keys: dict[str, str], product: tuple[float, ...], water: tuple[float, ...]
) -> None:
    """Product = area / spread x coverage / spread_at, water = product x thinning; the material's own if unsaid."""
    got = coat(**keys).amounts(100.0)
    assert ends(got.product) == pytest.approx(product, rel=1e-12)
    assert ends(got.water) == pytest.approx(water, rel=1e-12)
    assert ends(got.mixed) == pytest.approx([p + w for p, w in zip(product, water, strict=True)], rel=1e-12)


def test_the_film_of_a_spread() -> None:
    """A gallon on 50 ft2 is 1604.1667 / 50 mil; thinned by half, half more."""
    assert coat().mean_mil == pytest.approx(231 / 0.144 / 50, rel=1e-12)
    assert coat(thin="50 %").mean_mil == pytest.approx(231 / 0.144 / 50 * 1.5, rel=1e-12)
    assert coat(coverage="25 %", spread_at="50 %").mean_mil == pytest.approx(231 / 0.144 / 100, rel=1e-12)


def test_a_spread_is_measured_on_something() -> None:
    """A spread measured at no coverage is refused; one in a thousand is not."""
    with pytest.raises(ValueError, match="above 0 %"):
        coat(spread_at="0 %")
    assert coat(spread_at="0.1 %").spread_at == pytest.approx(0.001)


def test_parts_of_a_mix() -> None:
    """Thinned by a quarter, four fifths are product; 12 + 2 + 2 oz by half are 1/2, 1/12, 1/12, 1/3."""
    assert coat().parts == {"topping": 1.0}
    assert coat(thin="25 %").parts == pytest.approx({"topping": 0.8, "water": 0.2})
    recipe = {"medium": "12 fl oz", "colourants": {"raw umber": "2 fl oz", "burnt umber": "2 fl oz"}}
    stain = Rubbed.model_validate({"name": "stain", "material": MEDIUM, "spread": "250 ft2/gal", **recipe})
    assert stain.parts == pytest.approx({"medium": 0.75, "raw umber": 0.125, "burnt umber": 0.125})
    thinned = stain.model_copy(update={"thin": Span.exactly(0.5)})
    wanted = {"medium": 1 / 2, "raw umber": 1 / 12, "burnt umber": 1 / 12, "water": 1 / 3}
    assert thinned.parts == pytest.approx(wanted)
    k, s = thinned.optics()
    whole_k, whole_s = stain.optics()
    assert k == pytest.approx(whole_k / 1.5) and s == pytest.approx(whole_s / 1.5)


def test_water_that_is_the_product_is_one_part() -> None:
    """Water thinned with water is all water."""
    water = Material.model_validate({"name": "water", "class": "water"})
    assert coat(material=water, thin="50 %").parts == pytest.approx({"water": 1.0})


@pytest.mark.parametrize(
    ("given_", "says"), [({}, "at least one"), ({"raw umbre": "1 tsp"}, "did you mean 'raw umber'")]
)
def test_colourants_of_a_glaze(given_: dict[str, str], says: str) -> None:
    """A glaze without colour is refused, and so is a colour that nobody knows."""
    with pytest.raises(ValueError, match=says):
        Rubbed.model_validate({"name": "stain", "material": MEDIUM, "colourants": given_})


def test_a_liquid_by_dose() -> None:
    """0.5 to 1.5 fl oz/ft2 on 128 ft2 are 0.5 to 1.5 gal, unthinned; it asks for no coverage."""
    layer = Splash.model_validate({"name": "wet", "material": "water", "dose": "0.5-1.5 fl oz/ft2", "coverage": "30 %"})
    got = layer.amounts(128.0)
    assert ends(got.product) == pytest.approx((0.5, 1.0, 1.5)) == ends(got.mixed)
    assert ends(got.water) == (0.0, 0.0, 0.0) and got.parts == {"water": 1.0}
    assert layer.asked is None and layer.achieved(Wall.bare(1, 1, 1), Wall.bare(1, 1, 1)) is None


def test_an_act_asks_for_nothing_and_touches_what_changed() -> None:
    """Of four pixels one changed its height and another its colour: half is touched."""
    act = Scrape(name="scrape")
    assert ends(act.amounts(100.0).mixed) == (0.0, 0.0, 0.0) and act.amounts(100.0).parts == {}
    before = Wall.bare(1.0, 4.0, 1.0).add(Stratum("glaze", "colour", np.ones((1, 4), np.float32)))
    after = before.take("glaze", np.array([[0.5, 0, 0, 0]], np.float32))
    assert act.achieved(before, after) == 0.25
    both = after.evolve(height=np.array([[0, 0, 1, 0]], np.float32))
    assert act.achieved(before, both) == 0.5
    assert act.achieved(before, before) == 0.0
    assert act.optics() is None and act.asked == 0.5


def test_a_laid_layer_touches_where_its_film_is() -> None:
    """A film on three of four pixels covers three quarters."""
    wall = Wall.bare(1.0, 4.0, 1.0)
    film = np.array([[1, 0, 1e-6, 2]], np.float32)
    assert coat().achieved(wall, wall.add(coat().stratum(film))) == 0.75


def test_a_stratum_is_as_its_material() -> None:
    """A coat takes thirst and sheen from its material unless told; a glaze keeps what soaked in."""
    film = np.ones((1, 1), np.float32)
    one = coat().stratum(film)
    assert (one.name, one.role) == ("top", "coat") and one.film is film
    assert (one.thirst, one.sheen) == pytest.approx((0.7, 0.2))
    assert coat().stratum(film, sheen=0.9).sheen == 0.9
    stain = Rubbed.model_validate({"name": "s", "material": MEDIUM, "colourants": {"raw umber": "1 tsp"}})
    assert stain.stratum(film, film).fixed is film and stain.stratum(film).fixed is None
    assert stain.stratum(film).role == "colour"


def test_words_tools_and_cautions() -> None:
    """A layer is called by its title or its kind; its own tool stands before the kind's."""
    assert Scrape(name="x").words() == "test scrape"
    assert coat().tools_used() == () and coat(tool="12 in trowel").tools_used() == ("12 in trowel",)
    assert coat().cautions() == ()
    assert isinstance(coat(), Laid)


def test_the_fingerprint_is_what_the_wall_depends_on() -> None:
    """Colour, price, note and hours change no wall; spread, name, sheen and thinning do."""
    plain = coat().fingerprint()
    recoloured = TOPPING.model_copy(update={"colour": "#112233", "note": "n", "dries": Span.exactly(9.0)})
    assert coat(material=recoloured, note="a remark", labour="100 ft2/h").fingerprint() == plain
    for other in ({"thin": "5 %"}, {"name": "other"}, {"material": TOPPING.model_copy(update={"sheen": 0.9})}):
        assert coat(**other).fingerprint() != plain
    assert Scrape(name="x").fingerprint() != Scrape(name="y").fingerprint()


def test_a_name_is_found_on_the_finish_s_own_shelf() -> None:
    """A finish's own material is taken before one that ships, and an unknown name is a fault that names it."""
    own = read(
        {
            **table({**base(material="mine"), "kind": "texture_coat"}),
            "material": {"mine": {"class": "paint", "spread": "123 ft2/gal"}},
        }
    )
    assert own.layers[0].material.spread == Span.exactly(123.0)  # type: ignore[attr-defined]
    with pytest.raises(ValueError, match="unknown material"):
        read(table(base(material="nobody's own wonder")))


@pytest.mark.parametrize(
    ("kind", "least", "most", "below", "above"),
    [
        ("Share", "0 %", "100 %", "-1 %", "100.1 %"),
        ("SpanShare", "0-1 %", "399-400 %", "-1-1 %", "1-401 %"),
        ("Length", "0 in", "100 ft", "-0.1 in", "100 ft 0.1 in"),
        ("Mils", "0 mil", "2 in", "-0.5 mil", "2000.1 mil"),
        ("Angle", "-180 deg", "180 deg", "-180.5 deg", "180.5 deg"),
        ("SpanSpread", "1-2 ft2/gal", "2-20000 ft2/gal", "0.9-2 ft2/gal", "2-20001 ft2/gal"),
        ("SpanDose", "0-1 gal/ft2", "1 gal/ft2", "-0.1-1 gal/ft2", "0-1.1 gal/ft2"),
        ("Volume", "0 gal", "500 gal", "-0.1 gal", "500.1 gal"),
        ("SpanTime", "0-1 h", "1-2000 h", "-1-1 h", "1-2001 h"),
    ],
)
def test_limits_of_keys(kind: str, least: str, most: str, below: str, above: str) -> None:
    """Each type of key takes both of its ends and nothing beyond."""
    reads = TypeAdapter(getattr(layer_base, kind)).validate_python
    for fits in (least, most):
        reads(fits)
    for wrong in (below, above):
        with pytest.raises(ValueError, match="out of range"):
            reads(wrong)


def test_layers_never_change() -> None:
    """A layer's keys are fixed once it is read, and unless a kind says otherwise it waits for what is below to dry."""
    with pytest.raises(ValueError, match="frozen"):
        coat().name = "other"  # type: ignore[misc]
    assert not Layer.while_wet


@given(share=st.floats(0.0, 1.0), even=st.floats(0.0, 0.9), steps=st.sampled_from([0, 3, 40]), seed=st.integers(0, 99))
@settings(max_examples=60, deadline=None)
def test_level_is_that_of_the_sorted_values(share: float, even: float, steps: int, seed: int) -> None:
    """Of forty thousand values, many of them equal or none, the level is the one that a sort finds, to the bit."""
    rng = np.random.default_rng(seed)
    values = np.sort(rng.normal(size=40_000).astype(np.float32)) if seed % 3 == 0 else rng.normal(size=40_000)
    values = np.where(rng.random(40_000) < even, -9.0, values).astype(np.float32)
    placement = (np.round(values * steps) / steps if steps else values).astype(np.float32).reshape(200, 200)
    count = round(share * placement.size)
    if count > 0:
        assert fields.threshold(placement, share) == np.sort(placement.ravel())[-count]


@pytest.fixture
def looked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return how many values each partition had to look at."""
    sizes: list[int] = []
    partition = np.partition

    def watched(some: np.ndarray, place: int) -> np.ndarray:
        sizes.append(some.size)
        return partition(some, place)

    monkeypatch.setattr(np, "partition", watched)
    return sizes


@pytest.mark.parametrize("share", [0.001, 0.2, 0.5, 0.97])
@pytest.mark.parametrize("pixels", [5_000, 40_000, 500_000])
def test_a_level_is_sought_among_few(looked: list[int], pixels: int, share: float) -> None:
    """On shuffled values 0, 1, 2 ... the level is pixels less the count, found among less than a tenth of them."""
    values = np.random.default_rng(pixels).permutation(pixels).astype(np.float32)
    assert fields.threshold(values, share) == pixels - round(share * pixels)
    assert len(looked) == 1 and looked[0] < pixels / 10


def test_equals_are_passed_by(looked: list[int]) -> None:
    """Where a fifth stands above 80 000 equals and half is asked, the level is theirs, and nothing is partitioned."""
    values = np.random.default_rng(1).permutation(np.maximum(np.arange(100_000), 80_000)).astype(np.float32)
    assert fields.threshold(values, 0.5) == 80_000
    assert looked == []


@pytest.mark.parametrize("highest", [True, False])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.6, 0.95])
def test_values_that_mislead_a_sample(highest: bool, share: float) -> None:
    """Every fourth of 16 384 values, those that a sample sees, is one of the highest or lowest: the level holds."""
    values = np.arange(16_384, dtype=np.float32).reshape(4, 4096)[:: -1 if highest else 1]
    assert fields.threshold(values.T, share) == 16_384 - round(share * 16_384)
