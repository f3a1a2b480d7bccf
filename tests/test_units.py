"""Quantities: NIST Handbook 44 volumes, spread arithmetic, and what is refused."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from render import units
from render.units import Quantity, Span, rectangle, span, value

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
    assert units.IN2_PER_FT2 == 12.0**2
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
        ("-1 1/2 in", "length", -1.5),
        ("1 / 4 in", "length", 0.25),
        (".5 yd", "length", 18.0),
        ("-10 degC", "temperature", -10.0),
        ("-40 F", "temperature", -40.0),
        ("20°C", "temperature", 20.0),
        ("1 week", "time", 168.0),
        ("90 min", "time", 1.5),
        ("1 kg", "mass", 1 / 0.45359237),
        ("1 m2/h", "rate", 1 / 0.09290304),
        ("165 ft² per gal", "spread", 165.0),
        ("165 sq ft/US gal", "spread", 165.0),
        ("3 percent", "share", 0.03),
        ("1 m", "length", 1 / 0.0254),
        ("1 cm", "length", 1 / 2.54),
        ("1 µm", "film", 1 / 25.4),
        ("1 L", "volume", 1 / 3.785411784),
        ("1 ml", "volume", 0.001 / 3.785411784),
    ],
)
def test_single_quantities(text: str, kind: str, expected: float) -> None:
    """Imperial and metric are both read into the kind's own unit."""
    assert value(text, kind) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "ends"),
    [
        ("62-70 ft2/gal", "spread", (62.0, 66.0, 70.0)),
        ("62 – 70 ft2/gal", "spread", (62.0, 66.0, 70.0)),
        ("62 to 70 ft2/gal", "spread", (62.0, 66.0, 70.0)),
        ("10-20 %", "share", (0.1, 0.15, 0.2)),
        ("1-2 ft 6 in", "length", (18.0, 24.0, 30.0)),
        ("10-20 degC", "temperature", (10.0, 15.0, 20.0)),
        ("50-68 degF", "temperature", (10.0, 15.0, 20.0)),
        ("5-5 mil", "film", (5.0, 5.0, 5.0)),
    ],
)
def test_range_keeps_both_ends(text: str, kind: str, ends: tuple[float, float, float]) -> None:
    """A range is low, its middle, and high; a second term adds to both ends."""
    got = span(text, kind)
    assert (got.low, got.likely, got.high) == pytest.approx(ends, rel=1e-12)


def test_a_span_is_read_as_itself() -> None:
    """What is read already stays as it is, and one value is a range of no width."""
    one = Span(1.0, 2.0, 4.0)
    assert span(one, "length") is one
    assert Span.exactly(3.0) == Span(3.0, 3.0, 3.0)
    with pytest.raises(AttributeError):
        one.low = 0.0  # type: ignore[misc]  # what is read never changes


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
        ("3 ft**2", "area", "unknown unit 'ft**2'"),
        ("3 " + "ft " * 9, "length", "unknown unit 'ft ft ft ft ft ft ft ft '"),
        ("6 oz", "volume", r"did you mean 'fl oz'?"),
        ("6 oz/ft2", "dose", r"did you mean 'fl oz/ft2'?"),
        ("12 galons", "volume", r"'galons' (did you mean 'gallons'?)"),
        ("12 zzzz", "volume", r"unknown unit 'zzzz'; expected a volume with its unit, such as 2 gal, 12 fl oz"),
        ("78", "share", "a bare number has no unit; expected a share"),
        ("3 ft", "share", "'ft' is not a share"),
        ("12", "temperature", "expected a temperature"),
        ("20 degC or so", "temperature", "expected a temperature"),
        ("70-60 degF and", "temperature", "expected a temperature"),
        ([1], "length", "expected a length with its unit, such as 3/8 in"),
    ],
)
def test_refused_with_what_is_expected(text: object, kind: str, says: str) -> None:
    """What cannot be read is refused in words that say what is expected."""
    with pytest.raises(ValueError, match=re.escape(says)):
        span(text, kind)


def test_an_overflowing_sum_is_refused() -> None:
    """Numbers that a tape could hold singly and not together are refused, not read as infinite."""
    most = "9" * 308
    with pytest.raises(ValueError, match="expected a length"):
        span(f"{most} in {most} in", "length")


def test_one_value_is_not_a_range() -> None:
    """Where one value is wanted a range is refused with the first example."""
    with pytest.raises(ValueError, match=r"^expected one spread, not a range, such as 165 ft2/gal$"):
        value("62-70 ft2/gal", "spread")


@pytest.mark.parametrize(
    ("text", "fits"), [("0 in", True), ("-0.001 in", False), ("2 in", True), ("2.001 in", False), ("1 in", True)]
)
def test_limits_are_inclusive(text: str, fits: bool) -> None:
    """A quantity from 0 to 2 in takes both ends and nothing beyond."""
    quantity = Quantity("length", 0.0, 2.0)
    if fits:
        assert quantity.read(text) == value(text, "length")
    else:
        with pytest.raises(ValueError, match=r"^out of range; expected 0 to 2 inch$"):
            quantity.read(text)


def test_both_ends_of_a_range_keep_the_limits() -> None:
    """A ranged quantity is a span; either end beyond the limits is refused, and so is a range where none is meant."""
    quantity = Quantity("share", 0.1, 0.5, ranged=True)
    assert quantity.read("10-50 %") == Span(0.1, 0.3, 0.5)
    for text in ("9-50 %", "10-51 %"):
        with pytest.raises(ValueError, match=r"expected 10 to 50 %$"):
            quantity.read(text)
    with pytest.raises(ValueError, match="not a range"):
        Quantity("share", 0.1, 0.5).read("10-50 %")


def test_no_upper_limit_is_told() -> None:
    """Without a largest value the message says "or more"; 0 is the least where nothing else is said."""
    assert Quantity("spread", 1.0).limits == "1 ft2/gal or more"
    assert Quantity("share").limits == "0 % or more"
    with pytest.raises(AttributeError):
        Quantity("share").low = 1.0  # type: ignore[misc]
    assert Quantity("length", -2.5, 7.0).limits == "-2.5 to 7 inch"


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
    assert rectangle("1/2 in × 1/4 in") == (0.25, 0.5)


@pytest.mark.parametrize(
    "text",
    [
        "12 ft",
        "12 x 8",
        "0 ft x 8 ft",
        "a x b",
        "12 ft x -8 ft",
        "-1 ft x 8 ft",
        "8 ft x 0 in",
        "1 ft x 1 ft x 1 ft",
        "",
    ],
)
def test_bad_walls(text: str) -> None:
    """A wall without two positive lengths is refused."""
    with pytest.raises(ValueError, match=r"expected width x height|expected a length|needs a width|no unit"):
        rectangle(text)
