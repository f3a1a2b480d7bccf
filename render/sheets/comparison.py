"""The comparison: pictures of one finish in rows and columns, what was changed under each, with its figures."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from PIL import Image, ImageDraw

from render.compare import Cell
from render.estimate import words
from render.estimate.batches import Units
from render.sheets.lettering import INK, PAPER, PROMISE, QUIET, Face, font, wrap, write
from render.sheets.preview_sheet import per_cent, where_words

_WIDEST = 900  # px for one cell
_MOST_NAMES = 3  # of finishes in a title
FIGURES = "Materials at the best price of the sizes sold, without waste. LRV: 0 is black, 100 white."


def heading(cells: Sequence[Cell], finish: str) -> str:
    """Return the sheet's title: the finish, or where finishes are compared their names, or how many they are."""
    names = list(dict.fromkeys(cell.setting.finish.name for cell in cells))
    if len(names) <= 1:
        return f"{names[0] if names else finish}, compared"
    if len(names) <= _MOST_NAMES:
        return f"{', '.join(names[:-1])} and {names[-1]}, compared"
    return f"{len(names)} finishes compared"


def _shares(cell: Cell, most: int) -> str:
    """Return the layers that one sees most of, in words; a line ends only between them."""
    lines = [line for line in cell.layers if line.visible_share >= 0.005]
    lines = sorted(lines, key=lambda line: -line.visible_share)[:most]
    told = (f"{line.name} {per_cent(line.visible_share)}".replace(" ", "\u00a0") for line in lines)
    return "seen: " + " · ".join(told)


def _figures(cell: Cell, units: Units, currency: str) -> str:
    """Return reflectance, volume and cost of the materials, and which have no price."""
    mixed, cost = sum(line.mixed_gal for line in cell.layers) / cell.site.area_ft2, cell.cost
    volume = f"{mixed * 128:.1f} fl oz/ft²"
    if units == "metric":
        volume = f"{mixed * words.LITRES_PER_GAL / words.M2_PER_FT2:.2f} L/m²"
        cost /= words.M2_PER_FT2
    price = f"materials {words.money(Decimal(f'{cost:.2f}'), currency)} per {words.area_unit(units)}"
    if cell.unpriced:
        price = f"{price} without {', '.join(cell.unpriced)}" if cell.cost else "no material has a price"
    return f"LRV {cell.lrv:.0f} · {volume} mixed · {price}"


def _scaled(cell: Cell) -> Image.Image:
    image = cell.image
    wide = min(_WIDEST, max(300, image.width))
    return image.resize((wide, max(1, round(image.height * wide / image.width))), Image.Resampling.LANCZOS)


def sheet(
    cells: list[Cell], title: str, across: int, units: Units = "imperial", currency: str = words.CURRENCY
) -> Image.Image:
    """Return one labelled sheet of a comparison's cells, ``across`` in a row."""
    pictures = [_scaled(cell) for cell in cells]
    wide, tall = max(p.width for p in pictures), max(p.height for p in pictures)
    unit = max(12, round(wide / 30))
    captions = [_caption(cell, unit, wide, units, currency) for cell in cells]
    gap, caption = round(1.6 * unit), round(0.4 * unit + 1.28 * unit * max(len(one) for one in captions))
    width, down = across * (wide + gap) + gap, -(-len(cells) // across)
    large = round(min(max(unit, width / 75), 2 * unit))  # the letters of head and foot: larger on a sheet of many
    foot = wrap(f"{PROMISE} {FIGURES}", "text", round(0.9 * large), width - 2 * gap)
    head, below = round(5.4 * large) + gap, round((1.28 * len(foot) + 1.2) * large)
    page = Image.new("RGB", (width, head + down * (tall + caption + gap) + below), PAPER)
    draw = ImageDraw.Draw(page)
    y = write(draw, (gap, gap), title, "title", 2 * large, width - 2 * gap, most=1)
    write(draw, (gap, y), _place(cells, units), "text", large, width - 2 * gap, colour=QUIET, most=1)
    for number, (lines, picture) in enumerate(zip(captions, pictures, strict=True)):
        left, top = gap + number % across * (wide + gap), head + number // across * (tall + caption + gap)
        page.paste(picture, (left, top))
        y = top + tall + 0.4 * unit
        for face, size, colour, line in lines:
            draw.text((left, y), line, fill=colour, font=font(face, size))
            y += 1.28 * size
    for number, line in enumerate(foot):
        y = page.height - below + 1.28 * large * number
        draw.text((gap, y), line, fill=QUIET, font=font("text", round(0.9 * large)))
    return page


def _place(cells: Sequence[Cell], units: Units) -> str:
    """Return wall, light and pour, as far as they are the same for all cells."""
    lights, pours = {one.setting.light for one in cells}, {one.setting.pour for one in cells}
    return where_words(cells[0].site, lights.pop() if len(lights) == 1 else None, pour=len(pours) == 1, units=units)


def _caption(cell: Cell, unit: int, width: float, units: Units, currency: str) -> list[tuple[Face, int, str, str]]:
    """Return the lines under a picture: what was changed, the figures, what is seen; each with face, size, colour."""
    told = " · ".join(cell.setting.labels) or cell.setting.finish.name
    small = round(0.9 * unit)
    parts: list[tuple[str, Face, int, str, int]] = [
        (told, "strong", unit, INK, 2),
        (_figures(cell, units, currency), "text", small, INK, 3),
        (_shares(cell, 5), "text", small, QUIET, 3),
    ]
    return [
        (face, size, colour, line)
        for text, face, size, colour, most in parts
        for line in wrap(text, face, size, width, most)
    ]
