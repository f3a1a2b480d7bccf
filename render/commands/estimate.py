"""``estimate``: what a finish takes on a wall, or what a job takes, costs and how long."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import count
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from render.commands.options import Bar, JsonOption, answer

if TYPE_CHECKING:
    from render.estimate.job_estimate import JobEstimate, OfferEstimate
    from render.estimate.quantities import FinishEstimate, LayerLine, MaterialLine
    from render.finish import Finish
    from render.job import Job

WhatArg = Annotated[
    str, typer.Argument(metavar="FINISH|JOB", help="A finish file or shipped finish, or a job file (one with rooms).")
]
WallOption = Annotated[
    str, typer.Option("--wall", help="For a finish: width x height, such as '12 ft x 8 ft'. Default 4 ft x 4 ft.")
]
WasteOption = Annotated[
    str, typer.Option("--waste", help="For a finish: share added to what is bought, such as '12 %'. Default 10 %.")
]
BuyOption = Annotated[
    str, typer.Option("--buy", help="For a finish: the end of the range that is bought, low, likely or high.")
]
UnitsOption = Annotated[
    str, typer.Option("--units", help="imperial or metric. Default: the job's own, or those of --wall.")
]
CurrencyOption = Annotated[
    str, typer.Option("--currency", help="For a finish: what the prices on your shelf are in. Default $.")
]
CsvOption = Annotated[bool, typer.Option("--csv", help="Print the lines as CSV: group, item, unit, low, likely, high.")]
PlainOption = Annotated[
    bool, typer.Option("--as-written", help="Take the spreads as written, not corrected by what earlier jobs used.")
]

Row = tuple[str, str, str, str, str, float, float, float]
_ROOMY = 112  # letters in a line from which numbers are not broken
_HEAD = ("option", "group", "item", "detail", "unit", "low", "likely", "high")


def estimate(
    what: WhatArg,
    wall: WallOption = "",
    waste: WasteOption = "",
    buy: BuyOption = "high",
    units: UnitsOption = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    as_written: PlainOption = False,
    currency: CurrencyOption = "",
) -> None:
    """Estimate a finish on a wall (materials and containers), or a whole job (also hours, days and price)."""
    from render.job import is_job

    if is_job(what):
        _refuse_for_job(wall, waste, buy, currency)
        _job(what, units, as_json, as_csv, as_written)
    else:
        _finish(what, wall, waste, buy, units, as_json, as_csv, as_written, currency)


def _refuse_for_job(wall: str, waste: str, buy: str, currency: str) -> None:
    """Refuse options that a job file answers itself."""
    from render.faults import InputError

    own = (("--wall", wall), ("--waste", waste), ("--buy", buy != "high"), ("--currency", currency))
    given = [name for name, on in own if on]
    if given:
        raise InputError([f"{name}: a job file states this itself (currency, [rates], rooms)" for name in given])


def checked_units(units: str, default: str) -> Literal["imperial", "metric"]:
    """Return the units asked for, or the default.

    Raises
    ------
    InputError
        If they are not known.
    """
    from render.faults import InputError

    chosen = units or default
    if chosen not in ("imperial", "metric"):
        raise InputError([f'--units = "{units}": expected imperial or metric'])
    return "metric" if chosen == "metric" else "imperial"


# --- a finish ------------------------------------------------------------------------------------------------------


def _finish_options(wall: str, waste: str, buy: str) -> tuple[float, float, Any]:
    """Return net area in ft², waste and the end to buy, all faults at once."""
    from render import units
    from render.estimate.quantities import WASTE
    from render.faults import InputError

    faults, area, share = [], 16.0, WASTE
    try:
        height, width = units.rectangle(wall or "4 ft x 4 ft")
        area = height * width / units.IN2_PER_FT2
    except ValueError as error:
        faults.append(f'--wall = "{wall}": {error}')
    try:
        share = units.value(waste, "share") if waste else WASTE
        if not 0 <= share <= 5:
            raise ValueError("expected 0 to 500 %")
    except ValueError as error:
        faults.append(f'--waste = "{waste}": {error}')
    if buy not in ("low", "likely", "high"):
        faults.append(f'--buy = "{buy}": expected low, likely or high')
    if faults:
        raise InputError(faults)
    return area, share, buy


def _finish(
    what: str, wall: str, waste: str, buy: str, units: str, as_json: bool, as_csv: bool, as_written: bool, currency: str
) -> None:
    from render import record
    from render.estimate import words
    from render.estimate.quantities import finish_estimate
    from render.finish import load

    area, share, end = _finish_options(wall, waste, buy)
    chosen = checked_units(units, words.units_of(wall))
    finish = load(what)
    records = [] if as_written else record.all_used()
    found = record.corrections_for(finish.layers, records)
    got = finish_estimate(record.corrected(finish, found), area, share, end)
    if as_json:
        answer({**got.as_dict(), "corrections": [one.as_dict() for one in found.values()]})
    elif as_csv:
        _print_csv([*_layer_rows("", got.layers), *_material_rows("", got.materials)], chosen)
    else:
        _show_finish(got, chosen, [one.words() for one in found.values()], currency or words.CURRENCY)


def _show_finish(
    got: FinishEstimate, units: Literal["imperial", "metric"], learnt: Sequence[str], currency: str
) -> None:
    from render.estimate import words
    from render.estimate.quantities import WASTE, WASTE_NOTE

    paper = _paper()
    paper.print(f"{got.finish} on {words.area(got.area_ft2, units)}\n")
    paper.print(_layers_table(got.layers, units))
    paper.print(_materials_table(got.materials, units, currency))
    note = f" ({WASTE_NOTE})" if got.waste == WASTE else ""
    paper.print(f"Bought for the {got.buy} end of the range with {words.per_cent(got.waste)} waste{note}.")
    for line in learnt:
        paper.print(f"Corrected: {line}")
    if units == "imperial":
        paper.print(words.US_GALLONS)
    _tell_unpriced(paper, got.unpriced)


# --- a job ---------------------------------------------------------------------------------------------------------


def job_estimate_of(name: str, as_written: bool, units: str = "") -> JobEstimate:
    """Return the estimate of a job file, its spreads corrected by earlier jobs unless told otherwise.

    ``units``, where given, stand in for the job's own.

    Raises
    ------
    InputError
        If the job cannot be read, or the units are not known.
    """
    from dataclasses import replace

    from render import record
    from render.estimate.job_estimate import job_estimate
    from render.job import load, with_finishes

    job = load(name)
    chosen = checked_units(units, job.file.units)
    job = replace(job, file=job.file.model_copy(update={"units": chosen}))
    layers = [one for offer in job.offers for finish in offer.finishes for one in finish.layers]
    found = record.corrections_for(layers, [] if as_written else record.all_used())
    job = with_finishes(job, lambda one: record.corrected(one, found))
    bar = Bar()
    try:
        return job_estimate(job, _told_run_off(job, bar), tuple(found.values()))
    finally:
        bar.close()


def _told_run_off(job: Job, bar: Bar) -> Callable[[Finish, float], float]:
    """Return the run-off of a draft rendering that tells which finish it is at."""
    from render.estimate.protection import rendered_run_off

    total = sum(len(offer.finishes) for offer in job.offers)
    begun = count()

    def run_off(finish: Finish, height_in: float) -> float:
        bar(next(begun), total, f"{finish.name}: what runs off")
        return rendered_run_off(finish, height_in)

    return run_off


def _job(name: str, units: str, as_json: bool, as_csv: bool, as_written: bool) -> None:
    got = job_estimate_of(name, as_written, units)
    chosen = got.job.file.units
    if as_json:
        answer(got.as_dict())
    elif as_csv:
        _print_csv(_job_rows(got), chosen)
    else:
        _show_job(got, chosen)


def _show_job(got: JobEstimate, units: Literal["imperial", "metric"]) -> None:
    from render.estimate import words
    from render.job import MEASURE_WORDS

    file, paper = got.job.file, _paper()
    paper.print(f"{file.name}\n")
    paper.print(_walls_table(got, units))
    paper.print(f"Measured: {MEASURE_WORDS[file.measure]}.\n")
    for one in got.offers:
        _show_offer(paper, one, units)
    if len(got.offers) > 1:
        paper.print(_compared(got, units))
    for line in got.corrections:
        paper.print(f"Corrected: {line.words()}")
    rates = file.rates
    paper.print(
        f"Bought for the {rates.buy} end of the range with {words.per_cent(rates.waste)} waste. Hours are direct "
        "labour in person-hours; overhead stands apart."
    )
    if units == "imperial":
        paper.print(words.US_GALLONS)


def _show_offer(paper: Any, one: OfferEstimate, units: Literal["imperial", "metric"]) -> None:
    from render.estimate import words
    from render.estimate.labour import NOTE, NOTE_WORDS

    currency = one.job.file.currency
    paper.print(f"Option {one.offer.option.name}: {one.offer.title}, {words.area(one.offer.area(), units)} net\n")
    for part in one.parts:
        if len(one.parts) > 1:
            paper.print(f"{part.finish.name}, {words.area(part.area_ft2, units)}")
        paper.print(_layers_table(part.layers, units))
    paper.print(_materials_table(one.materials, units, currency))
    paper.print(_batches_table(one, units))
    paper.print(_hours_table(one))
    if any(line.source == NOTE for line in one.hours):
        paper.print(f"{NOTE_WORDS}\n")
    paper.print(_schedule_table(one))
    paper.print(_cover_table(one, units))
    paper.print(f"Tools: {words.in_units(', '.join(one.tools), units) or 'none listed'}.\n")
    paper.print(_price_table(one, units))
    _tell_unpriced(paper, one.price.unpriced)
    for caution in one.cautions:
        paper.print(f"Caution, {caution.title} ({'; '.join(caution.causes)}): {caution.full}")
    for point in one.open_points:
        paper.print(f"Open: {point}")
    paper.print("")


def _tell_unpriced(paper: Any, names: Sequence[str]) -> None:
    if names:
        paper.print(f"Without a price, and so not in the total: {', '.join(names)}.")


# --- tables --------------------------------------------------------------------------------------------------------


def _width() -> int:
    """Return how many letters stand in a line: the terminal's, at least 80; 118 in a file."""
    import shutil
    import sys

    return max(80, shutil.get_terminal_size((118, 40)).columns) if sys.stdout.isatty() else 118


