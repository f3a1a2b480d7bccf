"""What was really used, kept in one SQLite file, and the spread that follows from it.

Rows are only ever added: ``undo`` adds a row that takes one back. Each record is one transaction in write-ahead logging
with full synchronisation (https://www.sqlite.org/pragma.html#pragma_synchronous), so that what was confirmed survives
a kill or a power cut.

The correction for a material and tool is a factor on the spread, from the ratios *used / expected* of earlier jobs (the
expected volume with its waste). With x the logarithm of a ratio:

* the stated spread counts as ``PRIOR`` jobs with x = 0;
* each x is drawn in to within ``CLIP`` of the median of all, the stated spread's included (a Huber clip: Huber 1964,
  Ann. Math. Statist. 35:73), so that one odd job counts for little;
* each job weighs area / (area + 100 ft²): a sample board says less than a room.

factor on the spread = exp(-(sum w x) / (PRIOR + sum w)).
"""

from __future__ import annotations

import math
import os
import sqlite3
import statistics
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from render.estimate import words
from render.faults import InputError
from render.finish import Finish
from render.layers.base import Laid, Layer
from render.units import Span

PRIOR = 2.0
CLIP = math.log(1.25)
HALF_WEIGHT_FT2 = 100.0
FOLDER_VARIABLE = "FINISHBOARD_DATA"
_VERSION = 1
_MOST_RATIO = 20.0

_SCHEMA = """
CREATE TABLE IF NOT EXISTS used (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    job TEXT NOT NULL,
    layer TEXT NOT NULL,
    material TEXT NOT NULL,
    tool TEXT NOT NULL,
    area_ft2 REAL NOT NULL CHECK (area_ft2 > 0),
    expected_gal REAL NOT NULL CHECK (expected_gal > 0),
    used_gal REAL NOT NULL CHECK (used_gal > 0)
);
CREATE TABLE IF NOT EXISTS undone (
    used_id INTEGER PRIMARY KEY REFERENCES used (id),
    at TEXT NOT NULL
);
"""


@dataclass(frozen=True)
class Used:
    """One record: what a layer took on a job, in gallons, beside what was expected (with waste)."""

    job: str
    layer: str
    material: str
    tool: str
    area_ft2: float
    expected_gal: float
    used_gal: float
    id: int = 0
    at: str = ""

    @property
    def weight(self) -> float:
        """How much it counts, 0 to 1."""
        return self.area_ft2 / (self.area_ft2 + HALF_WEIGHT_FT2)

    @property
    def ratio(self) -> float:
        """Used over expected."""
        return self.used_gal / self.expected_gal


@dataclass(frozen=True)
class Correction:
    """What earlier jobs say about a material and tool: a factor on its spread."""

    material: str
    tool: str
    jobs: int
    weight: float
    factor: float
    drawn_in: int = 0

    def words(self) -> str:
        """Return the correction in a sentence."""
        tool = f" with {self.tool}" if self.tool else ""
        text = f"{self.material}{tool} {self._goes()}, learnt from {words.count(self.jobs, 'record')}"
        if self.drawn_in:
            which = "" if self.jobs == 1 else f"{self.drawn_in} of them "
            text += f", {which}far off and so not counted in full"
        return text

    def _goes(self) -> str:
        """Return how much farther or less far it goes, in per cent of the stated spread."""
        change = 100.0 * (self.factor - 1.0)
        if abs(change) < 0.5:
            return "goes as far as stated"
        return f"is reckoned to go {abs(change):.0f} % {'farther' if change > 0 else 'less far'} than stated"

    def as_dict(self) -> dict[str, Any]:
        """Return the correction as plain data."""
        return {
            "material": self.material,
            "tool": self.tool,
            "records": self.jobs,
            "weight": self.weight,
            "stated_weight": PRIOR,
            "spread_factor": self.factor,
            "drawn_in": self.drawn_in,
        }


def folder() -> Path:
    """Return the user's data folder, or the one that the environment variable FINISHBOARD_DATA names."""
    own = os.environ.get(FOLDER_VARIABLE)
    if own:
        return Path(own)
    from platformdirs import user_data_dir

    return Path(user_data_dir("finishboard", appauthor=False))


def path() -> Path:
    """Return the file of records."""
    return folder() / "record.sqlite3"


@contextmanager
def _open(file: Path, create: bool) -> Iterator[sqlite3.Connection]:
    """Open the file of records; it is made if there is none and something is to be written."""
    if create:
        file.parent.mkdir(parents=True, exist_ok=True)
    link = sqlite3.connect(file, timeout=30.0, isolation_level=None)
    try:
        link.execute("PRAGMA journal_mode = WAL")
        link.execute("PRAGMA synchronous = FULL")
        version = link.execute("PRAGMA user_version").fetchone()[0]
        if version > _VERSION:
            raise InputError([f"{file}: written by a newer finishboard (format {version}); this one knows {_VERSION}"])
        if version < _VERSION:
            link.executescript(f"BEGIN IMMEDIATE; {_SCHEMA} PRAGMA user_version = {_VERSION}; COMMIT;")
        yield link
    except sqlite3.DatabaseError as error:
        raise InputError([f"{file}: the file of records cannot be used: {error}"]) from None
    finally:
        link.close()


