"""A job: client, rooms and walls, options, rates and dates, read from a TOML file, all its faults told at once.

A wall's net area follows one of three stated rules (``measure``):

``drawn``
    Every opening is deducted as drawn; reveals are added where a depth is given. The default.
``is1200``
    IS 1200 (Part 13):1994, 3.1.1 and 3.2.2. Openings up to 0.5 m² each: nothing deducted, no reveals. Above that up
    to 3 m²: deducted on one face only (the same finish on both faces: once; different finishes: on the face whose
    reveal is narrower), no reveals. Above 3 m²: deducted, and jambs, soffit and sill are measured.
``solid``
    Measured solid, nothing deducted, no reveals: older practice (Armstrong 1908, Cyclopedia of Painting, p. 127).
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from render import materials, presets
from render.estimate.quantities import WASTE, End
from render.faults import InputError, known_keys, nearest, shown
from render.finish import Finish, contents, is_file, is_job_table, locate, parse, set_key, shipped_names
from render.finish import read as read_finish
from render.materials import Material
from render.units import IN2_PER_FT2, Quantity, Span

IN2_PER_M2 = (1000.0 / 25.4) ** 2
_ROUNDING_M2 = 1e-9  # an opening of exactly 0.5 m² stays one of 0.5 m² after its sides are read in inches

Length = Annotated[float, Quantity("length", 0.1, 12_000.0)]
Depth = Annotated[float, Quantity("length", 0.0, 120.0)]
Share = Annotated[float, Quantity("share", 0.0, 5.0)]
Time = Annotated[float, Quantity("time", 0.0, 2000.0)]
Area = Annotated[float, Quantity("area", 0.0, 1e6)]
Rate = Annotated[Span, Quantity("rate", 1.0, 20_000.0, ranged=True)]
Money = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
Words = Annotated[str, Field(max_length=200)]
Text = Annotated[str, Field(max_length=2000)]
Measure = Literal["drawn", "is1200", "solid"]
Day = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
DAYS: tuple[Day, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

MEASURE_WORDS: Mapping[Measure, str] = {
    "drawn": "openings deducted as drawn, reveals added where their depth is given",
    "is1200": "IS 1200 (Part 13):1994, 3.1.1 and 3.2.2",
    "solid": "measured solid, no deduction (older practice: Armstrong 1908, Cyclopedia of Painting)",
}


def _at_least_one(given: Any) -> Any:
    """Refuse an empty list before its entries are read (pydantic counts only those without fault)."""
    if isinstance(given, list | tuple) and not given:
        raise ValueError("expected at least one")
    return given


_some = BeforeValidator(_at_least_one)


class _Part(BaseModel):
    """A table of the job file."""

    model_config = ConfigDict(frozen=True, extra="forbid", validate_default=True)


class Opening(_Part):
    """A window, door or pass-through in a wall; ``reveal`` is the depth of its sides finished with the wall."""

    name: Words = "opening"
    width: Length
    height: Length
    count: Annotated[int, Field(ge=1, le=200)] = 1
    reveal: Depth = "0 in"  # type: ignore[assignment]  # defaults are read as a file's values are
    sill: bool = False
    other_face: Literal["same finish", "other finish"] = "other finish"
    other_reveal: Depth | None = None
    deducted_on_other_face: bool = False

    @property
    def area(self) -> float:
        """Area of one opening, in²."""
        return self.width * self.height

    @property
    def sides(self) -> float:
        """Area of the jambs, the soffit and, if it is finished, the sill of one opening, in²."""
        return self.reveal * (2 * self.height + self.width * (2 if self.sill else 1))

    @property
    def deducted_here(self) -> bool:
        """Whether the one deduction of IS 1200 for a middling opening falls on this face."""
        if self.other_face == "same finish":
            return not self.deducted_on_other_face
        return self.other_reveal is None or self.reveal <= self.other_reveal


class WallPlan(_Part):
    """A wall: a rectangle, a gable (``rise`` above ``height`` in the middle) or a slope (to ``height_right``)."""

    name: Words = "wall"
    width: Length
    height: Length
    rise: Depth = "0 in"  # type: ignore[assignment]
    height_right: Length | None = None
    finish: str | dict[str, str] | None = None
    disturbs: Area = "0 ft2"  # type: ignore[assignment]
    opening: tuple[Opening, ...] = ()

    @model_validator(mode="after")
    def _possible(self) -> WallPlan:
        if self.rise and self.height_right is not None:
            raise ValueError("give rise (a gable) or height_right (a slope), not both")
        cut = sum(one.area * one.count for one in self.opening)
        if cut > self.gross:
            ft2 = f"{cut / IN2_PER_FT2:.1f} ft² of openings in {self.gross / IN2_PER_FT2:.1f} ft² of wall"
            raise ValueError(f"the openings are larger than the wall: {ft2}")
        for one in self.opening:
            if one.width > self.width or one.height > self.top:
                raise ValueError(f'opening "{one.name}" is wider or taller than the wall')
        return self

    @property
    def gross(self) -> float:
        """Area without regard to openings, in²."""
        right = self.height if self.height_right is None else self.height_right
        return self.width * (0.5 * (self.height + right) + 0.5 * self.rise)

    @property
    def shape(self) -> Literal["rectangle", "gable", "slope"]:
        """What its upper edge makes it."""
        if self.rise:
            return "gable"
        return "rectangle" if self.height_right in (None, self.height) else "slope"

    @property
    def low(self) -> float:
        """Height of its lower edge's ends, the lower one, in."""
        return self.height if self.height_right is None else min(self.height, self.height_right)

    @property
    def top(self) -> float:
        """Height of its highest point, in."""
        return max(self.height + self.rise, self.height_right or 0.0)


