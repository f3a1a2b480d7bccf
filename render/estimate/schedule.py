"""Who works where and when: no coat before the one below is dry, no work on a day off, no wall left half done.

What is done to one wall while it is wet is one *session*. Sessions are placed one after another, always the one that
can begin first (list scheduling, Graham 1966), for one or several teams. A session begins only on a day on which it can
be finished; one that is longer than a day goes on the next working day and is marked.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from render.estimate.labour import wall_hours
from render.estimate.quantities import End
from render.faults import InputError
from render.finish import Finish
from render.job import DAYS, Job, Offer, Placed, Work
from render.layers.base import Layer, Liquid, Wash

DAY_BEGINS = 8.0  # o'clock
_UNDATED = date(2001, 1, 1)  # a Monday, for a schedule without a start date
_LONGEST_DAYS = 3660
_EPS = 1e-9


@dataclass(frozen=True)
class Session:
    """Layers that are done in one go, and the hours until the next coat may follow (low, likely, high)."""

    layers: tuple[Layer, ...]
    dries: tuple[float, float, float]


def joins(layer: Layer, before: Layer | None) -> bool:
    """Return whether a layer is done while what is before it is still wet."""
    if before is None:
        return False
    return layer.while_wet or (isinstance(before, Liquid) and isinstance(layer, Wash | Liquid))


def _drying(layers: Sequence[Layer]) -> tuple[float, float, float]:
    """Return the longest drying time of what was laid."""
    found = [one.material.dries for one in layers if hasattr(one, "material")]
    ends = ([s.low for s in found], [s.likely for s in found], [s.high for s in found])
    low, likely, high = (max(end, default=0.0) for end in ends)
    return low, likely, high


def _blended_later(layers: Sequence[Layer], number: int) -> bool:
    """Return whether a colour laid over another wet one is worked into it by a later spreading, before any coat."""
    if number == 0 or not (isinstance(layers[number], Wash) and isinstance(layers[number - 1], Wash)):
        return False
    for later in layers[number + 1 :]:
        if later.kind == "spread":
            return True
        if not (isinstance(later, Wash) or later.while_wet):
            return False
    return False


def sessions(finish: Finish) -> tuple[Session, ...]:
    """Return a finish's layers grouped by what is done while wet."""
    groups: list[list[Layer]] = []
    before: Layer | None = None
    for number, layer in enumerate(finish.layers):
        if joins(layer, before) or _blended_later(finish.layers, number):
            groups[-1].append(layer)
        else:
            groups.append([layer])
        before = layer
    return tuple(Session(tuple(one), _drying(one)) for one in groups)


