"""The client sheet as PDF: options side by side, large pictures, price, promises, and lines to sign.

Landscape, so that the pictures are as large as the paper allows; up to three options stand side by side.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import shorten
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import inch
from reportlab.platypus import CondPageBreak, HRFlowable, KeepTogether, PageBreak, Spacer

from render.sheets import paper as p
from render.sheets.content import LRV_NOTE, Card, ClientSheet, Shown
from render.sheets.lettering import QUIET, RULE

_ACROSS = 3
_GAP = 0.3 * inch
_LEAST = 1.4 * inch  # the smallest that a picture is made
_BELOW = 12.0  # points of room around the sentence under the options
_LEAST_COLOUR = 36.0  # points that a colour's words take
_SCALE = 13.0
_SMALL = 0.24  # of the column, for the further finishes of an option
_MOST_SMALL = 3


def pdf(sheet: ClientSheet, paper: p.Paper) -> bytes:
    """Return the client sheet as a PDF."""
    width, high = p.content_width(paper, wide=True), p.content_height(paper, wide=True)
    story: list[Any] = [*_head(sheet, width)]
    room = high - p.height_of(story, width)
    cards = sheet.cards
    for start in range(0, len(cards), _ACROSS):
        if start:
            story.append(PageBreak())
            room = high
        beneath = _beneath(sheet, width)
        story += _side_by_side(cards[start : start + _ACROSS], width, room - p.height_of([beneath], width) - _BELOW)
        story.append(beneath)
    story += _agreement(sheet, width)
    return p.make(story, paper, True, f"{sheet.title}: options", ", ".join(sheet.maker[:1]), lambda _: sheet.title)


def _beneath(sheet: ClientSheet, width: float) -> Any:
    """Return the line under the options: what governs, and what the figures under the colours mean."""
    promise = p.text(sheet.promise, p.style(p.STRONG, 8.8))
    note = p.text(LRV_NOTE, p.style(p.TEXT, 7.4, colour=QUIET, alignment=2))
    return p.bare([[promise, note]], [width * 0.42, width * 0.58])


def _head(sheet: ClientSheet, width: float) -> Iterator[Any]:
    """Yield the head of the first page: who it is for and from whom."""
    title = p.text(
        shorten(sheet.title, 160, placeholder=" …"), p.style(p.TITLE, _title_size(sheet.title), leading=1.15)
    )
    people = " · ".join(sheet.client[:1] + sheet.site[:1])
    left = [title, Spacer(0, 2), p.text(people, p.style(p.TEXT, 9, colour=QUIET))]
    quiet = p.style(p.TEXT, 8.4, colour=QUIET, alignment=2)
    strong = p.style(p.STRONG, 9, alignment=2)
    right = [p.text(sheet.maker[0], strong)] if sheet.maker else []
    right += [p.text(line, quiet) for line in (*sheet.maker[1:], sheet.today)]
    yield p.bare([[left, right]], [width * 0.7, width * 0.3])
    yield Spacer(0, 7)
    yield HRFlowable(width="100%", thickness=0.6, color=HexColor(RULE), spaceAfter=11)


def _title_size(title: str) -> float:
    """Return the size of a title's letters: a long one is set smaller, so that the pictures keep their room."""
    return 20.0 if len(title) <= 60 else 14.0


def _side_by_side(cards: Sequence[Card], width: float, room: float) -> list[Any]:
    """Return options beside each other, pictures as large as there is room; one alone has its figures beside."""
    if len(cards) == 1:
        return _alone(cards[0], width, room)
    column = min((width - _GAP * (len(cards) - 1)) / len(cards), 4.4 * inch)
    left = max(room - max(p.height_of([*_facts(card, column, column)], column) for card in cards), _LEAST)
    looks = [[*_pictures(card, column, left)] for card in cards]
    facts = [[*_facts(card, column, _looks_width(card, column, left))] for card in cards]
    widths = [column + _GAP] * (len(cards) - 1) + [column]
    return [p.bare([looks, facts], widths, _GAP), Spacer(0, 8)]


def _alone(card: Card, width: float, room: float) -> list[Any]:
    column = min(width * 0.58, room * card.shown[0].width_in / card.shown[0].height_in)
    right = width - column - _GAP
    looks = [*_pictures(card, column, room)]
    return [p.bare([[looks, [*_facts(card, right, right)]]], [column + _GAP, right], _GAP), Spacer(0, 8)]


def _fit(shown: Shown, width: float, tallest: float) -> tuple[float, float]:
    """Return width and height of a picture within a column."""
    height = width * shown.height_in / shown.width_in
    if height > tallest:
        return tallest * shown.width_in / shown.height_in, tallest
    return width, height


def _large(card: Card, width: float, room: float) -> tuple[float, float, float]:
    """Return width and height of an option's large picture, and the width of the small ones beside it."""
    first, *others = card.shown
    small = width * _SMALL if others else 0.0
    tallest = max(room - _SCALE - 12 * bool(others), _LEAST)
    return (*_fit(first, width - small - (8 if others else 0), tallest), small)


def _looks_width(card: Card, width: float, room: float) -> float:
    """Return how wide an option's pictures are together: its colours end where they end, but stay readable."""
    wide, _, small = _large(card, width, room)
    return max(wide + (8 + small if small else 0.0), min(width, _LEAST_COLOUR * len(card.shown[0].colours)))


