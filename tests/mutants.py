"""Random mutations of TOML tables: what a tired hand, a wrong program or an enemy makes of a file."""

from __future__ import annotations

import copy
import random
from typing import Any

ODD: tuple[Any, ...] = (
    "", " ", "0", "-1", "1e9", "nan", "inf %", "140 %", "-5 %", "78", "78%", "3/0 in", "1 galon", "12 ft x", "ft", "%",
    "#12", "#gggggg", "lab(", "lab(1e9, 0, 0)", "LRV 400", "ü" * 50, "\x00", "<script>alert(1)</script>", "../../etc",
    "a" * 2000, "62-70-80 ft2/gal", "70-60 %", "5 ft2/gal mil", 0, -1, 1e308, float("nan"), float("inf"), True, None,
    [], {}, [[]], {"a": {"b": {}}}, ["x"] * 20, 10**30,
)  # fmt: skip


def _places(table: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the paths of all values in a nested table."""
    here: list[tuple[Any, ...]] = [path] if path else []
    items = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    return here + [place for key, value in items for place in _places(value, (*path, key))]


def _parent(table: Any, path: tuple[Any, ...]) -> Any:
    for key in path[:-1]:
        table = table[key]
    return table


def mutate(table: dict[str, Any], rng: random.Random, most: int = 3) -> dict[str, Any]:
    """Return a copy of a table with one to ``most`` values replaced, removed, renamed, doubled or swapped."""
    made = copy.deepcopy(table)
    for _ in range(rng.randint(1, most)):
        places = _places(made)
        if not places:
            break
        path = rng.choice(places)
        parent, key = _parent(made, path), path[-1]
        act = rng.randrange(5)
        if act == 0:
            parent[key] = copy.deepcopy(rng.choice(ODD))
        elif act == 1:
            del parent[key]
        elif act == 2 and isinstance(parent, dict):
            parent[str(key)[:-1] + rng.choice("xyzé ")] = parent.pop(key)
        elif act == 3 and isinstance(parent, list):
            parent.append(copy.deepcopy(parent[key]))
        else:
            other = rng.choice(places)
            try:
                parent[key] = copy.deepcopy(_parent(made, other)[other[-1]])
            except (KeyError, IndexError, TypeError):
                continue
    return made
