"""A job of two rooms worked by hand on paper: every line equal to the cent and the tenth of an hour.

Walls: study north 12 x 8 = 96, less a 3 x 4 window = 12, plus its reveals .5 x (4 + 4 + 3 + 3) = 7: net 91 ft².
Study east 10 x 8 = 80. Hall gable 10 x 8 + 10 x 3 / 2 = 95. Together 266 ft².
"""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from render.estimate.job_estimate import OfferEstimate, job_estimate
from render.estimate.price import Money
from render.job import read

FINISH = """
name = "worked example"

[material."base paint"]
class = "paint"
spread = "280 ft2/gal"
dries = "4 h"
containers = [{ size = "1 gal", price = 30 }, { size = "1 qt", price = 9.50 }]

[material."hand plaster"]
class = "plaster"
spread = "70-95 ft2/gal"
dries = "24 h"
containers = [{ size = "1 gal", price = 40 }, { size = "3.5 gal", price = 126 }]

[[layer]]
kind = "brushed_coat"
name = "seal"
material = "base paint"
thin = "10 %"

[[layer]]
kind = "plaster_coat"
name = "clay"
material = "hand plaster"
style = "skip"
coverage = "80 %"
"""

JOB = """
name = "By hand"

[work]
start = 2027-03-01
crew = 1
hours = "8 h"
reach = "9 ft"

[rates]
hour = 50
overhead = "40 %"
profit = "10 %"
tax = "8 %"
waste = "10 %"
setup = "0.5 h"
masking = "1 h"
daily = "0.5 h"
layer = { seal = "133 ft2/h", plaster_coat = "35-56 ft2/h" }

[protection]
price_per_ft2 = 0.25

[[consumable]]
name = "tape"
price = 7
one_per = "100 ft2"

[[consumable]]
name = "sponge"
price = 3.50

[[option]]
name = "A"
finish = "worked.toml"

[[room]]
name = "Study"

[[room.wall]]
name = "north"
width = "12 ft"
height = "8 ft"

[[room.wall.opening]]
width = "3 ft"
height = "4 ft"
reveal = "6 in"
sill = true

[[room.wall]]
name = "east"
width = "10 ft"
height = "8 ft"

[[room]]
name = "Hall"

[[room.wall]]
name = "gable"
width = "10 ft"
height = "8 ft"
rise = "3 ft"
"""


@pytest.fixture(scope="module")
def by_hand(tmp_path_factory: pytest.TempPathFactory) -> OfferEstimate:
    """The estimate of the only option."""
    folder: Path = tmp_path_factory.mktemp("worked")
    (folder / "worked.toml").write_text(FINISH)
    return job_estimate(read(tomllib.loads(JOB), "job.toml", folder)).offers[0]


def money(low: str, likely: str, high: str) -> Money:
    """Return three sums."""
    return Money(Decimal(low), Decimal(likely), Decimal(high))


def test_walls(by_hand: OfferEstimate) -> None:
    """Net 91, 80 and 95 ft²."""
    assert [one.area.net for one in by_hand.offer.walls] == pytest.approx([91, 80, 95], rel=1e-12)


def test_volumes(by_hand: OfferEstimate) -> None:
    """Seal 266/280 = .95 gal and .095 of water; clay 266/95, 266/82.5, 266/70 = 2.8, 3.2242, 3.8 gal."""
    seal, clay = by_hand.parts[0].layers
    assert (seal.product.likely, seal.water.likely, seal.mixed.likely) == pytest.approx((0.95, 0.095, 1.045))
    assert (clay.mixed.low, clay.mixed.likely, clay.mixed.high) == pytest.approx((2.8, 266 / 82.5, 3.8))


def test_purchase(by_hand: OfferEstimate) -> None:
    """1.045 gal with waste: a gallon and a quart, 39.50. Clay 4.18 gal: a pail and a gallon, 166, .32 gal over."""
    paint, water, plaster = by_hand.materials
    assert paint.purchase is not None
    assert (paint.purchase.words(), paint.purchase.cost) == ("1 × 1 gal + 1 × 1 qt", 39.5)
    assert water.purchase is None
    assert plaster.purchase is not None
    assert (plaster.purchase.words(), plaster.purchase.cost) == ("1 × 3.5 gal + 1 × 1 gal", 166)
    assert plaster.purchase.leftover == pytest.approx(0.32)