def _pictures(card: Card, width: float, room: float) -> Iterator[Any]:
    """Yield an option's pictures within a height: the first large, further finishes of the option small beside it."""
    first, *others = card.shown
    wide, high, small = _large(card, width, room)
    made = p.picture(first.picture, wide, high)
    made.hAlign = "LEFT"
    large = [made, p.Scale(wide, wide * first.bar_share, first.bar_words, first.size)]
    if not others:
        yield from large
        return
    name = p.style(p.STRONG, 7, leading=1.15, spaceAfter=4)
    column: list[Any] = []
    for one in others[:_MOST_SMALL]:
        column += [p.picture(one.picture, *_fit(one, small, small)), p.text(shorten(one.finish, 24), name)]
    large.append(p.text(shorten(first.finish, 60), name))
    yield p.bare([[large, column]], [wide + 8, small])


def _facts(card: Card, width: float, colours: float) -> Iterator[Any]:
    """Yield what stands under an option's picture, its colours as wide as told."""
    quiet, body = p.style(p.TEXT, 8.2, colour=QUIET), p.style(p.TEXT, 8.6)
    first = card.shown[0]
    yield Spacer(0, 6)
    letter = f"Option {card.letter}".upper() if len(card.letter) == 1 else card.letter
    yield p.text(letter, p.style(p.STRONG, 7.6, colour=p.ACCENT))
    yield p.text(shorten(card.title, 90, placeholder=" …"), p.style(p.TITLE, 15, leading=1.2))
    if first.summary or card.note:
        yield Spacer(0, 2)
        yield p.text(shorten(card.note or first.summary, 260, placeholder=" …"), body)
    yield Spacer(0, 7)
    yield p.text(card.price, p.style(p.TEXT, 16, leading=1.25))
    yield p.text(" · ".join(one for one in (card.price_range, card.per_area) if one), quiet)
    yield p.text(card.time, quiet)
    if card.made:
        yield p.text(card.made, quiet)
    yield Spacer(0, 8)
    yield p.Swatches(colours, [(one.code, f"LRV {one.lrv}", one.words) for one in first.colours])
    yield Spacer(0, 5)
    yield p.Bar(colours, [(one.share, one.code) for one in first.shares])
    yield Spacer(0, 3)
    yield p.text(
        f"What one sees{card.of_first}: " + " · ".join(f"{one.words} {one.points}" for one in first.shares),
        p.style(p.TEXT, 7.4, colour=QUIET),
    )


def _agreement(sheet: ClientSheet, width: float) -> list[Any]:
    """Return rooms, promises and lines to sign."""
    heading = p.style(p.TITLE, 13, spaceAfter=4, spaceBefore=4)
    quiet = p.style(p.TEXT, 8, colour=QUIET)
    half = (width - 0.4 * inch) / 2
    rows = [*sheet.rooms, ("Together", "", sheet.room_total)]
    rooms = p.table(
        ("Room", "Walls", "Net area"), rows, [width * 0.36, width * 0.5, width * 0.14], right=(2,), size=8.8
    )
    promises = p.bare(
        [
            [
                [p.text("What we promise", heading), *p.bullets(sheet.promised, p.style(p.TEXT, 8.8))],
                [p.text("What nobody can promise", heading), *p.bullets(sheet.not_promised, p.style(p.TEXT, 8.8))],
            ]
        ],
        [half + 0.4 * inch, half],
        gap=0.2 * inch,
    )
    story: list[Any] = [CondPageBreak(4.0 * inch)] if len(sheet.cards) == 1 else [PageBreak()]
    story += [p.text("The walls", heading), rooms, Spacer(0, 4), p.text(f"{sheet.measured} {sheet.priced}", quiet)]
    if sheet.note:
        story += [Spacer(0, 4), p.text(sheet.note, p.style(p.TEXT, 8.8))]
    story += [Spacer(0, 8), KeepTogether([promises])]
    cautions = _cautions(sheet)
    if cautions:
        story += [KeepTogether([Spacer(0, 6), p.text("While we work", heading), *cautions])]
    story.append(KeepTogether([Spacer(0, 8), *_sign(sheet, width)]))
    return story


def _cautions(sheet: ClientSheet) -> list[Any]:
    """Return the cautions of all options, each once, with the options it belongs to."""
    from render.estimate.cautions import DEFER

    found: dict[tuple[str, str], list[str]] = {}
    sources: dict[str, None] = {}
    for card in sheet.cards:
        for title, body, source in card.cautions:
            found.setdefault((title, body), []).append(card.letter)
            sources[source] = None
    look = p.style(p.TEXT, 8.4, spaceAfter=2)
    several = len(sheet.cards) > 1
    lines: list[Any] = [
        p.lead_and_text(f"{title} ({', '.join(letters)})." if several else f"{title}.", body, look)
        for (title, body), letters in found.items()
    ]
    return (
        [*lines, p.text(f"{DEFER} Sources: {'; '.join(sources)}.", p.style(p.TEXT, 7.4, colour=QUIET))] if lines else []
    )


def _sign(sheet: ClientSheet, width: float) -> Iterator[Any]:
    """Yield the option to tick and the lines to sign."""
    yield HRFlowable(width="100%", thickness=0.6, color=HexColor(RULE), spaceAfter=6)
    yield p.text("Agreed", p.style(p.TITLE, 13, spaceAfter=3))
    yield p.text(sheet.promise, p.style(p.STRONG, 8.8, spaceAfter=7))
    if len(sheet.cards) > 1:
        ticks = [p.Tick(f"Option {card.letter}" if len(card.letter) == 1 else card.letter) for card in sheet.cards]
        across = 6
        rows = [ticks[i : i + across] for i in range(0, len(ticks), across)]
        rows = [row + [""] * (across - len(row)) for row in rows]  # type: ignore[list-item]
        yield p.bare(rows, [width / across] * across)
        yield Spacer(0, 8)
    fourth = (width - 3 * 0.25 * inch) / 4
    names = ("Sample approved, date and initials", "Client", "For the work", "Place and date")
    yield p.bare([[p.SignLine(fourth, one) for one in names]], [fourth + 0.25 * inch] * 3 + [fourth])