class Room(_Part):
    """A room and the walls to be finished in it."""

    name: Words
    note: Text = ""
    wall: Annotated[tuple[WallPlan, ...], _some, Field(max_length=200)]


class Option(_Part):
    """One of the finishes offered; ``change`` sets keys of its layers, such as "top plaster.coverage"."""

    name: Words
    title: Words = ""
    finish: str
    change: dict[str, Any] = {}
    note: Annotated[str, Field(max_length=600)] = ""
    pour: int = 1


class Person(_Part):
    """The client or the maker, as they are addressed."""

    name: Words = ""
    address: Text = ""
    phone: Words = ""
    email: Words = ""


class Place(_Part):
    """Where the work is done."""

    address: Text = ""
    year_built: Annotated[int, Field(ge=1000, le=2200)] | None = None
    note: Text = ""


class Work(_Part):
    """Who works when."""

    start: Annotated[date, Field(ge=date(1900, 1, 1), le=date(2200, 1, 1))] | None = None
    crew: Annotated[int, Field(ge=1, le=50)] = 1
    teams: Annotated[int, Field(ge=1, le=50)] = 1
    hours: Annotated[float, Quantity("time", 0.5, 24.0)] = "8 h"  # type: ignore[assignment]
    days: tuple[Day, ...] = DAYS[:5]
    days_off: tuple[date, ...] = ()
    drying: Literal["fast", "normal", "slow"] = "normal"
    reach: Length = "7 ft"  # type: ignore[assignment]
    bucket: Annotated[float, Quantity("volume", 1 / 128, 100.0)] = "2 gal"  # type: ignore[assignment]

    @model_validator(mode="after")
    def _possible(self) -> Work:
        if not self.days:
            raise ValueError("days: expected at least one working day")
        if self.teams > self.crew:
            raise ValueError(f"teams = {self.teams}: there are only {self.crew} people in the crew")
        return self


class Rates(_Part):
    """What time and money the user counts with. What ships are examples: no published rate was found."""

    hour: Money = 60.0
    overhead: Share = "30 %"  # type: ignore[assignment]
    profit: Share = "0 %"  # type: ignore[assignment]
    tax: Share = "0 %"  # type: ignore[assignment]
    tax_on: Literal["materials", "all"] = "materials"
    waste: Share = f"{100 * WASTE:g} %"  # type: ignore[assignment]
    buy: End = "high"
    setup: Time = "1 h"  # type: ignore[assignment]
    masking: Time = "0.5 h"  # type: ignore[assignment]
    daily: Time = "0.5 h"  # type: ignore[assignment]
    source: Words = ""
    layer: dict[str, Rate] = {}


class Protection(_Part):
    """Floor cover along the walls: how much run-off it holds, its least width, and what it costs."""

    holds: Annotated[float, Quantity("dose", 1e-5, 1.0)] = "4 fl oz/ft2"  # type: ignore[assignment]
    least_width: Length = "3 ft"  # type: ignore[assignment]
    price_per_ft2: Money = 0.0


class Consumable(_Part):
    """Something used up: one for every so much wall, or a number for the job."""

    name: Words
    price: Money = 0.0
    count: Annotated[float, Field(gt=0, le=1e5)] = 1.0
    one_per: Annotated[float, Quantity("area", 0.1, 1e6)] | None = None