def test_hours(by_hand: OfferEstimate) -> None:
    """Seal 266/133; clay 266/56, /45.5, /35; two rooms of .5 and 1 h; half an hour on each of 2, 2, 3 days."""
    assert [(one.what, one.hours.low, one.hours.likely, one.hours.high) for one in by_hand.hours] == [
        ("seal", 2.0, 2.0, 2.0),
        ("clay", 4.8, 5.8, 7.6),
        ("set up", 1.0, 1.0, 1.0),
        ("masking", 2.0, 2.0, 2.0),
        ("start and clean up", 1.0, 1.0, 1.5),
    ]
    assert by_hand.labour_hours == (10.8, 11.8, 14.1)


def test_days_and_times(by_hand: OfferEstimate) -> None:
    """First day: both rooms ready and sealed; the seal is dry at 14:26, too late for 2 h before 15:45; then the clay.

    On the high end 2.6 + 2.29 + 2.71 h do not fit into 7.5 h, and the gable waits for the third day.
    """
    assert by_hand.days == (2, 2, 3)
    told = [(one.wall or one.what, f"{one.begin:%d %H:%M}", f"{one.end:%H:%M}") for one in by_hand.schedule.tasks]
    assert told == [
        ("set up and mask", "01 08:15", "09:45"),
        ("north", "01 09:45", "10:26"),
        ("east", "01 10:26", "11:02"),
        ("set up and mask", "01 11:02", "12:32"),
        ("gable", "01 12:32", "13:15"),
        ("north", "02 08:15", "10:15"),
        ("east", "02 10:15", "12:00"),
        ("gable", "02 12:00", "14:05"),
    ]


def test_price_line_by_line(by_hand: OfferEstimate) -> None:
    """Every line to the cent; floor cover 32 ft x 3 ft at .25; tape 3 rolls; overhead on direct labour alone."""
    assert {one.what: one.money for one in by_hand.price.lines} == {
        "base paint": money("39.50", "39.50", "39.50"),
        "hand plaster": money("126.00", "166.00", "166.00"),
        "floor cover": money("24.00", "24.00", "24.00"),
        "tape": money("21.00", "21.00", "21.00"),
        "sponge": money("3.50", "3.50", "3.50"),
        "seal": money("100.00", "100.00", "100.00"),
        "clay": money("240.00", "290.00", "380.00"),
        "set up": money("50.00", "50.00", "50.00"),
        "masking": money("100.00", "100.00", "100.00"),
        "start and clean up": money("50.00", "50.00", "75.00"),
        "overhead": money("216.00", "236.00", "282.00"),
        "profit": money("97.00", "108.00", "124.10"),
        "tax": money("17.12", "20.32", "20.32"),
    }


def test_total(by_hand: OfferEstimate) -> None:
    """1084.12 / 1208.32 / 1385.42 in all; 4.08 / 4.54 / 5.21 per square foot of 266."""
    assert by_hand.price.total == money("1084.12", "1208.32", "1385.42")
    assert by_hand.price.per_ft2 == money("4.08", "4.54", "5.21")
    assert by_hand.price.group("direct labour") == money("540.00", "590.00", "705.00")


def test_batches(by_hand: OfferEstimate) -> None:
    """One bucket of 2 gal takes all the seal with its waste: 1.045 of paint and .1045 of water on 266 ft²."""
    (mix,) = by_hand.parts[0].mixes
    assert mix.layer == "seal"
    assert len(mix.batches) == 1
    assert mix.batches[0].recipe == pytest.approx({"base paint": 1.045, "water": 0.1045})
    assert mix.ft2_per_bucket == pytest.approx(266 * 2 / 1.1495)


def test_no_caution_without_a_cause(by_hand: OfferEstimate) -> None:
    """Nothing is sanded, flicked or wet; the gable of 11 ft alone is above the reach of 9 ft."""
    assert [(one.key, one.causes) for one in by_hand.cautions] == [("ladder", ("Hall: up to 11 ft",))]