_COLUMNS = "job, layer, material, tool, area_ft2, expected_gal, used_gal"


def add(records: Sequence[Used], file: Path | None = None) -> list[int]:
    """Write records in one transaction and return their numbers; on return they are on the disk.

    Raises
    ------
    InputError
        If a volume is not above zero, is more than twenty times off, or the file cannot be used.
    """
    for one in records:
        if not (0 < one.used_gal < math.inf and one.area_ft2 > 0 and one.expected_gal > 0):
            raise InputError([f'"{one.layer}" = {one.used_gal:g} gal: expected a volume above zero'])
        if not 1 / _MOST_RATIO <= one.ratio <= _MOST_RATIO:
            raise InputError(
                [f'"{one.layer}" = {one.used_gal:g} gal: {one.expected_gal:.3g} gal were expected; is the unit right?']
            )
    numbers = []
    at = datetime.now(UTC).isoformat(timespec="seconds")
    with _open(file or path(), create=True) as link:
        link.execute("BEGIN IMMEDIATE")
        try:
            for one in records:
                row = (at, one.job, one.layer, one.material, one.tool, one.area_ft2, one.expected_gal, one.used_gal)
                done = link.execute(f"INSERT INTO used (at, {_COLUMNS}) VALUES (?,?,?,?,?,?,?,?)", row)
                numbers.append(int(done.lastrowid or 0))
            link.execute("COMMIT")
        except BaseException:
            link.execute("ROLLBACK")
            raise
    return numbers


def undo(number: int | None = None, file: Path | None = None) -> Used:
    """Take back a record, the last standing one unless a number is given; nothing is erased.

    Raises
    ------
    InputError
        If there is no such standing record.
    """
    standing = all_used(file)
    wanted = [one for one in standing if number in (None, one.id)]
    if not wanted:
        what = "there is nothing to undo" if number is None else f"there is no standing record {number}"
        raise InputError([f"record: {what}"])
    last = wanted[-1]
    at = datetime.now(UTC).isoformat(timespec="seconds")
    with _open(file or path(), create=True) as link:
        link.execute("INSERT OR IGNORE INTO undone (used_id, at) VALUES (?, ?)", (last.id, at))
    return last


def all_used(file: Path | None = None, undone: bool = False) -> list[Used]:
    """Return the standing records, or with ``undone`` those taken back, oldest first; none without a file."""
    file = file or path()
    if not file.exists():
        return []
    kept = "IN" if undone else "NOT IN"
    query = f"SELECT {_COLUMNS}, id, at FROM used WHERE id {kept} (SELECT used_id FROM undone) ORDER BY id"
    with _open(file, create=False) as link:
        return [Used(*row) for row in link.execute(query)]


def correction(material: str, tool: str, records: Sequence[Used]) -> Correction | None:
    """Return what the records say about a material and tool, or None where there are none."""
    own = [one for one in records if (one.material, one.tool) == (material, tool)]
    if not own:
        return None
    logs = [math.log(one.ratio) for one in own]
    middle = statistics.median([*logs, *[0.0] * round(PRIOR)])
    near = [min(max(one, middle - CLIP), middle + CLIP) for one in logs]
    weights = [one.weight for one in own]
    pull = sum(w * x for w, x in zip(weights, near, strict=True))
    factor = math.exp(-pull / (PRIOR + sum(weights)))
    drawn = sum(abs(a - b) > 1e-12 for a, b in zip(logs, near, strict=True))
    return Correction(material, tool, len(own), sum(weights), factor, drawn)


def tool_of(layer: Layer) -> str:
    """Return the tool of a layer as records name it."""
    return ", ".join(layer.tools_used())


def corrected_layer(layer: Layer, found: Mapping[tuple[str, str], Correction]) -> Layer:
    """Return a layer with the spread that earlier jobs call for; layers without a spread as they are."""
    if not isinstance(layer, Laid):
        return layer
    known = found.get((layer.material.name, tool_of(layer)))
    if known is None:
        return layer
    used = layer.spread_used
    spread = Span(used.low * known.factor, used.likely * known.factor, used.high * known.factor)
    return layer.model_copy(update={"spread": spread})


def corrections_for(layers: Sequence[Layer], records: Sequence[Used]) -> dict[tuple[str, str], Correction]:
    """Return the corrections that some layers' materials and tools have."""
    keys = {(one.material.name, tool_of(one)) for one in layers if isinstance(one, Laid)}
    found = {key: correction(*key, records) for key in sorted(keys)}
    return {key: one for key, one in found.items() if one is not None}


def corrected(finish: Finish, found: Mapping[tuple[str, str], Correction]) -> Finish:
    """Return a finish with corrected spreads, for estimate and picture alike."""
    from dataclasses import replace

    return replace(finish, layers=tuple(corrected_layer(one, found) for one in finish.layers))
