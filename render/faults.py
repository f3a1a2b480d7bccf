"""Faults of a user's file, in words: file, place, key, value, and what is expected; all of them at once."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, get_args

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError


class InputError(ValueError):
    """The user's input is wrong; ``faults`` holds one line for each thing to mend."""

    def __init__(self, faults: list[str]) -> None:
        """Keep the lines."""
        super().__init__("\n".join(faults))
        self.faults = faults


def shown(value: Any, limit: int = 60) -> str:
    """Return a value as the user wrote it, shortened."""
    text = f'"{value}"' if isinstance(value, str) else repr(value)
    return text if len(text) <= limit else text[: limit - 1] + "…"


def known_keys(model: type[BaseModel]) -> list[str]:
    """Return the keys that a file may use for a model."""
    return [field.alias or name for name, field in model.model_fields.items()]


def nearest(word: str, known: list[str]) -> str:
    """Return a hint at the nearest known word, or the list of them."""
    near = difflib.get_close_matches(str(word), known, 1, 0.6)
    return f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    """Yield the models in a type, such as the one in a list of tables."""
    if hasattr(annotation, "model_fields"):
        yield annotation
    for part in get_args(annotation):
        yield from _models(part)


def _keys_at(model: type[BaseModel], place: tuple[int | str, ...]) -> list[str]:
    """Return the keys that a file may use where an unknown one stands, or none if any is used."""
    for part in place[:-1]:
        if isinstance(part, str):
            field = next((f for name, f in model.model_fields.items() if part in (name, f.alias)), None)
            inner = next(_models(field.annotation), None) if field else None
            if inner is None:
                return []
            model = inner
    return [key for key in known_keys(model) if key != "kind"]


def lines(where: str, model: type[BaseModel], error: ValidationError) -> list[str]:
    """Return one line for each fault in pydantic's report: ``where: key = value: what is expected``."""
    found = []
    for fault in error.errors():
        key = ".".join(str(part) for part in fault["loc"])
        if fault["type"] == "extra_forbidden":
            keys = _keys_at(model, fault["loc"])
            hint = nearest(str(fault["loc"][-1]), keys) if keys else "it is not used here"
            found.append(f"{where}: unknown key {key!r}; {hint}")
        elif fault["type"] == "missing":
            found.append(f"{where}: {key} is missing")
        else:
            what = fault["msg"].removeprefix("Value error, ")
            what = what[0].lower() + what[1:] if what[:6] == "Input " else what
            found.append(f"{where}: {key} = {shown(fault['input'])}: {what}")
    return found
