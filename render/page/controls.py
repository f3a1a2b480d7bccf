"""A layer's controls, derived from its own model: every key with its unit, limits and help. A new layer kind needs
nothing here.

A control is plain data for the page. Numbers are in the unit that the file uses, or the trade's usual one; the page
writes a number and its unit back into the finish table, which is read again as a file is.
"""

from __future__ import annotations

import math
import re
import types
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from render import units
from render.layers import keys
from render.layers.base import Layer
from render.units import Quantity, Span

Control = dict[str, Any]

_SHOWN_IN = {
    "length": "in", "film": "mil", "volume": "fl oz", "area": "ft2", "spread": "ft2/gal", "dose": "fl oz/ft2",
    "time": "h", "angle": "deg", "share": "%", "rate": "ft2/h", "mass": "lb",
}  # fmt: skip
_ASIDE = ("kind", "name", "note", "labour")
_NUMBERS = re.compile(r"^\s*-?[\d./]+(?:\s+\d+/\d+)?(?:\s*(?:-|–|to)\s*[\d./]+(?:\s+\d+/\d+)?)?")
_FIRST = ("coverage", "spread", "dose", "amount", "film", "thin", "colourants", "medium", "material")
_HELP = {
    "coverage": "Share of the wall that this layer is asked to touch.",
    "spread": "Wall area that one gallon covers: more area, thinner film.",
    "spread_at": "The coverage at which the spread was measured.",
    "thin": "Water added, as a share of the product.",
    "dose": "Liquid put on each square foot.",
    "medium": "Clear medium in one batch; less of it makes a stronger colour.",
    "colourants": "Colourant in one batch of medium.",
    "material": "What is laid.",
}


def controls(layer: Layer, entry: Mapping[str, Any]) -> list[Control]:
    """Return the controls of a layer.

    Parameters
    ----------
    layer
        The layer as it was read.
    entry
        Its table in the finish, whose units are kept.
    """
    found = [_control(layer, entry, key, field) for key, field in type(layer).model_fields.items() if key not in _ASIDE]
    kept = [one for one in found if one is not None]
    place = {key: rank for rank, key in enumerate(_FIRST)}
    return sorted(kept, key=lambda one: place.get(one["key"], len(place)))


def _control(layer: Layer, entry: Mapping[str, Any], key: str, field: FieldInfo) -> Control | None:
    """Return one key's control, or None for a key that a slider or a choice cannot set."""
    told = _told(type(layer)).get(field.alias or key, {})
    about = {"key": key, "label": key.replace("_", " "), "help": told.get("help") or _HELP.get(key, "")}
    made = _marked(layer, entry, key, field) or _by_value(layer, entry, key, field)
    if made and made.get("unset"):
        made["usual"] = told.get("default", "")
    return about | made | _pinned(layer, key) if made else None


@lru_cache(maxsize=64)
def _told(kind: type[Layer]) -> dict[str, dict[str, Any]]:
    """Return what a kind's keys say of themselves: ``help`` and ``default`` in words."""
    return keys(kind)


def _pinned(layer: Layer, key: str) -> Control:
    """Return at what coverage a spread was measured, for a kind that says it nowhere: ``finish.set_key`` does alike.

    Another coverage then takes more or less material, and where the coat lies it stays as thick.
    """
    fields = type(layer).model_fields
    if key != "coverage" or "spread_at" not in fields or fields["spread_at"].default is not None:
        return {}
    return {"measured_at": fields["coverage"].default}


def _marked(layer: Layer, entry: Mapping[str, Any], key: str, field: FieldInfo) -> Control | None:
    """Return the control of a key whose type says what it is: a quantity, or one of some words."""
    for part in _parts(field):
        if isinstance(part, Quantity):
            return _quantity(layer, entry, key, part)
        if get_origin(part) is Literal:
            return {"type": "choice", "value": getattr(layer, key), "choices": list(get_args(part))}
    return None


def _by_value(layer: Layer, entry: Mapping[str, Any], key: str, field: FieldInfo) -> Control | None:
    """Return the control of a key that is known by its value."""
    value = getattr(layer, key)
    if key == "colourants":
        return {"type": "recipe", **_recipe(layer, entry)}
    if key == "material":
        return {"type": "material", "value": value.name, "group": value.group}
    if isinstance(value, bool):
        return {"type": "switch", "value": value}
    if isinstance(value, int | float):
        return _plain_number(field, value)
    if isinstance(value, str) and "colour" in key:
        return {"type": "colour", "value": entry.get(key, value)}
    return None


def _parts(field: FieldInfo) -> Iterator[Any]:
    """Yield the markers and types of a field, also those inside ``| None``."""
    yield from field.metadata
    waiting = [field.annotation]
    while waiting:
        part = waiting.pop()
        yield part
        if get_origin(part) in (Union, types.UnionType):
            waiting.extend(get_args(part))
        elif get_origin(part) is Annotated:
            first, *marks = get_args(part)
            yield from marks
            waiting.append(first)


# --- quantities -------------------------------------------------------------------------------------------------------


