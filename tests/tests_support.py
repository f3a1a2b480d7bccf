"""Small finishes and walls that several tests share."""

from __future__ import annotations

from typing import Any

from render.finish import Finish, read

SMALL: dict[str, Any] = {"wall": "12 in x 10 in", "ppi": 12.5, "pour": 7, "light": "window left 16 deg"}


def table(*layers: dict[str, Any], name: str = "Trial") -> dict[str, Any]:
    """A finish table."""
    return {"name": name, "layer": list(layers)}


def base(**more: Any) -> dict[str, Any]:
    """A sanded base."""
    return {"kind": "texture_coat", "name": "base", "material": "sanded wall coat", "spread": "165 ft2/gal", **more}


def plaster(**more: Any) -> dict[str, Any]:
    """A skip-trowelled plaster."""
    given = {"kind": "plaster_coat", "name": "top plaster", "material": "lime topping", "style": "skip"}
    return {**given, "coverage": "70 %", "spread": "62-70 ft2/gal", "thin": "10-30 %", **more}


def small_finish(*extra: dict[str, Any]) -> Finish:
    """A base, a plaster and what is given."""
    return read(table(base(), plaster(), *extra), "trial")
