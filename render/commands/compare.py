"""``compare``: one sheet on which one or two things change from picture to picture."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Annotated, Any

import typer

from render.commands import options as o

Vary = Annotated[
    list[str], typer.Option("--vary", help="LAYER.KEY=VALUE,VALUE..., or pour=, light=, finish=; at most twice.")
]
SchedulerOption = Annotated[
    str, typer.Option("--scheduler", metavar="ADDRESS", help="A Dask scheduler whose workers render the cells.")
]
CurrencyOption = Annotated[str, typer.Option("--currency", help="What the prices on your shelf are in.")]
CsvOption = Annotated[Path | None, typer.Option("--csv", help="Also write the figures as CSV.")]


def compare(
    finish: o.FinishArg,
    vary: Vary,
    wall: o.WallOption = "4 ft x 4 ft",
    ppi: o.PpiOption = 12.5,
    pour: o.PourOption = 1,
    light: o.LightOption = "",
    out: o.OutOption = None,
    as_json: o.JsonOption = False,
    csv_out: CsvOption = None,
    draft: o.DraftOption = False,
    scheduler: SchedulerOption = "",
    currency: CurrencyOption = "$",
    replace: o.ReplaceOption = False,
) -> None:
    """Render alternatives side by side: same wall, same pour, so that only the change differs."""
    from render import compare as comparing
    from render import files, picture
    from render.estimate import words
    from render.faults import InputError
    from render.finish import load
    from render.sheets.comparison import heading, sheet

    opened = load(finish)
    if len(vary) > 2:
        raise InputError([f"--vary is given {len(vary)} times; expected one or two"])
    ways = [comparing.parse_way(text, opened) for text in vary]
    finishes = any(way.key == "finish" and not way.layer for way in ways)
    target = o.named(out, "finishes comparison" if finishes else f"{opened.name} comparison", ".png")
    o.check_picture(target, replace)
    if csv_out is not None:
        files.check_target(csv_out, replace)
    bar = o.Bar()
    try:
        cells = comparing.compare(
            opened, ways, wall=wall, ppi=o.draft_ppi(ppi, draft), pour=pour,
            light=light or picture.DEFAULT_LIGHT, progress=bar, scheduler=scheduler,
        )  # fmt: skip
    finally:
        bar.close()
    across = len(ways[-1].values) if len(ways) == 2 else min(4, len(cells))
    title = heading(cells, opened.name)
    page = sheet(cells, title, across, words.units_of(wall), currency)
    files.write(target, lambda stream: page.save(stream, "PNG", pnginfo=files.png_mark(opened.name)))
    if csv_out is not None:
        files.write_text(csv_out, _csv(comparing.table(cells)))
    if as_json:
        own = {"finish": opened.name, "wall": wall, "pour": pour, "currency": currency}
        o.answer({**own, "cells": [cell.to_dict() for cell in cells]})
    else:
        o.say(f"{target}: {title}, {words.count(len(cells), 'cell')}")


def _csv(rows: list[dict[str, Any]]) -> str:
    """Return rows as CSV with every column that any row has."""
    columns = list(dict.fromkeys(key for row in rows for key in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
