"""The layer kinds. The folder is the table: every module here with a ``kind`` is found, and all else follows from it."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import lru_cache

from render.layers.base import Layer


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
