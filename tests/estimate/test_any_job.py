"""Random damage to a job file: a clear fault or a sound estimate, never a traceback."""

from __future__ import annotations

import copy
import tomllib
from datetime import date
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from render import presets
from render.estimate.job_estimate import job_estimate
from render.faults import InputError
from render.job import read

DEMO = tomllib.loads((presets.folder() / "job-two-rooms.toml").read_text(encoding="utf-8"))
ODD: list[Any] = [
    None, True, False, 0, -1, 1, 3, 10**30, 0.0, -0.5, 1.5, float("nan"), float("inf"), "", " ", "x", "0 ft", "-3 ft",
    "1 mil", "3 ft", "40 ft", "1e400 ft", "12 %", "900 %", "-5 %", "2 gal", "0 gal", "0.001 gal", "8 h", "0 h", "30 h",
    "4 fl oz/ft2", "20 m2", "is1200", "solid", "metric", "low", "slow", "A", "old-cistern", "chalk-loft", "none.toml",
    "=1+1", "\x00", "é" * 300, [], [1], ["Mon"], ["Mon", "Mon"], ["Someday"], {}, {"a": 1}, {"B": "chalk-loft"},
    [{}], [{"name": "w", "width": "3 ft", "height": "8 ft"}], date(2027, 3, 1), date(1, 1, 1), date(9999, 12, 31),
]  # fmt: skip
EXTRA = [
    "rise",
    "height_right",
    "finish",
    "disturbs",
    "teams",
    "crew",
    "change",
    "accepted",
    "material",
    "nonsense",
    "days_off",
]


def places(table: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the path of every value in a table."""
    found = [path] if path else []
    items = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    for key, value in items:
        found += places(value, (*path, key))
    return found


PLACES = places(DEMO)
TABLES = [()] + [path for path in PLACES if isinstance(path[-1], int) or path[-1] in ("work", "rates", "site")]


def at(table: Any, path: tuple[Any, ...]) -> Any:
    """Return what stands at a path, or None where damage has taken it away."""
    for key in path:
        try:
            table = table[key]
        except (KeyError, IndexError, TypeError):
            return None
    return table


def damage(table: Any, path: tuple[Any, ...], value: Any) -> None:
    """Put a value at a path; None takes it away."""
    holder = at(table, path[:-1])
    if isinstance(holder, dict):
        if value is None:
            holder.pop(path[-1], None)
        else:
            holder[path[-1]] = value
    elif isinstance(holder, list) and isinstance(path[-1], int) and path[-1] < len(holder):
        if value is None:
            del holder[path[-1]]
        else:
            holder[path[-1]] = value


BLOWS = st.lists(
    st.one_of(
        st.tuples(st.sampled_from(PLACES), st.sampled_from(ODD)),
        st.tuples(
            st.tuples(st.sampled_from(TABLES), st.sampled_from(EXTRA)).map(lambda p: (*p[0], p[1])),
            st.sampled_from(ODD),
        ),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=150, deadline=None)
@given(BLOWS)
def test_a_damaged_job_is_a_clear_fault_or_a_sound_estimate(blows: list[tuple[tuple[Any, ...], Any]]) -> None:
    """Every fault names the file; whatever is accepted is estimated, low <= likely <= high, and can be told as data."""
    table = copy.deepcopy(DEMO)
    for path, value in blows:
        damage(table, path, copy.deepcopy(value))
    try:
        job = read(table, "job.toml", presets.folder())
        got = job_estimate(job, run_off=lambda *_: 0.01)
    except InputError as error:
        assert error.faults
        assert all(one.startswith(("job.toml:", "[work]:")) for one in error.faults)
        return
    for one in got.offers:
        whole = one.price.total
        assert 0 <= whole.low <= whole.likely <= whole.high
    assert got.as_dict()["options"]
