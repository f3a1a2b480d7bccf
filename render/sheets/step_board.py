"""The step board: the wall after each layer, in one picture, as the trade makes by hand."""

from __future__ import annotations

import math

from PIL import Image, ImageDraw

from render import composite
from render.estimate.batches import Units
from render.estimate.words import units_of
from render.finish import Finish
from render.layers.base import Layer
from render.light import parse_lamp
from render.picture import films, lit, metals, site_for
from render.pipeline import Built, Cache, Progress, build
from render.sheets.lettering import INK, PAPER, PROMISE, QUIET, font, wrap, write
from render.sheets.preview_sheet import own_words, share_of_wall, where_words

_NARROWEST, _WIDEST = 240, 900  # px of one picture


def step_pictures(built: Built, light: str) -> list[Image.Image]:
    """Return the picture of the wall after each layer; needs a build that kept its walls."""
    lamp = parse_lamp(light)
    optics = films(built.finish)
    pictures = []
    for wall in built.walls:
        part = Built(built.finish, built.site, wall, built.done)
        seen = composite.look(wall, built.finish.wall_colour, optics, lamp, metals=metals(built.finish))
        pictures.append(lit(part, seen, lamp))
    return pictures


def board(
    finish: Finish,
    wall: str,
    ppi: float,
    pour: int,
    light: str,
    *,
    cache: Cache | None = None,
    progress: Progress | None = None,
) -> Image.Image:
    """Return the step board of a finish.

    Raises
    ------
    InputError
        If the wall, resolution or lamp cannot be read.
    """
    built = build(finish, site_for(wall, ppi, pour), cache=cache, progress=progress, keep_walls=True)
    pictures = step_pictures(built, light)
    units = units_of(wall)
    return arrange(finish, pictures, where_words(built.site, light, units=units), units)


def _fitting(picture: Image.Image) -> Image.Image:
    """Return a picture wide enough for its caption, and no larger than a board of many can hold."""
    wide = min(max(picture.width, _NARROWEST), _WIDEST)
    if picture.width == wide:
        return picture
    how = Image.Resampling.BICUBIC if picture.width < wide else Image.Resampling.LANCZOS
    return picture.resize((wide, max(1, round(picture.height * wide / picture.width))), how)


def _words(layer: Layer, units: Units) -> str:
    """Return a layer's words with its coverage."""
    told = own_words(layer, units)
    share = "" if "of the wall" in told else share_of_wall(layer.asked)
    return "  ·  ".join(filter(None, (told, share)))


def across_for(count: int, wide: float, tall: float) -> int:
    """Return how many pictures stand in a row: a sheet about half as wide again as high, its last row well filled."""
    best = math.sqrt(max(1, count) * 1.5 * tall / wide)

    def fault(across: int) -> float:
        empty = -count % across / across
        return abs(math.log(across / best)) + 0.7 * empty

    return min(range(1, max(1, count) + 1), key=fault)


def arrange(finish: Finish, pictures: list[Image.Image], place: str, units: Units = "imperial") -> Image.Image:
    """Return pictures of steps in rows, each with number, name, words and coverage under it."""
    count = max(1, len(pictures))
    pictures = [_fitting(one) for one in pictures]
    wide = pictures[0].width if pictures else 300
    tall = pictures[0].height if pictures else 60
    across = across_for(count, wide, tall)
    unit = max(11, round(wide / 21))
    gap, head = round(1.4 * unit), round(6.4 * unit)
    told = [_words(layer, units) for layer in finish.layers]
    lines = max((len(wrap(one, "text", round(0.9 * unit), wide, 2)) for one in told), default=1)
    caption, down = round((1.8 + 1.2 * lines) * unit), math.ceil(count / across)
    size = (across * (wide + gap) + gap, head + down * (tall + caption + gap) + 3 * unit)
    page = Image.new("RGB", size, PAPER)
    draw = ImageDraw.Draw(page)
    y = write(draw, (gap, gap), finish.name, "title", 2 * unit, size[0] - 2 * gap, most=1)
    write(draw, (gap, y), place, "text", unit, size[0] - 2 * gap, colour=QUIET, most=1)
    for number, (picture, layer, text) in enumerate(zip(pictures, finish.layers, told, strict=True)):
        left = gap + number % across * (wide + gap)
        top = head + number // across * (tall + caption + gap)
        page.paste(picture, (left, top))
        y = top + tall + 0.4 * unit
        y = write(draw, (left, y), f"{number + 1}  {layer.name}", "strong", unit, wide, colour=INK, most=1)
        write(draw, (left, y), text, "text", round(0.9 * unit), wide, colour=QUIET, most=2)
    draw.text((gap, size[1] - 2 * unit), PROMISE, fill=QUIET, font=font("text", round(0.9 * unit)))
    return page
