"""Cautions: exactly when their cause is there, with source and deference."""

from __future__ import annotations

from typing import Any, ClassVar, get_args

import pytest

from render.estimate.cautions import DEFER, TABLE, for_finish, for_offer, open_points
from render.finish import Finish
from render.job import JobFile, Offer, Option, Placed, measured
from render.layers.base import Coat, Layer, Liquid
from render.materials import Hazard, Material, read


def material(name: str, group: str, **keys: Any) -> Material:
    """Return a material."""
    return Material.model_validate({"name": name, "class": group, **keys})


PLASTER = material("plaster", "plaster", cautions=["dust", "lime"])
CLAY = material("clay", "plaster", cautions=["dust"])
PAINT = material("paint", "paint")
ALCOHOL = material("alcohol", "alcohol")
WATER = material("water", "water")


class Trowel(Coat):
    """A coat for tests."""

    kind: str = "test_coat"


class Sanding(Layer):
    """An act that makes dust."""

    kind: str = "sand"
    coverage: float | None = None
    hazards: ClassVar[tuple[str, ...]] = ("dust",)


class Flick(Liquid):
    """A liquid for tests."""

    kind: str = "test_flick"


class Squirt(Liquid):
    """A liquid that wets the floor."""

    kind: str = "test_squirt"
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)


def coat(of: Material, name: str = "coat") -> Trowel:
    """Return a coat."""
    return Trowel(name=name, material=of)


def liquid(kind: type[Liquid], of: Material) -> Liquid:
    """Return a liquid."""
    return kind.model_validate({"name": of.name, "material": of, "dose": "0.1 fl oz/ft2"})


def keys(*layers: Layer) -> list[str]:
    """Return the keys of the cautions of a finish."""
    return [one.key for one in for_finish(Finish("any", layers))]


def offer(layers: tuple[Layer, ...], height: str = "8 ft", **site: Any) -> tuple[JobFile, Offer]:
    """Return a job of one wall 10 ft wide, and its offer."""
    wall = {"width": "10 ft", "height": height, **site.pop("wall", {})}
    file = JobFile.model_validate({"site": site, "work": {"reach": "8 ft"}, "room": [{"name": "hall", "wall": [wall]}]})
    finish = Finish("any", layers)
    room = file.room[0]
    walls = tuple(Placed(room, one, measured(one, "drawn"), finish) for one in room.wall)
    return file, Offer(Option(name="A", finish="any"), walls)


def job_keys(layers: tuple[Layer, ...], **more: Any) -> list[str]:
    """Return the keys of the cautions of a job of one wall."""
    return [one.key for one in for_offer(*offer(layers, **more))]


def test_no_cause_no_caution() -> None:
    """Paint on a wall within reach warns of nothing."""
    assert keys(coat(PAINT)) == []
    assert job_keys((coat(PAINT),), year_built=1920) == []


def test_alcohol() -> None:
    """Alcohol as the liquid gives the caution with flash point and exposure limit; water gives none."""
    (got,) = for_finish(Finish("any", (liquid(Flick, ALCOHOL),)))
    assert (got.key, got.causes) == ("alcohol", ("alcohol",))
    assert "53 °F (12 °C)" in got.text
    assert "400 ppm" in got.text
    assert "NIOSH" in got.source
    assert keys(liquid(Flick, WATER)) == []


def test_dust_only_where_plaster_is_sanded() -> None:
    """Sanding after plaster: silica. Plaster alone, sanding before it, or sanded paint: no silica caution."""
    assert "dust" in keys(coat(CLAY), Sanding(name="sand"))
    assert "1926.1153" in next(one for one in for_finish(Finish("any", (coat(CLAY), Sanding(name="s"))))).source
    assert "dust" not in keys(coat(CLAY))
    assert "dust" not in keys(Sanding(name="sand"), coat(CLAY))
    assert "dust" not in keys(coat(PAINT), Sanding(name="sand"))


def test_lime_comes_with_its_material() -> None:
    """A coat of lime warns of lime, a clay one does not."""
    assert keys(coat(PLASTER)) == ["lime"]
    assert keys(coat(CLAY)) == []


def test_wet_floor() -> None:
    """A layer that wets the floor says so."""
    assert keys(liquid(Squirt, WATER)) == ["wet floor"]


