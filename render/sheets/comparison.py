"""The comparison: pictures of one finish in rows and columns, what was changed under each, with its figures."""

from __future__ import annotations

from PIL import Image, ImageDraw

from render.compare import Cell
from render.sheets.lettering import INK, PAPER, PROMISE, QUIET, font, write
from render.sheets.preview_sheet import per_cent, where_words

_WIDEST = 900  # px for one cell


def _shares(cell: Cell, most: int) -> str:
    """Return the layers that one sees most of, in words."""
    lines = [line for line in cell.layers if line.visible_share >= 0.005]
    lines = sorted(lines, key=lambda line: -line.visible_share)[:most]
    return "  ·  ".join(f"{line.name} {per_cent(line.visible_share)}" for line in lines)


def _figures(cell: Cell) -> str:
    mixed = sum(line.mixed_gal for line in cell.layers)
    area = cell.site.area_ft2
    return f"LRV {cell.lrv:.0f}  ·  {mixed / area * 128:.1f} fl oz/ft² mixed  ·  materials {cell.cost:.2f} per ft²"


def _scaled(cell: Cell) -> Image.Image:
    image = cell.image
    wide = min(_WIDEST, max(300, image.width))
    return image.resize((wide, max(1, round(image.height * wide / image.width))), Image.Resampling.LANCZOS)


def sheet(cells: list[Cell], title: str, across: int) -> Image.Image:
    """Return one labelled sheet of a comparison's cells, ``across`` in a row."""
    pictures = [_scaled(cell) for cell in cells]
    wide, tall = max(p.width for p in pictures), max(p.height for p in pictures)
    unit = max(12, round(wide / 30))
    gap, caption, head = round(1.6 * unit), round(8.2 * unit), round(7 * unit)
    down = -(-len(cells) // across)
    page = Image.new("RGB", (across * (wide + gap) + gap, head + down * (tall + caption + gap) + 3 * unit), PAPER)
    draw = ImageDraw.Draw(page)
    y = write(draw, (gap, gap), title, "title", 2 * unit, page.width - 2 * gap, most=1)
    lights, pours = ({one.setting.light for one in cells}, {one.setting.pour for one in cells})
    place = where_words(cells[0].site, lights.pop() if len(lights) == 1 else None, pour=len(pours) == 1)
    write(draw, (gap, y), place, "text", unit, page.width - 2 * gap, colour=QUIET, most=1)
    for number, (cell, picture) in enumerate(zip(cells, pictures, strict=True)):
        left, top = gap + number % across * (wide + gap), head + number // across * (tall + caption + gap)
        page.paste(picture, (left, top))
        _caption(draw, cell, (left, top + tall + 0.4 * unit, wide), unit)
    draw.text((gap, page.height - 2 * unit), PROMISE, fill=QUIET, font=font("text", round(0.9 * unit)))
    return page


def _caption(draw: ImageDraw.ImageDraw, cell: Cell, box: tuple[float, float, float], unit: int) -> None:
    """Write what was changed, what is seen, and the figures."""
    x, y, width = box
    words = "  ·  ".join(cell.setting.labels) or cell.setting.finish.name
    small = round(0.9 * unit)
    y = write(draw, (x, y), words, "strong", unit, width, colour=INK, most=2)
    y = write(draw, (x, y), _figures(cell), "text", small, width, colour=INK, most=1)
    write(draw, (x, y), _shares(cell, 5), "text", small, width, colour=QUIET, most=3)
