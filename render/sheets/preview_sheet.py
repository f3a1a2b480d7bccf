"""The preview as it is shown: the wall, and beside it the layer list that made it."""

from __future__ import annotations

from PIL import Image, ImageDraw

from render import __version__, colour
from render.layers.base import Layer
from render.picture import LayerLine, Preview
from render.pipeline import Site
from render.sheets.lettering import INK, PAPER, PROMISE, QUIET, RULE, aside, font, wrap, write

_LONGEST = 2400  # px: a larger wall is scaled down for the sheet


def swatch(layer: Layer, mil: float) -> str | None:
    """Return the sRGB code of a layer's own colour over pale plaster at its film, or None if it leaves none."""
    optics = layer.optics()
    if optics is None:
        return None
    seen = colour.film_exact(colour.parse_colour("#e9e4d8"), *optics, max(mil, 0.5))
    return colour.hex_code(colour.to_linear_rgb(seen))


def per_cent(share: float) -> str:
    """Return a share in words: whole points, tenths below two."""
    points = share * 100.0
    return f"{points:.1f} %" if 0.0 < points < 2.0 else f"{points:.0f} %"


def volume(gallons: float) -> str:
    """Return a volume as a finisher measures it: gallons, or fluid ounces below a quart."""
    return f"{gallons:.2f} gal" if gallons >= 0.25 else f"{gallons * 128:.1f} fl oz"


def line_facts(line: LayerLine) -> str:
    """Return what stands under a layer's name: its words, coverage, film and volume."""
    facts = [line.words]
    if line.asked is not None and line.asked < 0.9995:
        facts.append(f"{per_cent(line.asked)} of the wall")
    if line.wet_mil > 0.005:
        facts.append(f"{line.wet_mil:.2g} mil wet" if line.wet_mil < 10 else f"{line.wet_mil:.0f} mil wet")
    if line.mixed_gal > 0:
        facts.append(volume(line.mixed_gal) + (" mixed" if line.water_gal > 0 else ""))
    return "  ·  ".join(facts)


def where_words(site: Site, light: str | None, pour: bool = True) -> str:
    """Return the line about wall, light and pour; no light where it is None, no pour where it varies."""
    size = f"{site.width_in / 12:.4g} ft x {site.height_in / 12:.4g} ft ({site.area_ft2:.4g} ft²)"
    return "  ·  ".join([size, *([light] if light else []), *([f"pour {site.pour}"] if pour else [])])


def _shown(image: Image.Image) -> Image.Image:
    scale = min(1.0, _LONGEST / max(image.size))
    if scale < 1.0:
        image = image.resize((round(image.width * scale), round(image.height * scale)), Image.Resampling.LANCZOS)
    low = 560
    if image.height < low:
        factor = low / image.height
        image = image.resize((round(image.width * factor), low), Image.Resampling.BICUBIC)
    return image


def sheet(preview: Preview) -> Image.Image:
    """Return the picture with its layer list beside it."""
    wall = _shown(preview.image)
    unit = wall.height / 60.0
    margin, column = round(2.2 * unit), round(31 * unit)
    page = Image.new("RGB", (wall.width + column + 3 * margin, wall.height + 2 * margin), PAPER)
    page.paste(wall, (margin, margin))
    draw = ImageDraw.Draw(page)
    x, y = wall.width + 2 * margin, float(margin)
    foot = _foot(draw, preview, x, page.height - margin, column, unit)
    y = _head(draw, preview, x, y, column, unit)
    _list(draw, preview, (x, y, column, foot - 0.8 * unit), unit)
    return page


def _head(draw: ImageDraw.ImageDraw, preview: Preview, x: float, y: float, width: float, unit: float) -> float:
    """Write the finish's name and summary; return the y below."""
    finish = preview.built.finish
    y = write(draw, (x, y - 0.5 * unit), finish.name, "title", round(2.5 * unit), width, most=2, leading=1.12)
    y = write(draw, (x, y + 0.5 * unit), finish.summary, "text", round(1.05 * unit), width, colour=QUIET, most=4)
    return y + 0.8 * unit


def _foot(draw: ImageDraw.ImageDraw, preview: Preview, x: float, bottom: float, width: float, unit: float) -> float:
    """Write wall, light, pour and the promise at the bottom; return the y above."""
    size = round(0.86 * unit)
    place = where_words(preview.built.site, preview.light)
    words = [*wrap(place, "text", size, width, 2), *wrap(PROMISE, "text", size, width, 2)]
    y = bottom - 1.3 * size * (len(words) + 1)
    top = y
    draw.line((x, y - 0.5 * size, x + width, y - 0.5 * size), fill=RULE, width=max(1, round(unit / 14)))
    for words_line in [*words, f"finishboard {__version__}"]:
        draw.text((x, y), words_line, fill=QUIET, font=font("text", size))
        y += 1.3 * size
    return top - 0.5 * size


def _list(draw: ImageDraw.ImageDraw, preview: Preview, box: tuple[float, float, float, float], unit: float) -> None:
    """Write the layer list into a box (x, y, width, bottom), smaller when there are many layers."""
    x, y, width, bottom = box
    rows = preview.layers
    step = min(4.2 * unit, (bottom - y) / max(1, len(rows)))
    size = max(7, round(min(1.12 * unit, 0.4 * step)))
    lines = 2 if step > 3.3 * size else 1
    for number, (line, layer) in enumerate(zip(rows, preview.built.finish.layers, strict=True), 1):
        _row(draw, number, line, swatch(layer, line.wet_mil), (x, y, width), size, lines)
        y += step


def _row(
    draw: ImageDraw.ImageDraw,
    number: int,
    line: LayerLine,
    colour_code: str | None,
    box: tuple[float, float, float],
    size: int,
    lines: int,
) -> None:
    """Write one layer: number, colour, name, facts, and how much of it is seen."""
    x, y, width = box
    draw.text((x, y), f"{number}", fill=QUIET, font=font("text", size))
    left = x + 2.0 * size
    if colour_code:
        draw.rectangle((left, y + 0.2 * size, left + 0.9 * size, y + 1.1 * size), fill=colour_code, outline=RULE)
    left += 1.6 * size
    seen = f"{per_cent(line.visible_share)} seen" if line.visible_share >= 0.0005 else ""
    room = aside(draw, x + width, y, seen, "text", size, QUIET) if seen else 0.0
    name = wrap(line.name, "strong", size, x + width - left - room - size, 1)[0]
    draw.text((left, y), name, fill=INK, font=font("strong", size))
    small = max(7, round(0.86 * size))
    write(draw, (left, y + 1.25 * size), line_facts(line), "text", small, x + width - left, colour=QUIET, most=lines)
