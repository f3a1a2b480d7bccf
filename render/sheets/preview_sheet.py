"""The preview as it is shown: the wall, and beside it the layer list that made it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PIL import Image, ImageDraw

from render import __version__, colour
from render.estimate import words
from render.layers.base import Layer
from render.picture import LayerLine, Preview
from render.pipeline import Site
from render.sheets.lettering import INK, PAPER, PROMISE, QUIET, RULE, aside, font, wrap, write

if TYPE_CHECKING:
    from render.estimate.batches import Units

_LONGEST = 2400  # px: a larger wall is scaled down for the sheet
FIGURES = "Films are means while wet, volumes as mixed, for this wall."


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


def own_words(line: LayerLine | Layer, units: Units = "imperial") -> str:
    """Return a layer's words, or nothing where they only repeat its name."""
    told = line.words if isinstance(line, LayerLine) else line.words()
    return "" if told.lower() == line.name.lower() else words.in_units(told.removeprefix(f"{line.name}, "), units)


def share_of_wall(asked: float | None) -> str:
    """Return the coverage asked where it is not the whole wall."""
    return f"{per_cent(asked)} of the wall" if asked is not None and asked < 0.9995 else ""


def line_facts(line: LayerLine, units: Units = "imperial") -> tuple[str, str, str, str]:
    """Return what stands under a layer's name: its words, coverage, mean film while wet, and volume as mixed.

    What does not apply, or is too little to be measured, is empty.
    """
    told = own_words(line, units)
    share = "" if "of the wall" in told else share_of_wall(line.asked)
    volume = words.volume(line.mixed_gal, units) if line.mixed_gal * 768 >= 0.05 else ""
    return told, share, words.film(line.wet_mil, units), volume


def fitting(facts: tuple[str, str, str, str], size: int, width: float, lines: int) -> str:
    """Return the facts that there is room for: the film is left out first, then the volume, then the coverage."""
    told = ""
    for kept in ((0, 1, 2, 3), (0, 1, 3), (0, 1), (0,)):
        told = "  ·  ".join(facts[n] for n in kept if facts[n])
        if len(wrap(told, "text", size, width)) <= lines:
            break
    return told


def where_words(site: Site, light: str | None, pour: bool = True, units: Units = "imperial") -> str:
    """Return the line about wall, light and pour; no light where it is None, no pour where it varies."""
    scale, unit = (0.0254, "m") if units == "metric" else (1 / 12, "ft")
    size = f"{site.width_in * scale:.4g} × {site.height_in * scale:.4g} {unit}"
    area = f"{site.area_ft2 * (words.M2_PER_FT2 if units == 'metric' else 1.0):.3g} {words.area_unit(units)}"
    told = light.replace(" deg", "°") if light else ""
    return "  ·  ".join(filter(None, (f"{size} ({area})", told, f"pour {site.pour}" if pour else "")))


def _shown(image: Image.Image) -> Image.Image:
    scale = min(1.0, _LONGEST / max(image.size))
    if scale < 1.0:
        image = image.resize((round(image.width * scale), round(image.height * scale)), Image.Resampling.LANCZOS)
    low = 560
    if image.height < low:
        factor = low / image.height
        image = image.resize((round(image.width * factor), low), Image.Resampling.BICUBIC)
    return image


def sheet(preview: Preview, units: Units = "imperial") -> Image.Image:
    """Return the picture with its layer list beside it, in the units asked for."""
    wall = _shown(preview.image)
    unit = wall.height / 60.0
    margin, column = round(2.2 * unit), round(31 * unit)
    page = Image.new("RGB", (wall.width + column + 3 * margin, wall.height + 2 * margin), PAPER)
    page.paste(wall, (margin, margin))
    draw = ImageDraw.Draw(page)
    x, y = wall.width + 2 * margin, float(margin)
    place = where_words(preview.built.site, preview.light, units=units)
    foot = _foot(draw, place, x, page.height - margin, column, unit)
    y = _head(draw, preview, x, y, column, unit)
    _list(draw, preview, (x, y, column, foot - 0.8 * unit), unit, units)
    return page


def _head(draw: ImageDraw.ImageDraw, preview: Preview, x: float, y: float, width: float, unit: float) -> float:
    """Write the finish's name and summary; return the y below."""
    finish = preview.built.finish
    y = write(draw, (x, y - 0.5 * unit), finish.name, "title", round(2.5 * unit), width, most=2, leading=1.12)
    y = write(draw, (x, y + 0.5 * unit), finish.summary, "text", round(1.05 * unit), width, colour=QUIET, most=4)
    return y + 0.8 * unit


def _foot(draw: ImageDraw.ImageDraw, place: str, x: float, bottom: float, width: float, unit: float) -> float:
    """Write wall, light, pour, what the figures are and the promise at the bottom; return the y above."""
    size = round(0.86 * unit)
    lines = [line for text in (place, FIGURES, PROMISE) for line in wrap(text, "text", size, width, 2)]
    y = bottom - 1.3 * size * (len(lines) + 1)
    top = y
    draw.line((x, y - 0.5 * size, x + width, y - 0.5 * size), fill=RULE, width=max(1, round(unit / 14)))
    for line in [*lines, f"finishboard {__version__}"]:
        draw.text((x, y), line, fill=QUIET, font=font("text", size))
        y += 1.3 * size
    return top - 0.5 * size


def _list(
    draw: ImageDraw.ImageDraw, preview: Preview, box: tuple[float, float, float, float], unit: float, units: Units
) -> None:
    """Write the layer list into a box (x, y, width, bottom), smaller when there are many layers."""
    x, y, width, bottom = box
    rows = preview.layers
    step = min(4.2 * unit, (bottom - y) / max(1, len(rows)))
    size = max(7, round(min(1.12 * unit, 0.4 * step)))
    lines = 2 if step > 3.3 * size else 1
    for number, (line, layer) in enumerate(zip(rows, preview.built.finish.layers, strict=True), 1):
        _row(draw, number, line, swatch(layer, line.wet_mil), (x, y, width), size, lines, units)
        y += step


def _row(
    draw: ImageDraw.ImageDraw,
    number: int,
    line: LayerLine,
    colour_code: str | None,
    box: tuple[float, float, float],
    size: int,
    lines: int,
    units: Units,
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
    told = fitting(line_facts(line, units), small, x + width - left, lines)
    write(draw, (left, y + 1.25 * size), told, "text", small, x + width - left, colour=QUIET, most=lines)
