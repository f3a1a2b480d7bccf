"""Numbers in words: one unit for a range, none for one that reads as one number, heights of slopes and gables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from render.estimate import words
from render.job import WallPlan
from render.units import Span


@pytest.mark.parametrize(
    ("ends", "text"),
    [
        ((0.24, 0.26, 0.28), "0.26 gal (0.24–0.28 gal)"),
        ((0.22, 0.24, 0.28), "30.7 fl oz (28.2–35.8 fl oz)"),
        ((0.00400, 0.00401, 0.00402), "0.5 fl oz"),
        ((1.0, 1.0, 1.0), "1.00 gal"),
        ((0.0, 0.0, 0.0), "—"),
    ],
)
def test_a_range_has_one_unit(ends: tuple[float, float, float], text: str) -> None:
    """128 fl oz are a gallon; ends on either side of a quart keep the middle's unit, equal ends are left out."""
    assert words.volumes(Span(*ends)) == text


@given(st.lists(st.floats(1e-4, 50), min_size=3, max_size=3), st.sampled_from(["imperial", "metric"]))
def test_every_range_repeats_its_unit(ends: list[float], units: str) -> None:
    """Whatever the size: the unit after the bracket's ends is the one before it."""
    told = words.volumes(Span(*sorted(ends)), units)  # type: ignore[arg-type]
    likely, bracket, rest = told.partition(" (")
    if bracket:
        assert likely.partition(" ")[2] == rest.rstrip(")").partition(" ")[2]


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
