"""The layer kinds. The folder is the table: every module here with a ``kind`` is found, all else follows from it."""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from render.layers.base import Layer
from render.units import KINDS, Quantity, Span


@lru_cache(maxsize=1)
def kinds() -> Mapping[str, type[Layer]]:
    """Return every layer kind by its name in a finish file, in alphabetical order."""
    found: dict[str, type[Layer]] = {}
    for module in pkgutil.iter_modules(__path__):
        if module.name == "base":
            continue
        for thing in vars(importlib.import_module(f"{__name__}.{module.name}")).values():
            if isinstance(thing, type) and issubclass(thing, Layer) and thing.__module__.endswith(module.name):
                kind = thing.model_fields["kind"].default
                if isinstance(kind, str):
                    found[kind] = thing
    return dict(sorted(found.items()))


def _takes(annotation: Any, metadata: list[Any]) -> str:
    """Return what a key takes, in words."""
    for mark in metadata:
        if isinstance(mark, Quantity):
            return f"{mark.kind}{' or range' if mark.ranged else ''}, {mark.limits}, such as {KINDS[mark.kind].example}"
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is Literal:
            return " | ".join(map(str, get_args(part)))
        marks = getattr(part, "__metadata__", ())
        if any(isinstance(mark, Quantity) for mark in marks):
            return _takes(get_args(part)[0], list(marks))
    if get_origin(annotation) is tuple:
        inner = get_args(annotation)[0]
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            return f"a list of tables {{ {', '.join(inner.model_fields)} }}"
        return "a list of texts in quotes"
    plain = {
        "str": "text", "bool": "true or false", "int": "a whole number", "float": "a number",
        "Material": "a material's name",
    }  # fmt: skip
    return plain.get(getattr(annotation, "__name__", ""), "a table of volumes")


_SAID = re.compile(r"; default: (?P<words>[^;]+?)\.?$")


def _default(field: FieldInfo) -> str:
    """Return what holds where a key is not given, as a file would say it."""
    said, value = _SAID.search(field.description or ""), field.default
    if said:
        return said["words"]
    if isinstance(value, bool):
        return str(value).lower()
    mark = next((one for one in field.metadata if isinstance(one, Quantity)), None)
    if mark is None or isinstance(value, str):
        return "none" if value is None or value in ("", ()) else str(value)
    ends, scale = (value.low, value.high) if isinstance(value, Span) else (value, value), 1.0
    unit = KINDS[mark.kind].base
    if mark.kind == "share":
        unit, scale = "%", 100.0
    low, high = (f"{one * scale:g}" for one in ends)
    return f"{low if low == high else f'{low}-{high}'} {unit}"


def keys(model: type[BaseModel]) -> dict[str, dict[str, Any]]:
    """Return the keys of a layer kind, or of a material: what each takes, its default if it has one, and its help.

    A layer's name is not needed: it is the kind's words.
    """
    found: dict[str, dict[str, Any]] = {}
    for name, field in model.model_fields.items():
        if name == "kind" or (name == "name" and not issubclass(model, Layer)):
            continue
        said = _SAID.sub(".", field.description or "")
        entry: dict[str, Any] = {"takes": _takes(field.annotation, field.metadata), "help": said}
        if not field.is_required():
            entry["default"] = _default(field)
        found[field.alias or name] = entry
    if "name" in found:
        found["name"]["default"] = str(model.model_fields["kind"].default).replace("_", " ")
    return found


def about(model: type[BaseModel]) -> str:
    """Return the first sentence of what a kind says of itself, without the marks of its source text."""
    paragraph = " ".join((model.__doc__ or "").strip().partition("\n\n")[0].split()).replace("`", "")
    return re.split(r"(?<=[.!?])\s", paragraph, maxsplit=1)[0]
