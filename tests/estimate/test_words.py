"""Numbers in words: one unit for a range, none for one that reads as one number, heights of slopes and gables."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from render.estimate import words
from render.estimate.purchase import cheapest
from render.job import WallPlan
from render.materials import Container
from render.units import Span


@pytest.mark.parametrize(
    ("ends", "text"),
    [
        ((0.24, 0.26, 0.28), "0.26 (0.24–0.28) gal"),
        ((0.22, 0.24, 0.28), "30.7 (28.2–35.8) fl oz"),
        ((0.00400, 0.00401, 0.00402), "0.5 fl oz"),
        ((1.0, 1.0, 1.0), "1.00 gal"),
        ((0.0, 0.0, 0.0), "—"),
    ],
)
def test_a_range_has_one_unit(ends: tuple[float, float, float], text: str) -> None:
    """128 fl oz are a gallon; ends on either side of a quart keep the middle's unit, equal ends are left out."""
    assert words.volumes(Span(*ends)) == text


@given(st.lists(st.floats(1e-4, 50), min_size=3, max_size=3), st.sampled_from(["imperial", "metric"]))
def test_every_range_has_its_unit_once(ends: list[float], units: str) -> None:
    """Whatever the size: numbers in order, one unit at the end."""
    told = words.volumes(Span(*sorted(ends)), units)  # type: ignore[arg-type]
    got = re.fullmatch(r"([\d.]+)(?: \(([\d.]+)–([\d.]+)\))? (gal|fl oz|tsp|L|ml)", told)
    assert got
    if got[2]:
        assert float(got[2]) <= float(got[1]) <= float(got[3])


@pytest.mark.parametrize(
    ("wall", "units"),
    [("12 ft x 8 ft", "imperial"), ("12 ft 6 in x 96 in", "imperial"), ("3.6 m x 2.4 m", "metric"),
     ("360cm x 2400 mm", "metric"), ("", "imperial")],
)  # fmt: skip
def test_a_wall_in_metres_is_answered_in_metres(wall: str, units: str) -> None:
    """The units of an answer are those of the question."""
    assert words.units_of(wall) == units


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("9 in roller (3/8 in nap)", "230 mm roller (10 mm nap)"),
        ("blocks 24 x 12 in, running", "blocks 610 x 305 mm, running"),
        ("medium crackle (about 0.32 in), slow", "medium crackle (about 8 mm), slow"),
        ("1 1/2 in sash brush", "38 mm sash brush"),
        ("0.04 in grains", "1 mm grains"),
        ("about 1.5 % of the wall; in 2 buckets", "about 1.5 % of the wall; in 2 buckets"),
    ],
)
def test_inches_become_millimetres_on_a_metric_sheet(text: str, told: str) -> None:
    """An inch is 25.4 mm; sizes as a rule reads them; other words stay, and an imperial sheet keeps all."""
    assert words.in_units(text, "metric") == told
    assert words.in_units(text, "imperial") == text


def test_spreads_rates_and_films_by_hand() -> None:
    """170 ft²/gal are 4.17 m²/L (x .092903 / 3.78541); 100 ft²/h 9.29 m²/h; 10 mil .25 mm; a few drops nothing."""
    assert words.spread(Span.between(170, 200)) == "170–200 ft²/gal"
    assert words.spread(Span.between(170, 200), "metric") == "4.17–4.91 m²/L"
    assert words.rate(Span.between(120, 180)) == "120–180 ft²/h"
    assert words.rate(Span.exactly(100), "metric") == "9.29 m²/h"
    assert (words.film(10.0), words.film(10.0, "metric"), words.film(0.006)) == ("10 mil", "0.25 mm", "")
    assert (words.left_over(1e-6), words.left_over(0.5)) == ("—", "0.50 gal")


def test_containers_on_a_metric_sheet_tell_their_litres() -> None:
    """A gallon holds 3.785 L; a can sold by the litre is not converted; nothing bought is a dash."""
    sizes = [Container.model_validate({"size": size}) for size in ("5 gal", "5 L")]
    can, tin = (cheapest(1.0, [one]) for one in sizes)
    assert (words.bought(can), words.bought(can, "metric")) == ("1 × 5 gal", "1 × 5 gal (18.9 L)")
    assert words.bought(tin, "metric") == "1 × 5 L"
    assert (words.bought(None), words.bought(cheapest(0.0, sizes))) == ("no sizes known", "—")


def test_walls_stand_by_room() -> None:
    """A room's name is told once."""
    pairs = [("Hall", "north"), ("Hall", "east"), ("Study", "south")]
    assert words.walls(pairs) == "Hall: north, east; Study: south"


@pytest.mark.parametrize(
    ("keys", "units", "text"),
    [
        ({}, "imperial", "9 ft"),
        ({"height_right": "15 ft"}, "imperial", "9–15 ft, sloped"),
        ({"height_right": "7 ft 6 in"}, "imperial", "7 ft 6 in–9 ft, sloped"),
        ({"rise": "3 ft"}, "imperial", "9–12 ft, gable"),
        ({"rise": "3 ft"}, "metric", "2.74–3.66 m, gable"),
        ({"height_right": "9 ft"}, "imperial", "9 ft"),
    ],
)
def test_a_height_shows_slope_and_gable(keys: dict[str, str], units: str, text: str) -> None:
    """A wall under a roof shows both of its heights, so that its area can be followed."""
    wall = WallPlan.model_validate({"width": "11 ft", "height": "9 ft", **keys})
    assert words.height(wall, units) == text  # type: ignore[arg-type]
