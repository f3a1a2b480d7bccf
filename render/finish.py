"""A finish: an ordered list of layers, read from a TOML file, all its faults told at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from render import layers, materials, presets
from render.faults import InputError, lines, nearest, shown
from render.layers.base import Layer
from render.materials import Material

_TOP = ("name", "summary", "use", "watch", "family", "wall_colour", "layer", "material")
_JOB_KEYS = frozenset(("room", "client", "site", "work", "rates", "option", "accepted"))
_MOST_LAYERS = 500
_MOST_BYTES = 2_000_000


@dataclass(frozen=True)
class Finish:
    """An ordered list of layers with a name.

    ``source`` is the file's own content, complete enough to write the file again; ``shelf`` its materials.
    """

    name: str
    layers: tuple[Layer, ...]
    summary: str = ""
    use: str = ""
    watch: str = ""
    family: str = ""
    wall_colour: str = "#e6e2da"
    source: Mapping[str, Any] = field(default_factory=dict)
    shelf: Mapping[str, Material] = field(default_factory=dict)

    def layer(self, name: str) -> Layer:
        """Return a layer by name.

        Raises
        ------
        InputError
            With the nearest known name.
        """
        for one in self.layers:
            if one.name == name:
                return one
        raise InputError([f'{self.name}: no layer "{name}"; {nearest(name, [one.name for one in self.layers])}'])


def _text(table: Mapping[str, Any], where: str, faults: list[str]) -> dict[str, str]:
    """Return the finish's own words; anything but text is a fault."""
    words = {}
    for key in ("name", "summary", "use", "watch", "family"):
        value = table.get(key, "")
        if not isinstance(value, str) or len(value) > 600:
            faults.append(f"{where}: {key} = {shown(value)}: expected text of at most 600 letters")
        else:
            words[key] = value
    return words


def _layer(entry: Any, number: int, where: str, context: dict[str, Any], faults: list[str]) -> Layer | None:
    """Read one layer, adding its faults to the list."""
    if not isinstance(entry, dict):
        faults.append(f"{where}: layer {number}: expected a [[layer]] table")
        return None
    label = f"{where}: layer {number} {shown(entry.get('name', 'without a name'))}"
    known = layers.kinds()
    kind = entry.get("kind")
    if not isinstance(kind, str) or kind not in known:
        faults.append(f"{label}: kind = {shown(kind)}: unknown kind; {nearest(str(kind), list(known))}")
        return None
    try:
        return known[kind].model_validate({"name": kind.replace("_", " "), **entry}, context=context)
    except ValidationError as error:
        faults.extend(lines(label, known[kind], error))
        return None


def is_job_table(table: Mapping[str, Any]) -> bool:
    """Return whether a file's content is a job's, by keys that no finish has."""
    return "room" in table or ("layer" not in table and bool(_JOB_KEYS & table.keys()))


def read(table: Mapping[str, Any], where: str = "finish", shelf: Mapping[str, Material] | None = None) -> Finish:
    """Read a finish from a TOML table.

    Parameters
    ----------
    table
        The file's content.
    where
        How messages call the file.
    shelf
        Materials to use besides those that ship and those in the table.

    Raises
    ------
    InputError
        With every fault: place, key, value, and what is expected.
    """
    if is_job_table(table):
        raise InputError([f"{where} is a job, not a finish; expected a file with [[layer]] tables"])
    faults = [f"{where}: unknown key {key!r}; {nearest(key, list(_TOP))}" for key in table if key not in _TOP]
    words = _text(table, where, faults)
    own: dict[str, Material] = {}
    given = table.get("material", {})
    if isinstance(given, dict):
        own, wrong = materials.read(given, where)
        faults.extend(wrong)
    else:
        faults.append(f'{where}: material: expected [material."name"] tables')
    # A name that the file gives, but with faults, is known: its faults are told once, at the material.
    faulty = materials.stand_ins(given, own) if isinstance(given, dict) else {}
    context = {"materials": {**materials.shipped(), **(shelf or {}), **faulty, **own}}
    colour = table.get("wall_colour", "#e6e2da")
    faults.extend(_colour_faults(colour, where))
    entries = table.get("layer", [])
    if isinstance(entries, dict):
        faults.append(f"{where}: layer: is written [layer]; write [[layer]] before each layer")
        entries = [entries]
    if not isinstance(entries, list) or len(entries) > _MOST_LAYERS:
        faults.append(f"{where}: layer: expected at most {_MOST_LAYERS} [[layer]] tables")
        entries = []
    got = [_layer(entry, i + 1, where, context, faults) for i, entry in enumerate(entries)]
    found = tuple(one for one in got if one is not None)
    faults.extend(_same_names(found, where))
    if faults:
        raise InputError(faults)
    name = words.pop("name") or Path(where).stem
    return Finish(name, found, **words, wall_colour=colour, source=table, shelf=context["materials"])