def unit_of(text: Any, kind: str) -> str:
    """Return the unit in which a quantity is shown: the file's own if it stands alone, else the trade's."""
    unit = _NUMBERS.sub("", str(text)).strip()
    if not unit or re.search(r"[\d\s]\d", unit):  # a second number: "12 ft 6 in"
        return _SHOWN_IN.get(kind, units.KINDS[kind].base)
    try:
        units.value(f"1 {unit}", kind)
    except ValueError:
        return _SHOWN_IN.get(kind, units.KINDS[kind].base)
    return unit


def _quantity(layer: Layer, entry: Mapping[str, Any], key: str, quantity: Quantity) -> Control | None:
    """Return a slider: in the file's unit, over a range about what is set now."""
    if quantity.kind == "temperature":
        return None
    own = getattr(layer, key)
    reference = own if own is not None else _reference(layer, key)
    if reference is None:
        return None
    unit = unit_of(entry.get(key, ""), quantity.kind)
    size = units.value(f"1 {unit}", quantity.kind)
    span = reference if isinstance(reference, Span) else Span.exactly(reference)
    low, high, step = scale(span.likely / size, quantity.low / size, quantity.high / size, quantity.kind)
    low = _readable(
        layer, entry, key, unit, (low, step, *(span.likely / size * part for part in (0.05, 0.2, 0.5, 1.0)))
    )
    return {
        "type": "amount", "unit": unit, "low": low, "high": high, "step": step,
        "least": quantity.low / size, "most": quantity.high / size if math.isfinite(quantity.high) else None,
        "value": _neat(span.likely / size), "from": _neat(span.low / size), "to": _neat(span.high / size),
        "ranged": quantity.ranged and span.high > span.low, "unset": own is None,
    }  # fmt: skip


def _readable(layer: Layer, entry: Mapping[str, Any], key: str, unit: str, tried: tuple[float, ...]) -> float:
    """Return the first number that the model takes for a key, or what is set: a model may ask more than its limits."""
    material = getattr(layer, "material", None)
    context = {"materials": {material.name: material}} if material else None
    for value in (one for one in tried if one <= tried[-1]):
        try:
            type(layer).model_validate({"name": layer.name, **entry, key: f"{value:.6g} {unit}"}, context=context)
        except ValidationError:
            continue
        return _neat(value)
    return _neat(tried[-1])


def _reference(layer: Layer, key: str) -> Any:
    """Return what holds while a key is not set: the layer's ``..._used``, or its coverage."""
    used = getattr(layer, f"{key}_used", None)
    return used if used is not None else getattr(layer, "coverage", None) if key == "spread_at" else None


def scale(value: float, least: float, most: float, kind: str) -> tuple[float, float, float]:
    """Return a slider's ends and step, inside the permitted ends, about a value; all in one unit.

    Angles and most shares are shown whole; other amounts from a third to three times what is set.
    """
    if kind == "angle":
        return least, most, 1.0
    if kind == "share":
        return least, _share_top(value, most), 1.0 if value <= 0 or (value >= 3.0 and value % 1.0 == 0) else 0.1
    top = min(most, nice(3.0 * value) if value > 0 else max(1.0, least))
    step = nice(top / 100.0)
    bottom = least if kind not in ("spread", "rate") else max(least, math.floor(value / 3.0 / step) * step)
    bottom = 0.0 if bottom < step * 1e-3 else bottom
    return _neat(bottom), _neat(top), step


def _share_top(value: float, most: float) -> float:
    """Return the upper end for a share in per cent: all of it, but a few times what is set where that is little.

    A spatter that touches 1 % of the wall is set between 0 and 5 %; more can be typed.
    """
    if 0 < value < 10.0:
        return min(most, nice(5.0 * value))
    return most if most <= 100.0 + 1e-9 else min(most, nice(max(50.0, 2.5 * value)))


def nice(value: float) -> float:
    """Return the next number up from 1, 2, 2.5, 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(value))
    return next(_neat(m * power) for m in (1.0, 2.0, 2.5, 5.0, 10.0) if m * power >= value * (1 - 1e-9))


def _neat(value: float) -> float:
    """Return a number without the dust of unit conversion."""
    return float(f"{value:.6g}")


def _plain_number(field: FieldInfo, value: float) -> Control:
    """Return a slider for a bare number, from the limits that its field declares."""
    names = ("ge", "gt", "le", "lt")
    ends = {name: getattr(part, name) for part in field.metadata for name in names if hasattr(part, name)}
    least = ends.get("ge", ends.get("gt", 0))
    most = ends.get("le", ends.get("lt", max(10, nice(3 * value) if value > 0 else 10)))
    step = 1 if isinstance(value, int) else nice((most - least) / 100)
    return {"type": "number", "low": least, "high": most, "step": step, "value": value}


def _recipe(layer: Any, entry: Mapping[str, Any]) -> Control:
    """Return the colourants of a glaze with a slider each, from nothing to three times what is in it."""
    given = entry.get("colourants")
    given = given if isinstance(given, Mapping) else {}
    parts = []
    for name, gallons in layer.colourants.items():
        unit = unit_of(given.get(name, ""), "volume")
        amount = gallons / units.value(f"1 {unit}", "volume")
        top = nice(3.0 * amount) if amount > 0 else 1.0
        parts.append({"name": name, "unit": unit, "value": _neat(amount), "high": top, "step": nice(top / 60.0)})
    return {"parts": parts}