class JobFile(_Part):
    """The whole file."""

    name: Words = ""
    currency: Annotated[str, Field(max_length=8)] = "$"
    units: Literal["imperial", "metric"] = "imperial"
    measure: Measure = "drawn"
    light: Words = ""
    accepted: Words = ""
    note: Text = ""
    client: Person = Person()
    maker: Person = Person()
    site: Place = Place()
    work: Work = Work()
    rates: Rates = Rates()
    protection: Protection = Protection()
    consumable: tuple[Consumable, ...] = ()
    material: dict[str, dict[str, Any]] = {}
    option: Annotated[tuple[Option, ...], Field(max_length=26)] = ()
    room: Annotated[tuple[Room, ...], _some, Field(max_length=100)]


_MODELS: Mapping[str, type[BaseModel]] = {
    "client": Person, "maker": Person, "site": Place, "work": Work, "rates": Rates, "protection": Protection,
    "consumable": Consumable, "option": Option, "room": Room, "wall": WallPlan, "opening": Opening,
}  # fmt: skip


# --- measuring -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Measured:
    """A wall's areas in ft²: gross, deducted for openings, added for reveals."""

    gross: float
    deducted: float
    added: float

    @property
    def net(self) -> float:
        """What is finished."""
        return self.gross - self.deducted + self.added


def _opening(one: Opening, rule: Measure) -> tuple[float, float]:
    """Return what one opening deducts and adds, in²."""
    if rule == "solid":
        return 0.0, 0.0
    if rule == "drawn":
        return one.area, one.sides
    square_metres = one.area / IN2_PER_M2
    if square_metres <= 0.5 + _ROUNDING_M2:
        return 0.0, 0.0
    if square_metres <= 3.0 + _ROUNDING_M2:
        return (one.area if one.deducted_here else 0.0), 0.0
    return one.area, one.sides


def measured(wall: WallPlan, rule: Measure) -> Measured:
    """Return a wall's areas by a rule (see the head of this file)."""
    cuts = [(one.count, _opening(one, rule)) for one in wall.opening]
    deducted = sum(count * cut for count, (cut, _) in cuts)
    added = sum(count * more for count, (_, more) in cuts)
    return Measured(wall.gross / IN2_PER_FT2, deducted / IN2_PER_FT2, added / IN2_PER_FT2)


# --- what goes where -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Placed:
    """A wall of a room with its areas and the finish it gets in an option."""

    room: Room
    wall: WallPlan
    area: Measured
    finish: Finish

    @property
    def label(self) -> str:
        """Room and wall in words."""
        return f"{self.room.name}, {self.wall.name}"


@dataclass(frozen=True)
class Offer:
    """An option with what it puts on each wall."""

    option: Option
    walls: tuple[Placed, ...]

    @property
    def title(self) -> str:
        """The option's own title, or the name of its finish."""
        names = [one.name for one in self.finishes]
        more = f", {len(names) - 2} more" if len(names) > 2 else ""
        return self.option.title or " and ".join(names[:2]) + more

    @property
    def finishes(self) -> tuple[Finish, ...]:
        """The finishes of this option, each once, in the order of the walls."""
        seen: dict[int, Finish] = {id(one.finish): one.finish for one in self.walls}
        return tuple(seen.values())

    def area(self, finish: Finish | None = None) -> float:
        """Return the net area, of one finish or of all, in ft²."""
        return sum(one.area.net for one in self.walls if finish is None or one.finish is finish)


@dataclass(frozen=True)
class Job:
    """A job file with its finishes opened; ``shelf`` holds the materials with the job's own prices."""

    file: JobFile
    offers: tuple[Offer, ...]
    shelf: Mapping[str, Material] = field(default_factory=dict)
    source: Mapping[str, Any] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """What the job is called."""
        return self.file.name

    @cached_property
    def accepted(self) -> Offer:
        """The option that the client took; the first one until then."""
        return self.offer(self.file.accepted) if self.file.accepted else self.offers[0]

    def offer(self, name: str) -> Offer:
        """Return an option by its name or title.

        Raises
        ------
        InputError
            With the nearest known name.
        """
        for one in self.offers:
            if name in (one.option.name, one.title):
                return one
        known = [one.option.name for one in self.offers]
        raise InputError([f'{self.name}: no option "{name}"; {nearest(name, known)}'])

    def shelf_for(self, finishes: Sequence[Finish]) -> dict[str, Material]:
        """Return every material of some finishes, the job's own prices over theirs."""
        found: dict[str, Material] = {}
        for one in finishes:
            found.update(one.shelf)
        return {**found, **self.shelf}


# --- reading -------------------------------------------------------------------------------------------------------


