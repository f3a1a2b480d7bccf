"""Mixing: measures a finisher has, and batches that end where a wall ends."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render import units
from render.estimate.batches import _groups, kitchen, measure, metric, mix
from render.job import Measured, Placed, Room, WallPlan
from render.layers.base import Coat, Wash
from render.materials import Material

FLOZ = 1 / 128


def gallons(text: str) -> float:
    """Return a volume read by the program's own reader, which meets NIST Handbook 44 in its own test."""
    return units.value(text.replace("¼", "1/4").replace("½", "1/2").replace("¾", "3/4"), "volume")


@pytest.mark.parametrize(
    ("given_", "said"),
    [
        ("12 fl oz", "12 fl oz"),
        ("2 tbsp", "2 tbsp"),
        ("13 fl oz", "13 fl oz"),
        ("6 tsp", "2 tbsp"),
        ("1 tsp", "1 tsp"),
        ("0.25 tsp", "¼ tsp"),
        ("0.01 tsp", "¼ tsp"),
        ("1.75 tsp", "1¾ tsp"),
        ("3.9 fl oz", "7 tbsp 2½ tsp"),
        ("12.5 fl oz", "12 fl oz 1 tbsp"),
        ("31.99 fl oz", "32 fl oz"),
        ("1 qt", "32 fl oz"),
        ("1 gal", "1 gal"),
        ("1.5 gal", "1 gal 64 fl oz"),
        ("1.1 gal", "1 gal 13 fl oz"),
        ("0.99999 gal", "1 gal"),
        ("33.5 fl oz", "33½ fl oz"),
    ],
)
def test_kitchen_measures(given_: str, said: str) -> None:
    """US measures: 1 gal = 128 fl oz = 256 tbsp = 768 tsp (NIST Handbook 44, Appendix C)."""
    assert kitchen(gallons(given_)) == said


def test_nothing_is_none() -> None:
    """No volume has no measure."""
    assert (kitchen(0.0), metric(0.0)) == ("none", "none")


def test_metric_measures() -> None:
    """A US gallon is 3.785411784 L, a teaspoon 4.93 ml."""
    assert (metric(1.0), metric(1 / 768), metric(FLOZ)) == ("3.79 L", "4.9 ml", "30 ml")


@settings(max_examples=300, deadline=None)
@given(tsp=st.floats(2.0, 768 * 60))
def test_a_measure_is_within_its_rounding(tsp: float) -> None:
    """From 2 tsp up what is measured out is at most 6.3 % off, above 4 fl oz at most 2.1 %."""
    said = kitchen(tsp / 768)
    got = sum(gallons(part) for part in _pairs(said)) * 768
    step = 0.25 if tsp < 24 else 1.0 if tsp < 192 else 3.0
    assert abs(got - tsp) <= step / 2 + 1e-6
    assert abs(got / tsp - 1) <= (0.0626 if tsp < 24 else 0.021)


def _pairs(said: str) -> list[str]:
    """Return "1 gal 13½ fl oz" as its parts, with a fraction written out."""
    text = said.replace("fl oz", "floz")
    for sign, plain in (("¼", ".25"), ("½", ".5"), ("¾", ".75")):
        text = text.replace(sign, plain)
    words = text.split()
    return [
        f"{'0' if number.startswith('.') else ''}{number} {unit.replace('floz', 'fl oz')}"
        for number, unit in zip(words[::2], words[1::2], strict=True)
    ]


@settings(max_examples=200, deadline=None)
@given(volumes=st.lists(st.floats(0.05, 3), min_size=1, max_size=9), bucket=st.floats(0.5, 4))
def test_fewest_batches_in_wall_order(volumes: list[float], bucket: float) -> None:
    """Walls stay in order and whole; no split of the order into batches that fit has fewer (brute force)."""
    groups = _groups(volumes, bucket)
    assert [i for group in groups for i in group] == list(range(len(volumes)))
    for group in groups:
        assert len(group) == 1 or sum(volumes[i] for i in group) <= bucket + 1e-6

    def fewest(start: int) -> int:
        if start == len(volumes):
            return 0
        best, filled = 99, 0.0
        for end in range(start, len(volumes)):
            filled += volumes[end]
            if end > start and filled > bucket + 1e-9:
                break
            best = min(best, 1 + fewest(end + 1))
        return best

    assert len(groups) == fewest(0)


