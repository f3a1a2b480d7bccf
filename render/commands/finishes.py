"""``presets``, ``show`` and ``check``: what finishes there are and what they say."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.commands.options import FinishArg, JsonOption, answer, say

if TYPE_CHECKING:
    from pydantic import BaseModel


def presets(as_json: JsonOption = False) -> None:
    """List the finishes that ship, with what each is."""
    from render.finish import load, shipped_names

    rows = [(name, load(name)) for name in shipped_names()]
    if as_json:
        answer([_about(name, finish) for name, finish in rows])
        return
    width = max((len(name) for name, _ in rows), default=0)
    for name, finish in rows:
        print(f"{name:<{width}}  {len(finish.layers):>2} layers  {finish.summary}")


def _about(name: str, finish: Any) -> dict[str, Any]:
    return {
        "preset": name,
        "name": finish.name,
        "family": finish.family,
        "summary": finish.summary,
        "layers": len(finish.layers),
    }


def show(finish: FinishArg, as_json: JsonOption = False) -> None:
    """Show the layer list of a finish."""
    from render.finish import load

    read = load(finish)
    if as_json:
        answer({**_about(finish, read), "use": read.use, "watch": read.watch, "layer": read.source.get("layer", [])})
        return
    print(read.name)
    for text in (read.summary, read.use and f"When: {read.use}", read.watch and f"Watch: {read.watch}"):
        if text:
            print(f"  {text}")
    for number, layer in enumerate(read.layers, 1):
        given = read.source["layer"][number - 1]
        facts = [f"{key} {_plain(value)}" for key, value in given.items() if key not in ("kind", "name", "note")]
        print(f"{number:>3}  {layer.name}  ({layer.words()})")
        if facts:
            print(f"     {', '.join(facts)}")
        if layer.note:
            print(f"     {layer.note}")


def _plain(value: Any) -> str:
    """Return a value without TOML's marks."""
    if isinstance(value, dict):
        return " + ".join(f"{amount} {name}" for name, amount in value.items())
    if isinstance(value, list):
        return ", ".join(_plain(one) for one in value)
    return str(value)


def check(files: Annotated[list[str], typer.Argument(metavar="FINISH|JOB...")], as_json: JsonOption = False) -> None:
    """Check finish and job files and tell every fault in them at once."""
    from render import finish, job
    from render.faults import InputError

    faults: list[str] = []
    for name in files:
        try:
            job.load(name) if job.is_job(name) else finish.load(name)
        except InputError as error:
            faults.extend(error.faults)
    if as_json:
        answer({"ok": not faults, "faults": faults})
        if faults:
            raise typer.Exit(2)
        return
    if faults:
        raise InputError(faults)
    say(f"{len(files)} checked, no fault")


def kinds(
    kind: Annotated[
        str,
        typer.Argument(
            metavar="[KIND]", help="A layer kind, or 'material' for the keys of one; without it, all are listed."
        ),
    ] = "",
    as_json: JsonOption = False,
) -> None:
    """List the layer kinds, or the keys of one with their units, limits and defaults."""
    from render import layers
    from render.faults import InputError, nearest
    from render.materials import Material

    known = layers.kinds()
    models: dict[str, type[BaseModel]] = {**known, "material": Material}
    if kind and kind not in models:
        raise InputError([f"{kind}: unknown layer kind; {nearest(kind, list(models))}"])
    if not kind:
        table = {name: layers.about(model) for name, model in known.items()}
        if as_json:
            answer(table)
        else:
            width = max(map(len, table))
            print("\n".join(f"{name:<{width}}  {line}" for name, line in table.items()))
            say('finishboard kinds KIND tells the keys of one; "kinds material" those of a material of your own')
        return
    keys = layers.keys(models[kind])
    if as_json:
        answer({"kind": kind, "about": layers.about(models[kind]), "keys": keys})
        return
    print(f"{kind}: {layers.about(models[kind])}")
    for name, key in keys.items():
        print(f"  {name:<12} {key['takes']}; {'default ' + str(key['default']) if 'default' in key else 'needed'}")
        if key["help"]:
            print(f"  {'':<12} {key['help']}")
