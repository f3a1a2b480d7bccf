"""Quantities: NIST Handbook 44 volumes, spread arithmetic, and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from render import units
from render.units import Span, rectangle, span, value

# NIST Handbook 44, Appendix C, general tables of units of measurement (millilitres).
HB44_ML = {
    "1 gal": 3785.411784,
    "1 qt": 946.352946,
    "1 pt": 473.176473,
    "1 cup": 236.5882365,
    "1 fl oz": 29.5735295625,
    "1 tbsp": 14.78676478125,
    "1 tsp": 4.92892159375,
}


@pytest.mark.parametrize(("text", "ml"), HB44_ML.items())
def test_volumes_handbook44(text: str, ml: float) -> None:
    """US volumes are those of NIST Handbook 44, Appendix C."""
    assert value(text, "volume") * units.ML_PER_GAL == pytest.approx(ml, rel=1e-9)


def test_one_gallon_covers_1604_ft2_one_mil_thick() -> None:
    """231 in³ over 0.144 in³ per ft² and mil."""
    assert pytest.approx(1604.1666666666667, rel=1e-12) == units.MIL_FT2_PER_GAL
    assert units.film_mil(1.0, 400.0) == pytest.approx(4.010416666666667, rel=1e-12)


def test_metric_spread() -> None:
    """10 m²/L lies 100 µm thick: 3.937 mil."""
    spread = value("10 m2/L", "spread")
    assert units.film_mil(1.0 / spread, 1.0) == pytest.approx(100 / 25.4, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("3/8 in", "length", 0.375),
        ("1 1/2 in", "length", 1.5),
        ("12 ft 6 in", "length", 150.0),
        ("12' 6\"", "length", 150.0),
        ("2.54 cm", "length", 1.0),
        ("25.4 micron", "film", 1.0),
        ("78 %", "share", 0.78),
        ("0.5 fl oz/ft2", "dose", 0.5 / 128),
        ("68 degF", "temperature", 20.0),
        ("2 days", "time", 48.0),
        ("1 imp gal", "volume", 277.41943279162355 / 231),
        ("-15 deg", "angle", -15.0),
    ],
)
def test_single_quantities(text: str, kind: str, expected: float) -> None:
    """Imperial and metric are both read into the kind's own unit."""
    assert value(text, kind) == pytest.approx(expected, rel=1e-12)


def test_range_keeps_both_ends() -> None:
    """A range is low, its middle, and high."""
    assert span("62-70 ft2/gal", "spread") == Span(62.0, 66.0, 70.0)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        (165, "spread", "no unit"),
        ("165", "spread", "no unit"),
        ("165 ft", "spread", "another kind"),
        ("12 galons", "volume", "did you mean"),
        ("abc", "length", "expected a length"),
        ("", "length", "expected a length"),
        ("70-60 %", "share", "backwards"),
        ("1/0 ft", "length", "tape"),
        ("9" * 400 + " ft", "length", "tape"),
        (None, "length", "expected a length"),
        (True, "share", "expected a share"),
        ("5 __import__('os')", "length", "unknown unit"),
        ("3 ft ** 99999999", "length", "unknown unit"),
    ],
)
def test_refused_with_what_is_expected(text: object, kind: str, says: str) -> None:
    """What cannot be read is refused in words that say what is expected."""
    with pytest.raises(ValueError, match=says.replace("(", r"\(")):
        span(text, kind)


@given(st.text(max_size=40), st.sampled_from(sorted(units.KINDS)))
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    """No text whatever causes another error than ValueError, and what is read is finite and in order."""
    try:
        got = span(text, kind)
    except ValueError:
        return
    assert math.isfinite(got.low) and got.low <= got.likely <= got.high


@given(st.floats(0.01, 999, allow_nan=False), st.sampled_from(["in", "ft", "cm", "m", "mm", "yd"]))
def test_length_round_trip(number: float, unit: str) -> None:
    """A length written in a unit reads back as that many of one unit."""
    assert value(f"{number:.6f} {unit}", "length") == pytest.approx(
        float(f"{number:.6f}") * value(f"1 {unit}", "length"), rel=1e-12
    )


def test_wall_is_width_by_height() -> None:
    """A wall is read as width x height and returned as (height, width) in inches."""
    assert rectangle("12 ft 6 in x 8 ft") == (96.0, 150.0)


@pytest.mark.parametrize("text", ["12 ft", "12 x 8", "0 ft x 8 ft", "a x b", "12 ft x -8 ft", ""])
def test_bad_walls(text: str) -> None:
    """A wall without two positive lengths is refused."""
    with pytest.raises(ValueError, match=r"expected|needs|unit"):
        rectangle(text)