@dataclass(frozen=True)
class Task:
    """A piece of work: a session on a wall, or getting a room ready (``session`` 0)."""

    room: str
    wall: str
    session: int
    what: str
    team: int
    begin: datetime
    end: datetime
    person_hours: float
    dry_from: datetime
    split: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return the task as plain data."""
        return {
            "room": self.room,
            "wall": self.wall,
            "session": self.session,
            "what": self.what,
            "team": self.team,
            "begin": self.begin.isoformat(timespec="minutes"),
            "end": self.end.isoformat(timespec="minutes"),
            "person_hours": round(self.person_hours, 2),
            "dry_from": self.dry_from.isoformat(timespec="minutes"),
            "longer_than_a_day": self.split,
        }


@dataclass(frozen=True)
class Schedule:
    """Tasks in order of their beginning."""

    tasks: tuple[Task, ...]
    dated: bool
    days: tuple[date, ...]
    idle: tuple[tuple[date, str], ...] = ()  # days between on which nobody works, and why

    @property
    def working_days(self) -> int:
        """Days on which somebody works."""
        return len(self.days)

    @property
    def first(self) -> date | None:
        """The first working day."""
        return self.days[0] if self.days else None

    @property
    def last(self) -> date | None:
        """The last working day."""
        return self.days[-1] if self.days else None

    @property
    def elapsed_days(self) -> int:
        """Calendar days from the first to the last working day, both counted."""
        return (self.days[-1] - self.days[0]).days + 1 if self.days else 0

    def day_name(self, day: date) -> str:
        """Return "Mon 2 Mar 2026", or "day 3" where no start date is known."""
        if not self.dated:
            return f"day {(day - _UNDATED).days + 1}"
        return f"{DAYS[day.weekday()]} {day.day} {day:%b %Y}"

    def as_dict(self) -> dict[str, Any]:
        """Return the schedule as plain data."""
        return {
            "dated": self.dated,
            "working_days": self.working_days,
            "calendar_days": self.elapsed_days,
            "idle": [{"day": day.isoformat(), "why": why} for day, why in self.idle],
            "tasks": [one.as_dict() for one in self.tasks],
        }


class Calendar:
    """Working time: hours since the first day's midnight, and the windows in which somebody works."""

    def __init__(self, work: Work, daily: float) -> None:
        """Take the working hours less the daily start and clean-up, half at either end of the day.

        Raises
        ------
        InputError
            If no working time is left.
        """
        self.work = work
        self.length = work.hours - daily
        if self.length < 0.25:
            raise InputError(
                [f"[work]: hours = {work.hours:g} h: less than a quarter hour is left after daily = {daily:g} h"]
            )
        self.start = work.start or _UNDATED
        self._opens = DAY_BEGINS + 0.5 * daily if DAY_BEGINS + work.hours <= 24 else 0.5 * daily

    def is_open(self, day: int) -> bool:
        """Return whether anybody works on a day, counted from the first."""
        on = self.start + timedelta(days=day)
        return DAYS[on.weekday()] in self.work.days and on not in self.work.days_off

    def idle(self, days: Collection[date]) -> tuple[tuple[date, str], ...]:
        """Return the days between the first and last of some working days that are none of them, and why."""
        worked = set(days)
        between = range((max(worked) - min(worked)).days if worked else 0)
        found = (min(worked) + timedelta(days=n) for n in between)
        return tuple((one, self._why_idle(one)) for one in found if one not in worked)

    def _why_idle(self, day: date) -> str:
        if day in self.work.days_off:
            return "day off"
        return "drying" if DAYS[day.weekday()] in self.work.days else "no working day"

    def windows(self, from_hour: float) -> Iterator[tuple[float, float]]:
        """Yield the open stretches of time from an hour on.

        Raises
        ------
        InputError
            If ten years hold too few working days.
        """
        first = max(0, int(from_hour // 24))
        for day in range(first, first + _LONGEST_DAYS):
            if not self.is_open(day):
                continue
            opens = 24.0 * day + self._opens
            if opens + self.length - _EPS > from_hour:
                yield max(opens, from_hour), opens + self.length
        raise InputError(["[work]: days, days_off: there is no working day within ten years"])

    def fit(self, from_hour: float, length: float) -> tuple[float, float, bool]:
        """Return when a piece of work begins and ends, not before an hour, and whether it takes more than a day."""
        if length <= self.length + _EPS:
            for opens, closes in self.windows(from_hour):
                if opens + length <= closes + _EPS:
                    return opens, opens + length, False
        return self._over_days(from_hour, length)

    def _over_days(self, from_hour: float, length: float) -> tuple[float, float, bool]:
        """Return begin and end of work that fills whole days, from the first morning on."""
        left, begin = length, -1.0
        for opens, closes in self.windows(from_hour):
            if begin < 0 and closes - opens < self.length - _EPS:
                continue
            begin = opens if begin < 0 else begin
            if left <= closes - opens + _EPS:
                return begin, opens + left, True
            left -= closes - opens
        raise AssertionError("windows() never ends without an error")

    def moment(self, hour: float) -> datetime:
        """Return the date and time of an hour."""
        whole = datetime.combine(self.start, time()) + timedelta(seconds=round(hour * 3600))
        return whole

    def days_between(self, begin: float, end: float) -> list[date]:
        """Return the working days that a piece of work touches."""
        first, last = int(begin // 24), int((end - _EPS) // 24)
        return [self.start + timedelta(days=d) for d in range(first, last + 1) if self.is_open(d)]


@dataclass
class _Line:
    """A wall's sessions, their person-hours, and how many are done."""

    placed: Placed
    sessions: tuple[Session, ...]
    hours: tuple[float, ...]
    done: int = 0
    ready: float = 0.0


def _drying_of(session: Session, end: End, work: Work) -> float:
    """Return the hours until the next coat, by the end of the range and the conditions stated."""
    likely = {"fast": 0, "normal": 1, "slow": 2}[work.drying]
    return session.dries[{"low": 0, "likely": likely, "high": 2}[end]]


def _what(session: Session) -> str:
    return " → ".join(one.name for one in session.layers)


class _Plan:
    """The state of a schedule in the making."""

    def __init__(self, job: Job, offer: Offer, end: End) -> None:
        self.job, self.end, self.work = job, end, job.file.work
        self.calendar = Calendar(self.work, job.file.rates.daily)
        self.size = self.work.crew / self.work.teams
        self.free = [0.0] * self.work.teams
        known: dict[int, tuple[Session, ...]] = {id(one): sessions(one) for one in offer.finishes}
        self.lines = [self._line(one, known[id(one.finish)]) for one in offer.walls]
        self.ready_rooms: dict[str, float] = {}
        self.tasks: list[Task] = []
        self.days: set[date] = set()

    def _line(self, placed: Placed, parts: tuple[Session, ...]) -> _Line:
        rates = self.job.file.rates
        spans = [[wall_hours(placed, one, rates) for one in part.layers] for part in parts]
        return _Line(placed, parts, tuple(float(sum(getattr(one, self.end) for one in part)) for part in spans))

    def _book(self, team: int, begin: float, end: float) -> tuple[datetime, datetime]:
        self.free[team] = end
        self.days.update(self.calendar.days_between(begin, end))
        return self.calendar.moment(begin), self.calendar.moment(end)

    def prepare(self, line: _Line) -> None:
        """Set up and mask the room of a wall, once."""
        room = line.placed.room.name
        rates = self.job.file.rates
        person_hours = rates.setup + rates.masking
        if room in self.ready_rooms:
            return
        if person_hours <= 0:
            self.ready_rooms[room] = 0.0
            return
        team = min(range(len(self.free)), key=lambda t: self.free[t])
        begin, end, split = self.calendar.fit(self.free[team], person_hours / self.size)
        moments = self._book(team, begin, end)
        self.ready_rooms[room] = end
        self.tasks.append(Task(room, "", 0, "set up and mask", team + 1, *moments, person_hours, moments[1], split))

    def _candidate(self, line: _Line) -> tuple[float, float, int, bool]:
        """Return when a wall's next session could begin and end, by which team, and whether it is split."""
        team = min(range(len(self.free)), key=lambda t: self.free[t])
        earliest = max(self.free[team], line.ready, self.ready_rooms[line.placed.room.name])
        begin, end, split = self.calendar.fit(earliest, line.hours[line.done] / self.size)
        return begin, end, team, split

    def _candidates(self, lines: list[_Line]) -> list[tuple[tuple[float, float, int, bool], _Line]]:
        """Return the candidates of the walls whose rooms are ready."""
        return [(self._candidate(one), one) for one in lines if one.placed.room.name in self.ready_rooms]

    def place_next(self) -> bool:
        """Place the session that can begin first; return whether there was one."""
        lines = [one for one in self.lines if one.done < len(one.sessions)]
        if not lines:
            return False
        can = self._candidates(lines)
        waiting = [one for one in lines if one.placed.room.name not in self.ready_rooms]
        if waiting and (not can or min(one[0][0] for one in can) > min(self.free) + _EPS):
            self.prepare(waiting[0])  # no wall can be worked on before that room could be made ready
            can = self._candidates(lines)
        found, line = min(can, key=lambda one: (round(one[0][0], 6), one[1].done))
        self._place(line, *found)
        return True

    def _place(self, line: _Line, begin: float, end: float, team: int, split: bool) -> None:
        """Book a wall's next session."""
        session, person_hours, place = line.sessions[line.done], line.hours[line.done], line.placed
        moments = self._book(team, begin, end)
        line.ready = end + _drying_of(session, self.end, self.work)
        line.done += 1
        dry, names = self.calendar.moment(line.ready), (place.room.name, place.wall.name)
        self.tasks.append(Task(*names, line.done, _what(session), team + 1, *moments, person_hours, dry, split))


def schedule(job: Job, offer: Offer, end: End = "likely") -> Schedule:
    """Return the schedule of an option.

    Parameters
    ----------
    job, offer
        The job and the option.
    end
        "low" takes quick hours and quick drying, "high" slow ones, "likely" the middle hours and the drying that the
        job's conditions call for.

    Raises
    ------
    InputError
        If there is no working time.
    """
    plan = _Plan(job, offer, end)
    while plan.place_next():
        pass
    tasks = tuple(sorted(plan.tasks, key=lambda one: (one.begin, one.team)))
    return Schedule(tasks, job.file.work.start is not None, tuple(sorted(plan.days)), plan.calendar.idle(plan.days))


def three(job: Job, offer: Offer) -> tuple[Schedule, Schedule, Schedule]:
    """Return the schedules for the low, likely and high ends."""
    return schedule(job, offer, "low"), schedule(job, offer, "likely"), schedule(job, offer, "high")


def day_range(plans: Sequence[Schedule]) -> tuple[int, int, int]:
    """Return working days low, likely, high, in order.

    Longer tasks can end earlier in a list schedule (Graham's anomalies), so the three are put in order.
    """
    low, likely, high = sorted(one.working_days for one in plans)
    return low, likely, high


def grouped(plan: Schedule) -> tuple[tuple[str, str, str, str], ...]:
    """Return the schedule by day: runs of the same work in one room by one team become one row of walls.

    Days between on which nobody works have their row too, so that none seems forgotten.
    """
    groups: list[list[Task]] = []
    for task in sorted(plan.tasks, key=lambda one: (one.begin.date(), one.team, one.begin)):
        key = (task.begin.date(), task.team, task.room, task.what)
        last = groups[-1][-1] if groups else None
        if last and (last.begin.date(), last.team, last.room, last.what) == key:
            groups[-1].append(task)
        else:
            groups.append([task])
    teams = len({task.team for task in plan.tasks})
    rows = [(day, _idle_row(plan, day, until, why)) for day, until, why in _idle_runs(plan)]
    for group in groups:
        first, last = group[0], group[-1]
        time = (
            f"{_clock(first.begin)}–{_clock(last.end)}"
            if first.begin.date() == last.end.date()
            else f"from {_clock(first.begin)}"
        )
        walls = ", ".join(one.wall for one in group if one.wall)
        place = f"{first.room}: {walls}" if walls else first.room
        team = f"Team {first.team}: " if teams > 1 else ""
        long = " (longer than a day: break at a corner)" if any(one.split for one in group) else ""
        begin = first.begin.date()
        rows.append((begin, (plan.day_name(begin), time, place, f"{team}{first.what}{long}")))
    return tuple(row for _, row in sorted(rows, key=lambda one: one[0]))


def _idle_runs(plan: Schedule) -> list[tuple[date, date, str]]:
    """Return the days without work, days on end for the same reason as one: first, last, why."""
    runs: list[tuple[date, date, str]] = []
    for day, why in plan.idle:
        if runs and runs[-1][1] + timedelta(days=1) == day and runs[-1][2] == why:
            runs[-1] = (runs[-1][0], day, why)
        else:
            runs.append((day, day, why))
    return runs


def _idle_row(plan: Schedule, first: date, last: date, why: str) -> tuple[str, str, str, str]:
    """Return the row of days without work."""
    text = {"drying": "drying, nobody works"}.get(why, f"{why}, the walls dry")
    day = plan.day_name(first)
    if first != last:
        same = (first.year, first.month) == (last.year, last.month)
        day = f"{day.removesuffix(f' {first:%b %Y}' if same else f' {first.year}')} to {plan.day_name(last)}"
    return day, "", "", text


def _clock(moment: datetime) -> str:
    """Return a time of day to five minutes: nobody plans a wall to the minute."""
    return f"{moment + timedelta(seconds=150) - timedelta(minutes=(moment + timedelta(seconds=150)).minute % 5):%H:%M}"
