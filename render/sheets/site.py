"""The site sheet as PDF: the steps in order with a picture of the wall after each, mixes, times, tools and cautions."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import shorten
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import inch
from reportlab.platypus import CondPageBreak, HRFlowable, Indenter, KeepTogether, Spacer, Table, TableStyle

from render.sheets import paper as p
from render.sheets.content import Part, SiteSheet, Step
from render.sheets.lettering import QUIET, RULE

_PICTURE = 1.05 * inch
_ACROSS = 4
_FEW_MIXES = 4
_MIX_SIZE = 7.8


def pdf(sheet: SiteSheet, paper: p.Paper) -> bytes:
    """Return the site sheet as a PDF."""
    width = p.content_width(paper, wide=False)
    story: list[Any] = [*_head(sheet, width)]
    story += _cautions(sheet, width)
    for part in sheet.parts:
        story += _part(part, sheet, width)
    story += _lists(sheet, width)
    return p.make(story, paper, False, f"{sheet.title}: site sheet", "", lambda _: f"{sheet.title} · {sheet.option}")


def _heading(words: str) -> Any:
    return p.text(words, p.style(p.TITLE, 13, spaceBefore=10, spaceAfter=4))


def _head(sheet: SiteSheet, width: float) -> Iterator[Any]:
    """Yield title, option and the figures in short."""
    yield p.text(f"Site sheet · {sheet.today}", p.style(p.STRONG, 8, colour=p.ACCENT))
    yield p.text(sheet.title, p.style(p.TITLE, 19, leading=1.15))
    yield p.text(sheet.option, p.style(p.SERIF, 12))
    for line in sheet.site:
        yield p.text(line, p.style(p.TEXT, 9, colour=QUIET))
    yield Spacer(0, 5)
    yield HRFlowable(width="100%", thickness=0.6, color=HexColor(RULE), spaceAfter=7)
    look = p.style(p.TEXT, 8.8)
    label = p.style(p.STRONG, 7.6, colour=QUIET)
    cells = [[p.text(name, label), p.text(value, look)] for name, value in sheet.facts]
    rows = [cells[i : i + 3] for i in range(0, len(cells), 3)]
    rows = [row + [[]] * (3 - len(row)) for row in rows]
    yield p.bare(rows, [width / 3] * 3, gap=10)
    for line in sheet.notes:
        yield Spacer(0, 3)
        yield p.text(line, look)


def _cautions(sheet: SiteSheet, width: float) -> list[Any]:
    """Return the cautions in a box at the head, where they are read first."""
    if not sheet.cautions and not sheet.open_points:
        return []
    look = p.style(p.TEXT, 8.4)
    rows = []
    for title, causes, words in sheet.cautions:
        rows.append(
            [
                [
                    p.text(title, p.style(p.STRONG, 9)),
                    p.text(shorten(causes, 400, placeholder=" …"), p.style(p.TEXT, 7.4, colour=QUIET)),
                ],
                p.text(words, look),
            ]
        )
    for point in sheet.open_points:
        rows.append([[p.text("To be cleared", p.style(p.STRONG, 9))], p.text(point, look)])
    made = Table(rows, colWidths=[width * 0.27, width * 0.73])
    made.setStyle(
        TableStyle(
            [
                ("FONT", (0, 0), (-1, -1), p.TEXT),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("BACKGROUND", (0, 0), (-1, -1), HexColor(p.WASH)),
                ("LINEBEFORE", (0, 0), (0, -1), 2.5, HexColor(p.ACCENT)),
                ("LINEBELOW", (0, 0), (-1, -2), 0.3, HexColor(RULE)),
                ("TOPPADDING", (0, 0), (-1, -1), 4),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
                ("LEFTPADDING", (0, 0), (-1, -1), 8),
            ]
        )
    )
    return [_heading("Cautions"), made]


def _part(part: Part, sheet: SiteSheet, width: float) -> list[Any]:
    """Return a finish's steps."""
    quiet = p.style(p.TEXT, 8.4, colour=QUIET)
    head = [_heading(f"{part.finish}: the steps"), p.text(f"{part.area}: {part.walls}", quiet)]
    if part.watch:
        head.append(p.lead_and_text("Watch.", part.watch, p.style(p.TEXT, 8.8)))
    head.append(p.text(sheet.bucket, quiet))
    head.append(Spacer(0, 6))
    if not part.steps:
        return head
    first, *rest = (_step(one, width) for one in part.steps)
    kept = [KeepTogether([*head, first[0]]), *first[1:]]
    return kept + [piece for row, *more in rest for piece in (KeepTogether([row]), *more)]