def _colour_faults(colour: Any, where: str) -> list[str]:
    """Return the fault of the bare wall's colour, if any."""
    try:
        materials._reflectance(colour)
    except ValueError as error:
        return [f"{where}: wall_colour = {shown(colour)}: {error}"]
    return []


def _same_names(found: tuple[Layer, ...], where: str) -> list[str]:
    """Return a fault for every name that two layers share: random placement and accounts go by name."""
    seen: set[str] = set()
    faults = []
    for one in found:
        if one.name in seen:
            faults.append(f'{where}: layer "{one.name}": two layers have this name; give each its own')
        seen.add(one.name)
    return faults


def is_file(path: Path) -> bool:
    """Return whether there is such a file; a name that no file system takes is none."""
    try:
        return path.is_file()
    except OSError:
        return False


def locate(name: str | Path) -> Path:
    """Return the file of a finish: a path, or the name of a shipped preset.

    Raises
    ------
    InputError
        If there is no such file or preset.
    """
    path = Path(name)
    if path.suffix == ".toml" or is_file(path):
        if is_file(path):
            return path
        raise InputError([f"{path}: there is no such file"])
    known = shipped_names()
    if str(name) in known:
        return presets.folder() / f"{name}.toml"
    if str(name).startswith("job-") and is_file(presets.folder() / f"{name}.toml"):
        raise InputError([f"{name} is a job, not a finish; estimate, sheets and record take jobs"])
    raise InputError([f"{name}: no such finish file or preset; {nearest(str(name), known)}"])


def shipped_names() -> list[str]:
    """Return the names of the shipped finishes, in alphabetical order."""
    return sorted(
        path.stem
        for path in presets.folder().glob("*.toml")
        if path.stem not in ("materials", "colourants") and not path.stem.startswith("job-")
    )


def parse(text: str, where: str) -> dict[str, Any]:
    """Return TOML text as a table.

    Raises
    ------
    InputError
        Where the text is not TOML, with line and column.
    """
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError([f"{where}: not readable as TOML: {error}{_toml_hint(str(error))}"]) from None


def _toml_hint(said: str) -> str:
    """Return what a fault of the notation most often comes from."""
    if "Illegal character '\\n'" in said or "Unterminated string" in said:
        return "; is a closing quote missing?"
    twice = re.match(r"Cannot declare \('(\w+)',\) twice", said)
    return f"; write [[{twice[1]}]] before each {twice[1]}" if twice else ""


def contents(path: Path) -> str:
    """Return a user's text file.

    Raises
    ------
    InputError
        If it cannot be read, is over 2 MB or is not UTF-8.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError([f"{path}: larger than 2 MB; expected a short TOML file"])
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise InputError([f"{path}: cannot be read: {error.strerror}"]) from None
    except UnicodeDecodeError:
        raise InputError([f"{path}: not UTF-8 text"]) from None


def load(name: str | Path, shelf: Mapping[str, Material] | None = None) -> Finish:
    """Open a finish file or a shipped preset.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    path = locate(name)
    return read(parse(contents(path), path.name), path.name, shelf)


def set_key(layer: dict[str, Any], key: str, value: Any) -> None:
    """Change one key of a layer's table, in place.

    Before a coverage is changed, the table is told that its spread was measured at the old one: half the wall takes
    half the material, and the film where it lies stays as thick as it was.
    """
    kind = layers.kinds().get(str(layer.get("kind")))
    fields = kind.model_fields if kind else {}
    if key == "coverage" and "spread_at" in fields and fields["spread_at"].default is None:
        layer.setdefault("spread_at", layer.get("coverage", fields["coverage"].default))
    layer[key] = value