def _label(table: Any, path: Sequence[str | int]) -> tuple[str, str, type[BaseModel]]:
    """Return the place of a fault in words, the key, and the model that the key belongs to."""
    words: list[str] = []
    model: type[BaseModel] = JobFile
    at, kind = table, ""
    rest = list(path)
    while rest and (rest[0] in _MODELS or isinstance(rest[0], int)):
        step = rest.pop(0)
        at = _step(at, step)
        if isinstance(step, str):
            kind, model = step, _MODELS[step]
            if not isinstance(at, list):
                words.append(f"[{step}]")
        else:
            name = at.get("name") if isinstance(at, dict) else None
            words.append(f"{kind} {shown(name) if isinstance(name, str) else step + 1}")
    return ", ".join(words), ".".join(map(str, rest)), model


def _step(at: Any, key: str | int) -> Any:
    if isinstance(at, dict):
        return at.get(str(key))
    if isinstance(at, list) and isinstance(key, int) and key < len(at):
        return at[key]
    return None


def _fault_lines(where: str, table: Any, error: ValidationError) -> list[str]:
    """Return one line for each fault: file, place, key, value and what is expected."""
    found = []
    for fault in error.errors():
        place, key, model = _label(table, fault["loc"])
        head = f"{where}: {place}: " if place else f"{where}: "
        what = fault["msg"].removeprefix("Value error, ")
        if fault["type"] == "extra_forbidden":
            found.append(f"{head}unknown key {key!r}; {nearest(key, known_keys(model))}")
        elif fault["type"] == "missing":
            found.append(f"{head}{key} is missing" if key else f"{where}: {_missing(table, fault['loc'])}")
        elif key:
            found.append(f"{head}{key} = {shown(fault['input'])}: {what[0].lower()}{what[1:]}")
        else:
            found.append(f"{head}{what[0].lower()}{what[1:]}")
    return found


def _missing(table: Any, path: Sequence[str | int]) -> str:
    """Return that a list of tables is missing, and where: "room "Hall": [[room.wall]] is missing"."""
    place, _, _ = _label(table, path[:-1])
    name = ".".join(one for one in path if isinstance(one, str))
    return f"{place}: [[{name}]] is missing" if place else f"[[{name}]] is missing"


def _own_prices(given: Mapping[str, Any], where: str) -> tuple[dict[str, Material], list[str]]:
    """Return the job's materials: a shipped one with some keys changed, or a new one."""
    path = presets.folder() / "materials.toml"
    shipped = parse(contents(path), path.name) if given else {}
    return materials.read({name: {**shipped.get(name, {}), **entry} for name, entry in given.items()}, where)