def placed(*areas: float) -> list[Placed]:
    """Return walls of given net areas."""
    wall = WallPlan.model_validate({"width": "10 ft", "height": "8 ft"})
    room = Room.model_validate({"name": "room", "wall": [wall]})
    named = [wall.model_copy(update={"name": f"wall {i + 1}"}) for i in range(len(areas))]
    return [Placed(room, one, Measured(area, 0, 0), None) for one, area in zip(named, areas, strict=True)]  # type: ignore[arg-type]


MEDIUM = Material.model_validate({"name": "test medium", "class": "glaze medium", "spread": "250 ft2/gal"})
PLASTER = Material.model_validate({"name": "test plaster", "class": "plaster", "spread": "60 ft2/gal"})


class Stain(Wash):
    """A glaze for tests."""

    kind: str = "test_stain"


class Plaster(Coat):
    """A coat for tests."""

    kind: str = "test_plaster"


def test_a_glaze_batch_by_hand() -> None:
    """Common practice, no source: 12 fl oz + 2 tbsp. 250 + 250 ft² in a 2 gal bucket: one batch of 2 gal = 256 fl oz.

    12/13 of it is medium (236.3 fl oz), 1/13 colour (19.7 fl oz = 39 tbsp).
    """
    stain = Stain.model_validate(
        {"name": "stain", "material": MEDIUM, "medium": "12 fl oz", "colourants": {"burnt umber": "2 tbsp"}}
    )
    got = mix(stain, placed(250, 250, 250), 2.0, 0.0)
    assert got is not None
    assert [one.walls for one in got.batches] == [("room, wall 1", "room, wall 2"), ("room, wall 3",)]
    assert got.ft2_per_bucket == pytest.approx(500)
    first = got.batches[0]
    assert (first.buckets, first.volume) == (1, pytest.approx(2.0))
    assert first.recipe == pytest.approx({"test medium": 24 / 13, "burnt umber": 2 / 13})
    assert kitchen(first.recipe["test medium"]) == "1 gal 108½ fl oz"
    assert kitchen(first.recipe["burnt umber"]) == "19 fl oz 1 tbsp 1 tsp"


def test_a_wall_larger_than_the_bucket_is_boxed() -> None:
    """300 ft² of plaster at 60 and 20 % water are 6 gal: three buckets mixed into each other, not two walls' worth."""
    coat = Plaster.model_validate({"name": "coat", "material": PLASTER, "thin": "20 %"})
    got = mix(coat, placed(300, 40), 2.0, 0.0)
    assert got is not None
    assert [(one.buckets, len(one.walls)) for one in got.batches] == [(3, 1), (1, 1)]


def test_what_comes_from_one_can_is_not_mixed() -> None:
    """A plaster used as it comes has no batches."""
    assert mix(Plaster.model_validate({"name": "coat", "material": PLASTER}), placed(100), 2.0, 0.1) is None


def test_where_spoons_end() -> None:
    """Quarter teaspoons up to 4 fl oz, then whole ones: 4.5 fl oz are 4 fl oz 1 tbsp."""
    assert kitchen(4.5 * FLOZ) == "4 fl oz 1 tbsp" and kitchen(4 * FLOZ) == "4 fl oz"
    assert kitchen(3.5 * FLOZ + FLOZ / 24) == "7 tbsp ¼ tsp"  # a quarter teaspoon is a twenty-fourth of an ounce
    assert (measure(0.5, "imperial"), measure(0.5, "metric")) == ("64 fl oz", "1.89 L")
    assert metric(0.0) == metric(-1.0) == "none"