def _paper() -> Any:
    """Return a console that prints what it is told and reads no marks in it."""
    from rich.console import Console

    return Console(width=_width(), markup=False, highlight=False, emoji=False, soft_wrap=False)


def _table(title: str, *columns: str) -> Any:
    """Return an empty table; a column whose heading starts with ">" is set right, in a wide line without breaks."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(title=Text(title), title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False)
    for name in columns:
        right = name.startswith(">")
        whole = right and _width() >= _ROOMY
        table.add_column(Text(name.lstrip(">")), justify="right" if right else "left", no_wrap=whole, overflow="fold")
    return table


def _add(table: Any, *cells: str) -> None:
    from rich.text import Text

    table.add_row(*(Text(one) for one in cells))


def _layers_table(lines: Sequence[LayerLine], units: Literal["imperial", "metric"]) -> Any:
    from render.estimate.words import in_units, volumes

    table = _table("Layers", ">", "layer", "tool", ">product", ">water", ">mixed")
    for number, one in enumerate(lines, 1):
        cells = [volumes(span, units) for span in (one.product, one.water, one.mixed)]
        _add(table, str(number), one.name, in_units(one.tool, units), *cells)
    return table


def _materials_table(lines: Sequence[MaterialLine], units: Literal["imperial", "metric"], currency: str) -> Any:
    from decimal import Decimal

    from render.estimate import words
    from render.estimate.price import cents

    table = _table("Materials", "material", ">on the wall", ">with waste", "buy", ">left over", ">price")
    for one in lines:
        bought = one.purchase
        left = words.left_over(bought.leftover, units) if bought and bought.items else "—"
        price = words.money(cents(bought.cost), currency) if bought and bought.cost is not None else "—"
        buy = "from the tap" if one.is_water else words.bought(bought, units)
        _add(table, one.name, words.volumes(one.net, units), words.volumes(one.with_waste, units), buy, left, price)
    sums = [cents(one.purchase.cost) for one in lines if one.purchase and one.purchase.cost is not None]
    table.add_section()
    _add(table, "total", "", "", "", "", words.money(sum(sums, Decimal(0)), currency))
    return table


def _walls_table(got: JobEstimate, units: Literal["imperial", "metric"]) -> Any:
    from render.estimate import words

    table = _table("Walls", "room", "wall", ">width", ">height", ">gross", ">deducted", ">reveals", ">net")
    walls = got.job.offers[0].walls
    for one in walls:
        sizes = [words.length(one.wall.width, units), words.height(one.wall, units)]
        areas = [words.some_area(a, units) for a in (one.area.gross, one.area.deducted, one.area.added, one.area.net)]
        _add(table, one.room.name, one.wall.name, *sizes, *areas)
    table.add_section()
    sums = [sum(getattr(one.area, key) for one in walls) for key in ("gross", "deducted", "added", "net")]
    _add(table, "total", "", "", "", *(words.area(one, units) for one in sums))
    return table


def _batches_table(one: OfferEstimate, units: Literal["imperial", "metric"]) -> Any:
    from render.estimate import words
    from render.estimate.batches import measure

    bucket = measure(one.job.file.work.bucket, units)
    title = f"Batches (a bucket holds {bucket}; a wall that takes more gets several)"
    table = _table(title, "layer", ">batch", "walls", ">does", "recipe")
    places = {place.label: (place.room.name, place.wall.name) for place in one.offer.walls}
    for part in one.parts:
        for mix in part.mixes:
            for number, batch in enumerate(mix.batches, 1):
                recipe = " + ".join(f"{measure(gal, units)} {name}" for name, gal in batch.recipe.items())
                more = f", in {batch.buckets} buckets poured into each other" if batch.buckets > 1 else ""
                which = f"{number} of {len(mix.batches)}"
                walls = words.walls(places[one] for one in batch.walls) if len(mix.batches) > 1 else "all walls"
                _add(table, mix.layer, which, walls, words.area(batch.area_ft2, units), recipe + more)
    return table


def _hours_table(one: OfferEstimate) -> Any:
    from render.estimate import words
    from render.estimate.labour import NOTE
    from render.units import Span

    table = _table("Direct labour", "work", "reckoned", ">hours", "rate from")
    for line in one.hours:
        _add(table, line.what, line.detail, words.hours(line.hours), "example" if line.source == NOTE else line.source)
    table.add_section()
    _add(table, "total", "", words.hours(Span(*one.labour_hours)), "")
    return table


def _schedule_table(one: OfferEstimate) -> Any:
    from render.estimate.schedule import grouped

    plan = one.schedule
    low, likely, high = one.days
    days = f"{likely} working days" + (f" ({low}–{high})" if low != high else "")
    table = _table(f"Schedule: {days}", "day", "time", "where", "work")
    for row in grouped(plan):
        _add(table, *row)
    return table


def _cover_table(one: OfferEstimate, units: Literal["imperial", "metric"]) -> Any:
    from render.estimate import words

    table = _table("Floor cover", "along", ">run-off", ">length", ">width")
    for cover in one.covers:
        run = words.volume(cover.run_off_floz / 128.0, units) if cover.run_off_floz > 0.05 else "none"
        _add(table, cover.wall, run, *(words.length(feet * 12, units) for feet in (cover.length_ft, cover.width_ft)))
    return table


def _price_table(one: OfferEstimate, units: Literal["imperial", "metric"]) -> Any:
    from render.estimate import words

    currency = one.job.file.currency
    table = _table("Price", "group", "line", "reckoned", ">low", ">likely", ">high")
    for line in one.price.lines:
        sums = (words.money(value, currency) for value in (line.money.low, line.money.likely, line.money.high))
        _add(table, line.group, line.what if line.what != line.group else "", line.detail, *sums)
    table.add_section()
    per = f"per {words.area_unit(units)}"
    for name, value in (("total", one.price.total), (per, one.price.per_area(units))):
        _add(table, name, "", "", *(words.money(v, currency) for v in (value.low, value.likely, value.high)))
    return table


def _compared(got: JobEstimate, units: Literal["imperial", "metric"]) -> Any:
    from render.estimate import words
    from render.units import Span

    currency = got.job.file.currency
    per = f">per {words.area_unit(units)}"
    table = _table("Options", "option", ">net", ">hours", ">days", ">low", ">likely", ">high", per)
    for one in got.offers:
        sums = one.price.total
        money = [words.money(value, currency) for value in (sums.low, sums.likely, sums.high)]
        hours, days = words.hours(Span(*one.labour_hours)), f"{one.days[1]}"
        name = f"{one.offer.option.name}  {one.offer.title}"
        each = words.money(one.price.per_area(units).likely, currency)
        _add(table, name, words.area(one.offer.area(), units), hours, days, *money, each)
    return table


# --- CSV -----------------------------------------------------------------------------------------------------------


def _layer_rows(option: str, lines: Sequence[LayerLine]) -> Iterator[Row]:
    for one in lines:
        for what, span in (("product", one.product), ("water", one.water), ("mixed", one.mixed)):
            yield option, "layer", one.name, what, "US gal", span.low, span.likely, span.high


def _material_rows(option: str, lines: Sequence[MaterialLine]) -> Iterator[Row]:
    for one in lines:
        for what, span in (("on the wall", one.net), ("with waste", one.with_waste)):
            yield option, "material", one.name, what, "US gal", span.low, span.likely, span.high
        for item in one.purchase.items if one.purchase else ():
            yield option, "buy", one.name, item.label, "containers", item.count, item.count, item.count


def _job_rows(got: JobEstimate) -> Iterator[Row]:
    for one in got.job.offers[0].walls:
        for what in ("gross", "deducted", "added", "net"):
            value = getattr(one.area, what)
            yield "", "wall", one.label, what, "ft2", value, value, value
    for offer in got.offers:
        name = offer.offer.option.name
        for part in offer.parts:
            yield from _layer_rows(name, part.layers)
        yield from _material_rows(name, offer.materials)
        for line in offer.hours:
            yield name, "hours", line.what, line.detail, "h", line.hours.low, line.hours.likely, line.hours.high
        yield name, "days", "working days", "", "days", *offer.days
        for cost in offer.price.lines:
            sums = (float(cost.money.low), float(cost.money.likely), float(cost.money.high))
            yield name, f"price: {cost.group}", cost.what, cost.detail, got.job.file.currency, *sums
        whole = offer.price.total
        ends = (float(whole.low), float(whole.likely), float(whole.high))
        yield name, "price: total", "total", "", got.job.file.currency, *ends


def _print_csv(rows: Iterable[Row], units: Literal["imperial", "metric"]) -> None:
    """Print rows as CSV; text that a spreadsheet would run as a formula is set off with an apostrophe."""
    import csv
    import sys

    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(_HEAD)
    for row in map(_in_metric, rows) if units == "metric" else rows:
        out.writerow([_harmless(cell) if isinstance(cell, str) else f"{cell:.10g}" for cell in row])


def _in_metric(row: Row) -> Row:
    """Return a row with litres for gallons and square metres for square feet."""
    from render.estimate import words

    *told, unit, low, likely, high = row
    to, times = {"US gal": ("L", words.LITRES_PER_GAL), "ft2": ("m2", words.M2_PER_FT2)}.get(unit, (unit, 1.0))
    return (*told, to, low * times, likely * times, high * times)  # type: ignore[return-value]


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t") else cell