def _changed(table: Mapping[str, Any], changes: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Return a finish's table with keys of layers set; unknown layers are a fault."""
    fresh: dict[str, Any] = copy.deepcopy(dict(table))
    named = {str(one.get("name", "")): one for one in fresh.get("layer", []) if isinstance(one, dict)}
    faults = []
    for path, value in changes.items():
        name, _, key = path.rpartition(".")
        if name in named:
            set_key(named[name], key, value)
        else:
            faults.append(f'{where}: change "{path}": no layer {shown(name)}; {nearest(name, list(named))}')
    if faults:
        raise InputError(faults)
    return fresh


@dataclass
class _Opener:
    """Opens each finish once for each set of changes, collecting faults."""

    folder: Path
    where: str
    shelf: Mapping[str, Material]
    faults: list[str]
    known: dict[str, Finish] = field(default_factory=dict)

    def open(self, name: str, option: Option, place: str) -> Finish | None:
        """Return the finish, or None and a fault; an option's changes touch its own finish alone."""
        changes = option.change if name == option.finish else {}
        key = repr((name, sorted(changes.items(), key=str)))
        if key not in self.known:
            try:
                self.known[key] = self._read(name, changes, place)
            except InputError as error:
                self.faults.extend(f"{place}: {line}" for line in error.faults)
                self.known[key] = Finish(name, ())
        return self.known[key]

    def _read(self, name: str, changes: Mapping[str, Any], place: str) -> Finish:
        beside = self.folder / name
        path = locate(beside if beside.suffix == ".toml" and is_file(beside) else name)
        table = _changed(parse(contents(path), path.name), changes, path.name)
        return read_finish(table, path.name, self.shelf)


def _options(file: JobFile, faults: list[str], where: str) -> tuple[Option, ...]:
    """Return the options; without any, the walls' own finishes are the one option."""
    names = [one.name for one in file.option]
    faults.extend(
        f'{where}: option "{n}": two options have this name' for n in {n for n in names if names.count(n) > 1}
    )
    if file.option:
        return file.option
    for room in file.room:
        for wall in room.wall:
            if isinstance(wall.finish, str):
                return (Option(name="A", finish=wall.finish),)
    faults.append(f"{where}: no [[option]] and no finish on a wall; expected one of them")
    return ()


def _wanted(wall: WallPlan, option: Option) -> str:
    """Return the finish a wall gets in an option."""
    if isinstance(wall.finish, dict):
        return wall.finish.get(option.name, option.finish)
    return wall.finish or option.finish


def _offer(file: JobFile, option: Option, opener: _Opener) -> Offer:
    placed = []
    for room in file.room:
        for wall in room.wall:
            finish = opener.open(_wanted(wall, option), option, f'{opener.where}: option "{option.name}"')
            if finish is not None:
                placed.append(Placed(room, wall, measured(wall, file.measure), finish))
    return Offer(option, tuple(placed))


def _same_walls(file: JobFile, where: str) -> list[str]:
    """Return a fault for names that would make a sheet ambiguous."""
    faults: list[str] = []
    rooms = [room.name for room in file.room]
    faults.extend(f'{where}: room "{n}": two rooms have this name' for n in {n for n in rooms if rooms.count(n) > 1})
    known = {one.name for one in file.option}
    for room in file.room:
        names = [wall.name for wall in room.wall]
        twice = {n for n in names if names.count(n) > 1}
        faults.extend(f'{where}: room "{room.name}": two walls are called "{n}"' for n in sorted(twice))
        for wall in room.wall:
            for name in wall.finish if isinstance(wall.finish, dict) else ():
                if name not in known:
                    hint = nearest(name, sorted(known))
                    faults.append(
                        f'{where}: room "{room.name}", wall "{wall.name}": finish: no option "{name}"; {hint}'
                    )
    return faults


def _is_finish(where: str) -> str:
    return f"{where} is a finish, not a job; a job lists [[room]]s and names its finishes (a demo: job-two-rooms)"


def read(table: Mapping[str, Any], where: str = "job", folder: Path = Path()) -> Job:
    """Read a job from a TOML table; finishes beside the job file are found in ``folder``.

    Raises
    ------
    InputError
        With every fault: place, key, value, and what is expected.
    """
    if "layer" in table and not is_job_table(table):
        raise InputError([_is_finish(where)])
    try:
        file = JobFile.model_validate(table)
    except ValidationError as error:
        raise InputError(_fault_lines(where, table, error)) from None
    shelf, faults = _own_prices(file.material, where)
    faults.extend(_same_walls(file, where))
    opener = _Opener(folder, where, shelf, faults)
    offers = tuple(_offer(file, option, opener) for option in _options(file, faults, where))
    if file.accepted and file.accepted not in [one.option.name for one in offers]:
        faults.append(
            f"{where}: accepted = {shown(file.accepted)}: {nearest(file.accepted, [o.option.name for o in offers])}"
        )
    if faults:
        raise InputError(faults)
    named = file if file.name else file.model_copy(update={"name": Path(where).stem})
    return Job(named, offers, shelf, table)


def locate_job(name: str | Path) -> Path:
    """Return the file of a job: a path, or the name of a shipped demo such as "job-two-rooms".

    Raises
    ------
    InputError
        If there is no such file.
    """
    path = Path(name)
    if is_file(path):
        return path
    known = shipped_jobs()
    if str(name) in known:
        return presets.folder() / f"{name}.toml"
    if str(name) in shipped_names():
        raise InputError([_is_finish(str(name))])
    raise InputError([f"{name}: there is no such job file; shipped are {', '.join(known) or 'none'}"])


def shipped_jobs() -> list[str]:
    """Return the names of the jobs that ship."""
    return sorted(path.stem for path in presets.folder().glob("job-*.toml"))


def is_job(name: str | Path) -> bool:
    """Return whether a name means a job and not a finish: a shipped demo, or a file with a job's keys."""
    path = Path(name)
    if str(name) in shipped_jobs():
        return True
    if not is_file(path) or path.suffix.lower() == ".png":
        return False
    return is_job_table(parse(contents(path), path.name))


def load(name: str | Path) -> Job:
    """Open a job file or a shipped demo.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    path = locate_job(name)
    return read(parse(contents(path), path.name), path.name, path.parent)


def with_finishes(job: Job, change: Any) -> Job:
    """Return the job with every finish replaced by ``change(finish)``, each once."""
    known: dict[int, Finish] = {}

    def new(finish: Finish) -> Finish:
        if id(finish) not in known:
            known[id(finish)] = change(finish)
        return known[id(finish)]

    offers = tuple(
        replace(offer, walls=tuple(replace(one, finish=new(one.finish)) for one in offer.walls)) for offer in job.offers
    )
    return replace(job, offers=offers)
