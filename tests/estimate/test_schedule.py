"""Schedules: never on a day off, never on a wet coat, no team in two places, no wall left half done overnight."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from typing import Any, ClassVar

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.estimate.schedule import Schedule, day_range, grouped, schedule, sessions, three
from render.faults import InputError
from render.finish import Finish
from render.job import DAYS, Job, JobFile, Offer, Option, Placed, measured
from render.layers.base import Coat, Layer, Liquid, Wash
from render.materials import Material

WATER = Material.model_validate({"name": "water", "class": "water", "dries": "30 min"})


class Trowel(Coat):
    """A coat for tests."""

    kind: str = "test_coat"


class Glaze(Wash):
    """A glaze for tests."""

    kind: str = "test_glaze"


class Wipe(Layer):
    """An act while wet."""

    kind: str = "wipe_back"
    while_wet: ClassVar[bool] = True


class Sand(Layer):
    """An act when dry."""

    kind: str = "sand"


class Mist(Liquid):
    """A liquid."""

    kind: str = "mist"


def coat(name: str, dries: str = "4-6 h", rate: str = "100 ft2/h") -> Trowel:
    """Return a coat with a drying time and a rate."""
    material = Material.model_validate({"name": f"m {name}", "class": "plaster", "dries": dries})
    return Trowel.model_validate({"name": name, "material": material, "labour": rate})


def glaze(name: str = "glaze") -> Glaze:
    """Return a glaze."""
    material = Material.model_validate({"name": "medium", "class": "glaze medium", "dries": "5 h"})
    recipe = {"medium": "12 fl oz", "colourants": {"burnt umber": "1 tsp"}}
    return Glaze.model_validate({"name": name, "material": material, "labour": "100 ft2/h", **recipe})


def job(layers: list[Layer], walls: list[float], **work: Any) -> tuple[Job, Offer]:
    """Return a job of two rooms with walls of so many ft², and its offer."""
    rates = {"setup": "0.25 h", "masking": "0.25 h", "daily": work.pop("daily", "0 h")}
    plans = [{"name": f"w{i}", "width": f"{area / 8:.4f} ft", "height": "8 ft"} for i, area in enumerate(walls)]
    rooms = [{"name": "one", "wall": plans[::2]}] + ([{"name": "two", "wall": plans[1::2]}] if plans[1:] else [])
    file = JobFile.model_validate({"work": {"start": date(2027, 3, 1), **work}, "rates": rates, "room": rooms})
    finish = Finish("any", tuple(layers))
    placed = tuple(Placed(r, w, measured(w, "drawn"), finish) for r in file.room for w in r.wall)
    offer = Offer(Option(name="A", finish="any"), placed)
    return Job(file, (offer,)), offer


def test_sessions_by_hand() -> None:
    """Mist, glaze and wiping are one go; a sanded coat and the coat after it are two; a second glaze waits."""
    mist = Mist.model_validate({"name": "mist", "material": WATER, "dose": "0.1 fl oz/ft2"})
    layers = (coat("a"), Sand(name="sand"), mist, glaze(), Wipe(name="wipe"), glaze("second"))
    got = sessions(Finish("any", layers))
    assert [[one.name for one in session.layers] for session in got] == [
        ["a"], ["sand"], ["mist", "glaze", "wipe"], ["second"],
    ]  # fmt: skip
    assert [session.dries for session in got] == [(4, 5, 6), (0, 0, 0), (5, 5, 5), (5, 5, 5)]


def test_a_layer_can_say_that_it_is_done_while_wet() -> None:
    """A kind with ``while_wet`` joins the session before it."""

    class Press(Sand):
        kind: str = "test_press"
        while_wet: ClassVar[bool] = True

    assert len(sessions(Finish("any", (coat("a"), Press(name="press"))))) == 1


def test_one_wall_by_hand() -> None:
    """400 ft² at 100 ft²/h: 4 h from 8:30 on; 5 h of drying end at 17:30, so the second coat is for the morning."""
    plan = schedule(*job([coat("a"), coat("b")], [400.0], hours="8 h"))
    told = [(one.what, one.begin.strftime("%a %H:%M"), one.end.strftime("%H:%M")) for one in plan.tasks]
    assert told == [
        ("set up and mask", "Mon 08:00", "08:30"),
        ("a", "Mon 08:30", "12:30"),
        ("b", "Tue 08:00", "12:00"),
    ]


def test_a_day_off_is_left_free() -> None:
    """The second coat waits over the weekend and a holiday Monday."""
    work = {"start": date(2027, 3, 5), "days_off": [date(2027, 3, 8)]}
    plan = schedule(*job([coat("a"), coat("b")], [400.0], **work))
    assert [one.begin.strftime("%a %d") for one in plan.tasks] == ["Fri 05", "Fri 05", "Tue 09"]
    assert (plan.working_days, plan.elapsed_days) == (2, 5)


def test_two_teams_halve_the_time_at_most() -> None:
    """Four equal walls by one person and by two on a wall each: 8 h and 4 h of work after setting up."""
    alone = schedule(*job([coat("a")], [200.0] * 4, hours="10 h"))
    pair = schedule(*job([coat("a")], [200.0] * 4, hours="10 h", crew=2, teams=2))
    last = max(one.end for one in alone.tasks) - min(one.begin for one in alone.tasks)
    both = max(one.end for one in pair.tasks) - min(one.begin for one in pair.tasks)
    assert last == timedelta(hours=9)
    assert timedelta(hours=4.5) <= both <= timedelta(hours=5)


def test_drying_by_conditions() -> None:
    """Dries 4-6 h: a fast-drying room lets the second coat begin after 4 h, a slow one after 6 h."""
    ready = {}
    for drying in ("fast", "slow"):
        plan = schedule(*job([coat("a"), coat("b")], [50.0], drying=drying, hours="12 h"))
        first, second = [one for one in plan.tasks if one.session]
        ready[drying] = second.begin - first.end
    assert ready == {"fast": timedelta(hours=4), "slow": timedelta(hours=6)}


def test_longer_than_a_day_is_marked() -> None:
    """1000 ft² at 100 ft²/h by one person in days of 8 h: begins on a fresh morning, ends on the next, marked."""
    plan = schedule(*job([coat("a")], [1000.0], hours="8 h"))
    (task,) = [one for one in plan.tasks if one.session]
    assert task.split
    assert (task.begin.strftime("%a %H:%M"), task.end.strftime("%a %H:%M")) == ("Tue 08:00", "Wed 10:00")


def test_no_working_time_is_a_fault() -> None:
    """No day that is not off within ten years, or a day that setting up eats whole: a clear error."""
    off = [date(2027, 3, 1) + timedelta(days=7 * n) for n in range(530)]
    with pytest.raises(InputError, match="no working day"):
        schedule(*job([coat("a")], [100.0], days=["Mon"], days_off=off))
    with pytest.raises(InputError, match="quarter hour"):
        schedule(*job([coat("a")], [100.0], hours="1 h", daily="1 h"))


def test_without_a_start_date_days_are_numbered() -> None:
    """No start date: day 1, day 2."""
    plan = schedule(*job([coat("a"), coat("b")], [400.0], start=None))
    assert [plan.day_name(day) for day in plan.days] == ["day 1", "day 2"]


LAYERS = st.lists(
    st.one_of(
        st.builds(coat, st.uuids().map(str), st.sampled_from(["1 h", "4-9 h", "20-40 h"]), st.just("60-90 ft2/h")),
        st.uuids().map(lambda u: Sand(name=str(u))),
        st.uuids().map(lambda u: Wipe(name=str(u))),
        st.uuids().map(lambda u: glaze(str(u))),
    ),
    min_size=1,
    max_size=6,
)


def _check(plan: Schedule, one: Job, offer: Offer) -> None:
    """Assert every rule of a schedule."""
    work = one.file.work
    for task in plan.tasks:
        day = task.begin.date()
        while day <= task.end.date():
            if task.begin.date() == task.end.date() or day in (task.begin.date(), task.end.date()):
                assert DAYS[day.weekday()] in work.days
                assert day not in work.days_off
            day += timedelta(days=1)
        assert task.begin.hour + task.begin.minute / 60 + 0.01 >= 8.0
        assert task.end.hour + task.end.minute / 60 + task.end.second / 3600 <= 8.0 + work.hours + 0.01
        assert task.split or task.begin.date() == task.end.date()
    for team in range(1, work.teams + 1):
        own = [task for task in plan.tasks if task.team == team]
        assert all(a.end <= b.begin + timedelta(seconds=1) for a, b in pairwise(own))
    for place in offer.walls:
        own = [task for task in plan.tasks if (task.room, task.wall) == (place.room.name, place.wall.name)]
        ready = [task for task in plan.tasks if task.room == place.room.name and task.session == 0]
        assert [task.session for task in own] == list(range(1, len(sessions(place.finish)) + 1))
        assert all(task.begin >= ready[0].end for task in own)
        assert all(b.begin >= a.dry_from - timedelta(seconds=1) for a, b in pairwise(own))


@settings(max_examples=80, deadline=None)
@given(
    layers=LAYERS,
    walls=st.lists(st.floats(20, 900), min_size=1, max_size=5),
    crew=st.integers(1, 4),
    teams=st.integers(1, 3),
    hours=st.sampled_from(["4 h", "8 h", "10 h"]),
    days=st.lists(st.sampled_from(DAYS), min_size=1, max_size=7, unique=True),
    off=st.lists(st.dates(date(2027, 3, 1), date(2027, 4, 15)), max_size=12),
    drying=st.sampled_from(["fast", "normal", "slow"]),
)
def test_rules_hold_for_any_job(
    layers: list[Layer],
    walls: list[float],
    crew: int,
    teams: int,
    hours: str,
    days: list[str],
    off: list[date],
    drying: str,
) -> None:
    """Working days and hours only, dry below, rooms ready first, one place at a time, all sessions in order."""
    work = {"crew": crew, "teams": min(teams, crew), "hours": hours, "days": days, "days_off": off, "drying": drying}
    one, offer = job(layers, walls, daily="0.5 h", **work)
    plans = three(one, offer)
    for plan in plans:
        _check(plan, one, offer)
    low, likely, high = day_range(plans)
    assert 1 <= low <= likely <= high


def test_days_without_work_have_their_row() -> None:
    """A coat each morning, Tuesday off and a weekend between: each gap stands in the list with its reason."""
    coats = [coat(one, "20-22 h") for one in "abc"] + [coat("d", "80 h"), coat("e")]
    plan = schedule(*job(coats, [400.0], start=date(2027, 3, 1), days_off=[date(2027, 3, 2)]))
    gaps = [(day.isoformat(), why) for day, why in plan.idle]
    assert gaps[0] == ("2027-03-02", "day off")
    assert ("2027-03-06", "no working day") in gaps
    assert ("2027-03-07", "no working day") in gaps
    rows = [row for row in grouped(plan) if not row[2]]
    assert ("Tue 2 Mar 2027", "", "", "day off, the walls dry") in rows
    assert ("Sat 6 to Sun 7 Mar 2027", "", "", "no working day, the walls dry") in rows
    assert any(why == "drying" for _, why in plan.idle)
    told = [plan.day_name(day) for day in plan.days]
    assert list(dict.fromkeys(row[0] for row in grouped(plan) if row[2])) == told
    assert len(plan.idle) + len(plan.days) == plan.elapsed_days


def test_how_a_schedule_is_told() -> None:
    """Teams are numbered from one and named only where there are two; dates, spans and hours as data."""
    alone = schedule(*job([coat("a"), coat("b")], [400.0], hours="8 h"))
    assert (alone.first, alone.last, alone.elapsed_days) == (date(2027, 3, 1), date(2027, 3, 2), 2)
    assert {task.team for task in alone.tasks} == {1}
    assert [row[3] for row in grouped(alone)] == ["set up and mask", "a", "b"]
    pair = schedule(*job([coat("a")], [200.0] * 4, hours="10 h", crew=2, teams=2))
    assert {task.team for task in pair.tasks} == {1, 2}
    assert {row[3].split(": ")[0] for row in grouped(pair)} == {"Team 1", "Team 2"}
    odd = schedule(*job([coat("a", rate="72 ft2/h")], [100.0], start=None))
    assert odd.tasks[-1].as_dict()["person_hours"] == 1.39  # 100 / 72
    assert odd.tasks[0].as_dict()["begin"] == "2001-01-01T08:00"  # a Monday
    none = Schedule((), False, ())
    assert (none.first, none.last, none.elapsed_days, none.working_days) == (None, None, 0, 0)


def test_drying_at_the_slow_end() -> None:
    """The high end waits for the longest drying: 4-9 h from 8:30 and .5 h of work end at 18:00, past a day of 9 h."""
    one, offer = job([coat("a", "4-9 h"), coat("b")], [50.0], hours="9 h")
    low, likely, high = three(one, offer)
    gaps = [plan.tasks[2].begin - plan.tasks[1].end for plan in (low, likely)]
    assert gaps == [timedelta(hours=4), timedelta(hours=6.5)]
    assert high.tasks[1].dry_from - high.tasks[1].end == timedelta(hours=9)
    assert high.working_days == 2


def test_a_second_colour_is_worked_into_the_first_only_where_they_are_spread() -> None:
    """Two glazes and a spreading are one go; without it, or with a coat between, they are two."""

    class Spread(Wipe):
        kind: str = "spread"

    def go(*layers: Layer) -> list[int]:
        return [len(one.layers) for one in sessions(Finish("any", layers))]

    assert go(glaze("1"), glaze("2"), Spread(name="s")) == [3]
    assert go(glaze("1"), glaze("2"), Wipe(name="w"), Spread(name="s")) == [4]
    assert go(glaze("1"), glaze("2")) == [1, 1]
    assert go(glaze("1"), glaze("2"), Wipe(name="w")) == [1, 2]
    assert go(glaze("1"), glaze("2"), coat("c"), Spread(name="s")) == [1, 1, 2]
