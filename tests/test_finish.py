"""Finish files: what is read, and how every fault is told at once."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from render.faults import InputError
from render.finish import load, parse, read, shipped_names
from render.units import value

BASE: dict[str, Any] = {"kind": "texture_coat", "name": "base", "material": "sanded wall coat", "spread": "165 ft2/gal"}
TOP: dict[str, Any] = {
    "kind": "plaster_coat",
    "name": "top plaster",
    "material": "lime topping",
    "style": "skip",
    "coverage": "78 %",
    "spread": "62-70 ft2/gal",
}


def finish_of(*layers: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A finish table with some layers."""
    return {"name": "Trial", "layer": [copy.deepcopy(one) for one in layers], **more}


def faults_of(table: dict[str, Any]) -> list[str]:
    """The lines that reading a table tells."""
    with pytest.raises(InputError) as error:
        read(table, "trial.toml")
    return error.value.faults


def test_reads_layers_in_order() -> None:
    """Layers come in the file's order with their keys in the program's units."""
    got = read(finish_of(BASE, TOP))
    assert [one.name for one in got.layers] == ["base", "top plaster"]
    assert got.layer("top plaster").coverage == pytest.approx(0.78)  # type: ignore[attr-defined]


def test_five_faults_are_told_at_once() -> None:
    """Unknown key, wrong unit, coverage over 100 %, unknown kind and a bad colour: each with file, layer and key."""
    table = finish_of(
        {**BASE, "naap": "10 mm"},
        {**TOP, "spread": "62 ft"},
        {**TOP, "name": "second", "coverage": "140 %"},
        {"kind": "plaster_cot", "name": "third"},
        wall_colour="#12345",
    )
    faults = faults_of(table)
    assert len(faults) == 5
    assert all("trial.toml" in line for line in faults)
    for words in (
        ("base", "naap", "nap"),
        ("top plaster", "spread", "62 ft", "another kind"),
        ("second", "coverage", "140 %", "0 to 100 %"),
        ("third", "kind", "plaster_cot", "plaster_coat"),
        ("wall_colour", "#12345"),
    ):
        assert any(all(word in line for word in words) for line in faults), (words, faults)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"coverage": 0.78}, ("coverage", "no unit")),
        ({"material": "lime toping"}, ("material", "lime topping")),
        ({"material": 7}, ("material", "quotes")),
        ({"style": "skipped"}, ("style", "skip")),
        ({"spread": "0 ft2/gal"}, ("spread", "out of range")),
        ({"spread_at": "0 %"}, ("spread_at", "above 0 %")),
        ({"name": ""}, ("name",)),
        ({"thin": ["a"]}, ("thin", "expected a share")),
    ],
)
def test_single_faults_name_key_and_expectation(change: dict[str, Any], words: tuple[str, ...]) -> None:
    """Each fault names the key and says what is expected."""
    faults = faults_of(finish_of({**TOP, **change}))
    assert len(faults) == 1
    assert all(word in faults[0] for word in words), faults


def test_two_layers_of_one_name() -> None:
    """Names are the layers' own."""
    assert "two layers have this name" in faults_of(finish_of(BASE, BASE))[0]


def test_unknown_top_key_is_suggested() -> None:
    """An unknown key of the finish itself is told with the nearest known one."""
    assert "'layer'" in faults_of({"name": "x", "layers": []})[0]


def test_own_material_is_read_and_checked() -> None:
    """A finish may bring its own material; its faults are told with the rest."""
    table = finish_of({**TOP, "material": "my lime"}, material={"my lime": {"class": "plaster", "colour": "#ddd0c0"}})
    assert read(table).layers[0].material.name == "my lime"  # type: ignore[attr-defined]
    table["material"]["my lime"]["colour"] = "beige"
    told = faults_of(table)
    assert len(told) == 1 and "my lime" in told[0] and "colour" in told[0]


@pytest.mark.parametrize("entry", [{"class": "plastr"}, {}, "plaster", {"class": "plaster", "hides": 4}])
def test_a_faulty_material_is_not_unknown(entry: Any) -> None:
    """A material that the file gives with a fault is told once, at the material, however often it is laid."""
    told = faults_of(finish_of(BASE, {**TOP, "material": "my lime"}, material={"my lime": entry}))
    assert len(told) == 1 and 'material "my lime"' in told[0]


def test_a_key_of_a_list_in_a_material_is_suggested() -> None:
    """An unknown key inside a material's containers is told with the nearest key of a container."""
    given = {"class": "plaster", "containers": [{"size": "1 gal", "prize": 38}]}
    told = faults_of(finish_of(BASE, material={"my lime": given}))
    assert told == ["trial.toml: material \"my lime\": unknown key 'containers.0.prize'; did you mean 'price'?"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[layer]\nkind = "sand"', "write [[layer]]"),
        ('[layer]\nkind = "sand"\n[layer]\nkind = "sand"', "write [[layer]] before each layer"),
        ('name = "Trial\n[[layer]]', "is a closing quote missing?"),
    ],
)
def test_slips_of_the_notation_have_a_hint(text: str, says: str) -> None:
    """Single brackets and a forgotten quote are told with what to write."""
    with pytest.raises(InputError) as told:
        read(parse(text, "trial.toml"), "trial.toml")
    assert len(told.value.faults) == 1 and says in told.value.faults[0]


@pytest.mark.parametrize(("given", "meant"), [("4 oz", "fl oz"), ("0.5 oz/ft2", "fl oz/ft2")])
def test_an_ounce_of_liquid_is_a_fluid_ounce(given: str, meant: str) -> None:
    """An ounce is a weight; who writes it of a liquid means the fluid ounce."""
    with pytest.raises(ValueError, match=f"did you mean '{meant}'"):
        value(given, "dose" if "/" in given else "volume")


def test_missing_file_and_unknown_preset() -> None:
    """A file that is not there is said so; a preset's name is suggested."""
    with pytest.raises(InputError, match="no such file"):
        load("nowhere.toml")
    with pytest.raises(InputError, match="old-cistern"):
        load("old-cistrn")


def test_not_toml_not_text_too_large(tmp_path: Path) -> None:
    """Unreadable files give one plain line."""
    bad = tmp_path / "bad.toml"
    bad.write_text("name = ", encoding="utf-8")
    with pytest.raises(InputError, match="not readable as TOML"):
        load(bad)
    bad.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="UTF-8"):
        load(bad)
    bad.write_text("#" * 2_000_001, encoding="utf-8")
    with pytest.raises(InputError, match="larger than 2 MB"):
        load(bad)


def test_the_three_reference_finishes_ship() -> None:
    """old-cistern has at least 16 layers; chalk-loft three coats; river-clay a base, a coat, a glaze and a wipe."""
    assert {"old-cistern", "chalk-loft", "river-clay"} <= set(shipped_names())
    assert len(load("old-cistern").layers) >= 16
    assert [one.kind for one in load("chalk-loft").layers] == ["brushed_coat"] * 3
    assert [one.kind for one in load("river-clay").layers] == ["texture_coat", "plaster_coat", "glaze", "wipe_back"]
