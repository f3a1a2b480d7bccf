"""``record`` and ``sheets``: what was really used on a job, and the two documents handed over."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.commands.options import Bar, JsonOption, ReplaceOption, answer, say

if TYPE_CHECKING:
    from render.estimate.batches import Units
    from render.job import Job, Offer
    from render.record import Used

JobArg = Annotated[str, typer.Argument(metavar="JOB", help="A job file, or the name of a shipped demo job.")]
MaybeJobArg = Annotated[str, typer.Argument(metavar="[JOB]", help="A job file; not needed with --list or --undo.")]
UsedOption = Annotated[
    list[str] | None,
    typer.Option("--used", help="What a layer or material really took, such as 'top plaster=11.5 gal'. Repeatable."),
]
OptionOption = Annotated[
    str, typer.Option("--option", help="The option that was done. Default: the job's accepted one.")
]
UndoOption = Annotated[bool, typer.Option("--undo", help="Take back the last record, or the one --number names.")]
NumberOption = Annotated[int | None, typer.Option("--number", help="With --undo: the record to take back.")]
UnitsOption = Annotated[str, typer.Option("--units", help="imperial or metric. Default: the job's own, or imperial.")]
ListOption = Annotated[bool, typer.Option("--list", help="List what was recorded, and the spreads that follow.")]


def record(
    job: MaybeJobArg = "",
    used: UsedOption = None,
    option: OptionOption = "",
    undo: UndoOption = False,
    number: NumberOption = None,
    show: ListOption = False,
    as_json: JsonOption = False,
    units: UnitsOption = "",
) -> None:
    """Record what was really used on a job; later estimates with that material and tool learn from it."""
    from render.commands.estimate import checked_units
    from render.faults import InputError

    asked = sum((bool(used), undo, show))
    if asked != 1:
        raise InputError(['record: expected one of --used "LAYER=VOLUME", --undo or --list'])
    if used and not job:
        raise InputError(["record: --used needs the job file that it belongs to"])
    if undo:
        _undo(number, as_json, checked_units(units, "imperial"))
    elif show:
        _list(as_json, checked_units(units, "imperial"))
    else:
        _record(job, used or [], option, as_json, units)


def _undo(number: int | None, as_json: bool, units: Units) -> None:
    from render import record as book
    from render.estimate import words

    back = book.undo(number)
    if as_json:
        answer({"undone": _row(back)})
    else:
        say(f"taken back: record {back.id}, {back.layer}, {words.volume(back.used_gal, units)} ({back.job})")


def _row(one: Used) -> dict[str, Any]:
    return {
        "number": one.id,
        "at": one.at,
        "job": one.job,
        "layer": one.layer,
        "material": one.material,
        "tool": one.tool,
        "ft2": one.area_ft2,
        "expected_gal": one.expected_gal,
        "used_gal": one.used_gal,
        "weight": one.weight,
    }


def _list(as_json: bool, units: Units) -> None:
    from render import record as book

    standing = book.all_used()
    keys = dict.fromkeys((one.material, one.tool) for one in standing)
    found = [one for one in (book.correction(*key, standing) for key in keys) if one is not None]
    if as_json:
        back = [_row(one) for one in book.all_used(undone=True)]
        spreads = [one.as_dict() for one in found]
        answer(
            {"file": str(book.path()), "records": [_row(one) for one in standing], "undone": back, "spreads": spreads}
        )
        return
    for one in standing:
        print(f"{one.id:>4}  {one.at[:10]}  {one.job}: {_used_words(one, units)}")
    for line in found:
        print(line.words())
    say(f"kept in {book.path()}" if standing else f"nothing recorded yet; it would be kept in {book.path()}")


def _used_words(one: Used, units: Units) -> str:
    """Return a record in a sentence: what was used and what was expected, on how much wall."""
    from render.estimate import words

    used, expected = words.volume(one.used_gal, units), words.volume(one.expected_gal, units)
    tool = f" with {words.in_units(one.tool, units)}" if one.tool else ""
    area = words.area(one.area_ft2, units)
    return f"{one.layer} ({one.material}{tool}) took {used}; {expected} expected with waste, on {area}"


def _record(name: str, used: Sequence[str], option: str, as_json: bool, units: str) -> None:
    from render import record as book
    from render.commands.estimate import checked_units
    from render.job import load

    job = load(name)
    chosen = checked_units(units, job.file.units)
    offer = job.offer(option) if option else job.accepted
    records = used_records(job, offer, used)
    numbers = book.add(records)
    stored = [one for one in book.all_used() if one.id in numbers]
    if as_json:
        answer({"recorded": [_row(one) for one in stored]})
        return
    for one in stored:
        say(f"record {one.id}: {_used_words(one, chosen)}")
    say(f"kept in {book.path()}; take the last one back with: finishboard record --undo")


def used_records(job: Job, offer: Offer, used: Sequence[str]) -> list[Used]:
    """Return records for "NAME=VOLUME" words, NAME a layer, or a material over all layers that it is used in.

    A material's volume is shared out over its layers as they were expected to take it.

    Raises
    ------
    InputError
        With every word that cannot be read.
    """
    from render import units
    from render.faults import InputError

    found: list[Used] = []
    faults: list[str] = []
    for words in used:
        name, sign, text = words.rpartition("=")
        try:
            if not sign:
                raise ValueError('expected NAME=VOLUME, such as "top plaster=11.5 gal"')
            gallons = units.value(text.strip(), "volume")
            if gallons <= 0:
                raise ValueError("expected a volume above zero")
            found += _shared(job, offer, name.strip(), gallons)
        except ValueError as error:
            faults.append(f'--used "{words}": {error}')
    if faults:
        raise InputError(faults)
    return found


def _shared(job: Job, offer: Offer, name: str, gallons: float) -> list[Used]:
    """Return the records of one name: a layer's, or a material's over its layers."""
    from render.faults import nearest
    from render.layers.base import Laid
    from render.record import Used, tool_of

    laid = [(f, one) for f in offer.finishes for one in f.layers if isinstance(one, Laid)]
    chosen = [(f, one) for f, one in laid if one.name == name]
    chosen = chosen or [(f, one) for f, one in laid if one.material.name == name]
    if not chosen:
        known = sorted({one.name for _, one in laid} | {one.material.name for _, one in laid})
        raise ValueError(
            f'no layer or material "{name}" with a spread in option {offer.option.name}; {nearest(name, known)}'
        )
    waste = 1.0 + job.file.rates.waste
    expected = [one.amounts(offer.area(f)).product.likely * waste for f, one in chosen]
    whole = sum(expected)
    if whole <= 0:
        raise ValueError("nothing of it was expected, so there is nothing to compare with")
    return [
        Used(job.name, one.name, one.material.name, tool_of(one), offer.area(f), part, gallons * part / whole)
        for (f, one), part in zip(chosen, expected, strict=True)
        if part > 0
    ]


SheetFolder = Annotated[Path, typer.Option("-o", "--out", help="The folder to write the sheets to; made if missing.")]
PaperOption = Annotated[str, typer.Option("--paper", help="letter or a4.")]
SheetPpi = Annotated[float, typer.Option("--ppi", help="Pixels for each inch of wall in the pictures.")]
SheetWall = Annotated[
    str,
    typer.Option(
        "--sample", help="The piece of wall shown for each option, width x height.",
        show_default="4 ft x 4 ft, or 1.2 m x 1.2 m",
    ),
]  # fmt: skip
OnlyOption = Annotated[str, typer.Option("--only", help="client or site: one of the two sheets.")]
AsWritten = Annotated[bool, typer.Option("--as-written", help="Take the spreads as written, not corrected.")]


def sheets(
    job: JobArg,
    out: SheetFolder = Path(),
    paper: PaperOption = "letter",
    ppi: SheetPpi = 25.0,
    sample: SheetWall = "",
    only: OnlyOption = "",
    option: OptionOption = "",
    as_written: AsWritten = False,
    replace: ReplaceOption = False,
) -> None:
    """Write the client sheet and the site sheet of a job, each as HTML (one file) and as PDF."""
    from render.commands.estimate import job_estimate_of
    from render.sheets.handover import Wanted, write_all

    wanted = Wanted.checked(out, paper, ppi, sample, only, option, replace)
    got = job_estimate_of(job, as_written)
    bar = Bar()
    try:
        written = write_all(got, wanted, bar)
    finally:
        bar.close()
    for path in written:
        say(str(path))
