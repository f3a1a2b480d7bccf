"""The layer kinds. The folder is the table: every module here with a ``kind`` is found, all else follows from it."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Literal, get_args, get_origin

from render.layers.base import Layer
from render.units import KINDS, Quantity


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
            words = "share" if mark.kind == "share" else mark.kind
            return f"{words}{' or range' if mark.ranged else ''}, {mark.limits}, such as {KINDS[mark.kind].example}"
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is Literal:
            return " | ".join(map(str, get_args(part)))
        marks = getattr(part, "__metadata__", ())
        if any(isinstance(mark, Quantity) for mark in marks):
            return _takes(get_args(part)[0], list(marks))
    return {"str": "text", "bool": "true or false", "int": "a whole number", "Material": "a material's name"}.get(
        getattr(annotation, "__name__", ""), "a list" if get_origin(annotation) is tuple else "a table of volumes"
    )


def keys(model: type[Layer]) -> dict[str, dict[str, Any]]:
    """Return a layer kind's keys: what each takes, its default if it has one, and its help."""
    found: dict[str, dict[str, Any]] = {}
    for name, field in model.model_fields.items():
        if name == "kind":
            continue
        entry: dict[str, Any] = {"takes": _takes(field.annotation, field.metadata), "help": field.description or ""}
        if not field.is_required():
            entry["default"] = "none" if field.default is None else field.default or "none"
        found[name] = entry
    return found
