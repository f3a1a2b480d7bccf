"""Floor cover from run-off, and the shipped demo job."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from render.estimate.job_estimate import job_estimate
from render.estimate.protection import can_run, rendered_run_off, rinsing, strips
from render.finish import Finish, load, read
from render.job import load as load_job
from render.job import read as read_job
from render.pipeline import Site, build

GLAZED = """
name = "glazed"
[[layer]]
kind = "glaze"
name = "veil"
material = "glaze medium"
colourants = { "burnt umber" = "1 tsp" }
body = "watery"
spread = "60 ft2/gal"
"""
RINSED = """
[[layer]]
kind = "rinse"
name = "water"
material = "water"
dose = "0.2-0.4 fl oz/ft2"
[[layer]]
kind = "mist"
name = "mist"
material = "water"
dose = "0.1 fl oz/ft2"
"""
JOB = """
[protection]
holds = "4 fl oz/ft2"
least_width = "3 ft"
[[option]]
name = "A"
finish = "chalk-loft"
[[room]]
name = "Hall"
[[room.wall]]
name = "low"
width = "10 ft"
height = "8 ft"
[[room.wall]]
name = "high"
width = "5 ft"
height = "12 ft"
"""


def finish(text: str) -> Finish:
    """Return a finish."""
    return read(tomllib.loads(text), "own.toml")


def test_a_strip_holds_its_run_off(tmp_path: Path) -> None:
    """20 fl oz for each foot on cover that holds 4 fl oz/ft² need 5 ft; 4 fl oz need 1 ft, and get the least 3 ft."""
    job = read_job(tomllib.loads(JOB), "job.toml", tmp_path)
    asked: list[float] = []

    def run_off(_finish: Finish, height_in: float) -> float:
        asked.append(height_in)
        return 20 / 128

    wide = strips(job, job.offers[0], run_off)
    assert [(one.width_ft, one.length_ft, one.run_off_floz) for one in wide] == [
        (pytest.approx(5), 10, pytest.approx(200)),
        (pytest.approx(5), 5, pytest.approx(100)),
    ]
    assert asked == [144]  # the highest wall stands for the others
    narrow = strips(job, job.offers[0], lambda *_: 4 / 128)
    assert [one.area_ft2 for one in narrow] == pytest.approx([30, 15])


def test_what_cannot_run_is_not_rendered() -> None:
    """Limewash coats do not run; a glaze does."""
    assert not can_run(load("chalk-loft"))
    assert rendered_run_off(load("chalk-loft"), 96.0) == 0.0
    assert can_run(finish(GLAZED))


def test_rinsing_water_is_counted_whole_and_mist_is_not() -> None:
    """.4 fl oz/ft² at the high end on 8 ft of height are 3.2 fl oz for each foot."""
    assert rinsing(finish(RINSED), 96.0) == pytest.approx(3.2 / 128)


def test_a_watery_flood_reaches_the_floor() -> None:
    """What runs off is more than nothing and less than what was put on."""
    one = finish(GLAZED)
    put_on = one.layers[0].amounts(2.0).mixed.likely  # a foot of wall, 2 ft high
    assert 0 < rendered_run_off(one, 24.0) < put_on


def test_the_demo_job() -> None:
    """Two rooms, three options, each priced low, likely, high in order; built 1994, so no word of old paint."""
    got = job_estimate(load_job("job-two-rooms"), run_off=lambda *_: 0.02)
    assert [one.offer.option.name for one in got.offers] == ["A", "B", "C"]
    assert len({one.room.name for one in got.job.offers[0].walls}) == 2
    for one in got.offers:
        whole = one.price.total
        assert 0 < whole.low <= whole.likely <= whole.high
        assert one.price.unpriced == ()
        assert "old paint" not in [caution.key for caution in one.cautions]
    assert {one.key for one in got.offers[0].cautions} == {"alcohol", "dust", "ladder", "wet floor", "lime"}
    net = [one.area.net for one in got.job.offers[0].walls]
    assert net == pytest.approx([130.5, 108 - 30 + 2 * 16 * 5 / 12, 130.5 - 35, 108, 132, 84 - 17 / 6 * 20 / 3])


def test_run_off_is_that_of_a_wall_of_eighteen_inches() -> None:
    """The ledger's run-off of a draft 1.5 ft wide, for each foot."""
    ledger = build(finish(GLAZED), Site(24.0, 18.0, 6.0, 1)).wall.ledger
    assert rendered_run_off(finish(GLAZED), 24.0) == pytest.approx(sum(one.run_off for one in ledger.values()) / 1.5)