def _step(step: Step, width: float) -> list[Any]:
    """Return one step: its picture beside name, figures, mixes and what comes after; many mixes follow beneath."""
    right = width - _PICTURE - 0.2 * inch
    body: list[Any] = [p.lead_and_text(f"{step.number}", step.name, p.style(p.TITLE, 11.5, leading=1.2))]
    warn = "  ·  ".join(filter(None, (step.kind, f"Caution: {', '.join(step.warn)}" if step.warn else "")))
    if warn:
        body.append(p.text(warn, p.style(p.TEXT, 8.2, colour=p.ACCENT if step.warn else QUIET)))
    body.append(Spacer(0, 2))
    body.append(_figures(step, right))
    few = len(step.mixes) <= _FEW_MIXES
    if step.mixes and few:
        body += [Spacer(0, 3), _mixes(step, right)]
    for words in (step.note, step.after):
        if words:
            body += [Spacer(0, 2), p.text(words, p.style(p.STRONG if words is step.after else p.TEXT, 8.4))]
    made = [p.picture(step.picture, _PICTURE, _PICTURE), Spacer(0, 7)]
    left = _PICTURE + 0.2 * inch
    row = p.bare([[made, [*body, Spacer(0, 8)]]], [left, right])
    return [row] if few else [row, Indenter(left), _mixes(step, right), Indenter(-left), Spacer(0, 10)]


def _mixes(step: Step, width: float) -> Any:
    """Return the table of a step's batches."""
    widths = [0.42 * inch, width * 0.29, 0.65 * inch, width * 0.71 - 1.07 * inch]
    rows = [(*told, _recipe(mix, widths[-1] - 12)) for *told, mix in step.mixes]
    return p.table(("Batch", "Walls", "Does", "Mix"), rows, widths, size=_MIX_SIZE)


def _recipe(mix: str, width: float) -> Any:
    """Return what goes into a batch: a few things in a line, more in two columns to be read one by one."""
    lines = mix.splitlines()
    if len(lines) < 2:
        return mix
    half, look = -(-len(lines) // 2), p.style(p.TEXT, _MIX_SIZE)
    halves = ("\n".join(lines[:half]), "\n".join(lines[half:]))
    return p.bare([[p.text(one, look) for one in halves]], [width / 2] * 2, gap=4)


def _figures(step: Step, width: float) -> Any:
    """Return the figures of a step in columns."""
    label, value = p.style(p.STRONG, 7, colour=QUIET, leading=1.2), p.style(p.TEXT, 8.4, leading=1.2)
    cells = [[p.text(name, label), p.text(words, value), Spacer(0, 2)] for name, words in step.facts]
    rows = [cells[i : i + _ACROSS] for i in range(0, len(cells), _ACROSS)] or [[]]
    rows = [row + [[]] * (_ACROSS - len(row)) for row in rows]
    return p.bare(rows, [width / _ACROSS] * _ACROSS, gap=6)


def _lists(sheet: SiteSheet, width: float) -> list[Any]:
    """Return walls, materials, days, protection and tools."""
    quiet = p.style(p.TEXT, 8, colour=QUIET)
    head = ("Room", "Wall", "Width × height", "Gross", "Openings", "Reveals", "Net")
    w = width
    walls = p.table(head, sheet.walls, [w * 0.17, w * 0.2, w * 0.21, *[w * 0.105] * 4], right=(3, 4, 5, 6))
    materials = p.table(
        ("Material", "Needed, with waste", "Buy", "Left over"), sheet.materials,
        [w * 0.24, w * 0.3, w * 0.3, w * 0.16], right=(1, 3),
    )  # fmt: skip
    days = p.table(("Day", "Time", "Where", "Work"), sheet.days, [w * 0.18, w * 0.13, w * 0.32, w * 0.37])
    covers = p.table(("Along", "Run-off", "Cover"), sheet.covers, [w * 0.5, w * 0.2, w * 0.3])
    parts: list[Any] = [CondPageBreak(1.2 * inch), _heading("Days"), days]
    parts.append(KeepTogether([_heading("Walls"), walls, p.text(sheet.measured, quiet)]))
    parts += [CondPageBreak(1.2 * inch), _heading("To have on site"), materials]
    if sheet.gallons:
        parts.append(p.text(sheet.gallons, quiet))
    parts += [Spacer(0, 4), p.lead_and_text("Tools.", ", ".join(sheet.tools) or "none listed", p.style(p.TEXT, 8.8))]
    if sheet.consumables:
        parts.append(p.lead_and_text("Used up.", "; ".join(sheet.consumables), p.style(p.TEXT, 8.8)))
    return [*parts, KeepTogether([_heading("Floor cover"), covers])]
