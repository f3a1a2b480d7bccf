"""Controls come from the layers' own models."""

from __future__ import annotations

import math
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from render import finish as finishes
from render import units
from render.page.controls import controls, nice, scale, unit_of


def every_layer():
    """Each layer of each shipped finish, with its table."""
    found = []
    for name in finishes.shipped_names():
        one = finishes.load(name)
        found += [(name, one, n) for n in range(len(one.layers))]
    return found


@pytest.mark.parametrize(("name", "finish", "number"), every_layer(), ids=lambda v: v if isinstance(v, str) else "")
def test_both_ends_of_every_slider_can_be_read(name, finish, number):
    """A slider never leads to a fault: its ends and its present value read as a file does."""
    layer, entry = finish.layers[number], finish.source["layer"][number]
    for one in controls(layer, entry):
        if one["type"] != "amount":
            continue
        assert one["low"] <= one["value"] * (1 + 1e-6) + 1e-9
        assert one["high"] >= one["value"] * (1 - 1e-6) - 1e-9
        assert one["step"] > 0
        for value in (one["low"], one["value"], one["high"]):
            changed = {**entry, one["key"]: f"{value:.10g} {one['unit']}"}
            finishes.read({**finish.source, "layer": [changed]}, name)


def test_a_slider_has_the_models_unit_limits_and_help():
    """Coverage runs over the whole share, the spread keeps the file's unit and range, and help is the field's own."""
    text = """
    name = "x"
    [[layer]]
    kind = "plaster_coat"
    material = "lime topping"
    coverage = "78 %"
    spread = "1.5-1.7 m2/L"
    blade = "280 mm"
    """
    table = tomllib.loads(text)
    made = {one["key"]: one for one in controls(finishes.read(table).layers[0], table["layer"][0])}
    assert (made["coverage"]["low"], made["coverage"]["value"], made["coverage"]["high"]) == (0, 78, 100)
    assert made["coverage"]["unit"] == "%"
    spread = made["spread"]
    assert (spread["unit"], spread["from"], spread["value"], spread["to"]) == ("m2/L", 1.5, 1.6, 1.7)
    assert spread["ranged"] and not spread["unset"]
    assert (made["blade"]["unit"], made["blade"]["value"]) == ("mm", 280)
    assert made["style"]["type"] == "choice" and "torn" in made["style"]["choices"]
    assert made["blade"]["help"] == type(finishes.read(table).layers[0]).model_fields["blade"].description
    assert made["material"]["group"] == "plaster"


@pytest.mark.parametrize(("name", "finish", "number"), every_layer(), ids=lambda v: v if isinstance(v, str) else "")
def test_another_coverage_pins_the_spread_where_a_variation_does(name, finish, number):
    """The page writes at what coverage a spread was measured exactly where ``finish.set_key`` writes it, and alike."""
    layer, entry = finish.layers[number], finish.source["layer"][number]
    bare = {key: value for key, value in entry.items() if key not in ("coverage", "spread_at")}
    for table in (entry, bare):
        told = [one.get("measured_at") for one in controls(layer, table) if one["key"] == "coverage"]
        varied = dict(table)
        finishes.set_key(varied, "coverage", "33 %")
        if not told or "spread_at" in table:
            continue
        written = table.get("coverage", told[0]) if told[0] else None
        assert varied.get("spread_at") == written


def test_a_spatters_volume_goes_with_its_coverage():
    """A spatter's spread holds for a full wall: its coverage pins nothing, and twice as much takes twice as much."""
    table = {"kind": "spatter", "material": "glaze medium", "coverage": "4 %", "colourants": {"raw umber": "2 tsp"}}
    layer = finishes.read({"layer": [table]}).layers[0]
    coverage = next(one for one in controls(layer, table) if one["key"] == "coverage")
    assert "measured_at" not in coverage
    doubled = finishes.read({"layer": [{**table, "coverage": "8 %"}]}).layers[0]
    assert doubled.amounts(16.0).mixed.likely == pytest.approx(2 * layer.amounts(16.0).mixed.likely)


def test_a_key_that_is_not_set_says_so_and_starts_where_it_holds():
    """Without a spread of its own, a layer's slider stands at the material's."""
    table = {"layer": [{"kind": "plaster_coat", "material": "lime topping"}]}
    finish = finishes.read(table)
    made = {one["key"]: one for one in controls(finish.layers[0], table["layer"][0])}
    assert made["spread"]["unset"]
    assert made["spread"]["value"] == pytest.approx(finish.shelf["lime topping"].spread.likely, rel=1e-5)


def test_a_glaze_has_a_slider_for_each_colourant():
    """The recipe's amounts come in the file's units."""
    table = {
        "layer": [
            {"kind": "glaze", "material": "glaze medium", "colourants": {"raw umber": "2 tsp", "carbon black": "3 ml"}}
        ]
    }
    made = {one["key"]: one for one in controls(finishes.read(table).layers[0], table["layer"][0])}
    parts = {one["name"]: (one["value"], one["unit"]) for one in made["colourants"]["parts"]}
    assert parts == {"raw umber": (2, "tsp"), "carbon black": (3, "ml")}


@pytest.mark.parametrize(("value", "top", "step"), [(78, 100, 1), (10, 100, 1), (0.9, 5, 0.1), (4, 20, 1), (0, 100, 1)])
def test_a_small_share_has_a_fine_slider(value, top, step):
    """A share of a few per cent is set between nothing and some times as much, others over the whole."""
    assert scale(value, 0.0, 100.0, "share") == (0.0, top, step)


@given(st.floats(1e-6, 1e6))
def test_nice_numbers_are_round_and_not_below(value):
    """The next of 1, 2, 2.5, 5 times a power of ten, less than two and a half times as large."""
    got = nice(value)
    assert value * (1 - 1e-6) <= got <= 2.5 * value
    lead = got / 10.0 ** math.floor(math.log10(got) + 1e-9)
    assert min(abs(lead - one) for one in (1, 2, 2.5, 5, 10)) < 1e-5


@given(st.floats(0.0, 1.0), st.sampled_from(["length", "film", "volume", "spread", "dose", "time"]))
def test_a_scale_holds_its_value_and_its_limits(part, kind):
    """Whatever is set, the slider reaches it and stays inside what the model permits."""
    least, most = (1.0, 20_000.0) if kind == "spread" else (0.0, 1200.0)
    value = least + part * (most - least)
    low, high, step = scale(value, least, most, kind)
    assert least <= low <= value * (1 + 1e-5) + step * 1e-6 and value * (1 - 1e-5) <= high <= most
    assert 0 < step <= high


@pytest.mark.parametrize(
    ("text", "kind", "unit"),
    [("78 %", "share", "%"), ("62-70 ft2/gal", "spread", "ft2/gal"), ("4 m2/L", "spread", "m2/L"),
     ("12 fl oz", "volume", "fl oz"), ("3/8 in", "length", "in"), ("10 mm", "length", "mm"),
     ("12 ft 6 in", "length", "in"), ("", "film", "mil"), ("0.5 fl oz/ft2", "dose", "fl oz/ft2")],
)  # fmt: skip
def test_the_files_unit_is_kept(text, kind, unit):
    """A quantity that stands in one unit keeps it; others are shown in the trade's."""
    assert unit_of(text, kind) == unit
    units.value(f"1 {unit}", kind)