@pytest.mark.parametrize(
    ("year", "coverage", "told"),
    [(1977, None, True), (1978, None, False), (None, None, False), (1950, 0.075, False), (1950, 0.076, True)],
    ids=["1977", "1978", "unknown", "6.0 ft2", "6.08 ft2"],
)
def test_old_paint(year: int | None, coverage: float | None, told: bool) -> None:
    """40 CFR 745.83: built before 1978 and more than 6 ft² sanded in a room of 80 ft²."""
    site = {} if year is None else {"year_built": year}
    assert ("old paint" in job_keys((coat(PAINT), Sanding(name="sand", coverage=coverage)), **site)) is told


def test_old_paint_by_preparation() -> None:
    """Scraping 7 ft² of old paint in preparation counts without any sanding layer; 6 ft² do not."""
    for disturbs, told in (("7 ft2", True), ("6 ft2", False)):
        got = job_keys((coat(PAINT),), year_built=1960, wall={"disturbs": disturbs})
        assert ("old paint" in got) is told


def test_unknown_year_is_an_open_point() -> None:
    """Where the year decides and is not stated, the sheet asks; it does not warn of what it does not know."""
    file, one = offer((coat(CLAY), Sanding(name="sand")))
    assert "year" in open_points(file, one)[0]
    assert open_points(*offer((coat(CLAY),))) == ()
    assert open_points(*offer((coat(CLAY), Sanding(name="sand")), year_built=1990)) == ()


def test_ladder_above_reach() -> None:
    """A wall to 8 ft is within a reach of 8 ft, one to 8 ft 1 in is not, nor is a gable above it."""
    assert job_keys((coat(PAINT),), height="8 ft") == []
    assert job_keys((coat(PAINT),), height="8 ft 1 in") == ["ladder"]
    assert job_keys((coat(PAINT),), wall={"rise": "2 ft"}) == ["ladder"]


def test_every_caution_names_source_and_defers() -> None:
    """Each entry has a source, and each printed caution defers to data sheet, codes and licensed practice."""
    assert all(one.source for one in TABLE.values())
    (got,) = for_finish(Finish("any", (liquid(Flick, ALCOHOL),)))
    assert DEFER in got.full
    assert got.source in got.full
    assert DEFER in got.as_dict()["text"]
    for words in ("safety data sheet", "local codes", "licensed practice"):
        assert words in DEFER


def test_sources_are_plain_references() -> None:
    """What people sign names the source alone; remarks of the authors stay in the code."""
    assert not [one.source for one in TABLE.values() if "memory" in one.source or "(from" in one.source]


def test_every_hazard_of_a_product_has_its_caution() -> None:
    """What a material may name is the table but for what depends on the job; each gives its caution."""
    assert set(get_args(Hazard)) == TABLE.keys() - {"old paint", "ladder"}
    for one in get_args(Hazard):
        risky = material("risky", "paint", cautions=[one])
        assert one in keys(coat(risky), Sanding(name="sand")), one


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (
            ["dusty"],
            "cautions = ['dusty']: 'dusty' is no hazard; expected activator, alcohol, dust, lime, oily rags or wet f",
        ),
        (
            ["dust", "lmie"],
            "is no hazard; expected activator, alcohol, dust, lime, oily rags or wet floor (did you mean 'lime'?)",
        ),
        (["ladder"], "'ladder' is no hazard; expected activator"),
        ([3], "'3' is no hazard; expected activator"),
        ([["dust"]], "expected activator"),
        ("dust", 'cautions = "dust": expected a list such as ["dust"]; each is activator, alcohol'),
    ],
)
def test_a_misspelt_hazard_is_refused(given: Any, says: str) -> None:
    """A caution that nobody would ever be told is a fault of the file that names file, material, key and value."""
    got, faults = read({"mine": {"class": "plaster", "cautions": given}}, "shelf.toml")
    assert not got and len(faults) == 1
    assert faults[0].startswith('shelf.toml: material "mine": cautions') and says in faults[0]


def test_rubbing_raises_no_dust() -> None:
    """An act on dry plaster that is no abrasion and makes no dust warns of nothing."""

    class Rub(Layer):
        kind: str = "test_rub"

    assert keys(coat(CLAY), Rub(name="rub")) == []
