"""The step board: the wall after each layer, in one picture, as the trade makes by hand."""

from __future__ import annotations

import math

from PIL import Image, ImageDraw

from render import composite
from render.finish import Finish
from render.light import parse_lamp
from render.picture import films, lit, site_for
from render.pipeline import Built, Cache, Progress, build
from render.sheets.lettering import INK, PAPER, PROMISE, QUIET, font, write
from render.sheets.preview_sheet import where_words

_NARROWEST = 240  # px


def step_pictures(built: Built, light: str) -> list[Image.Image]:
    """Return the picture of the wall after each layer; needs a build that kept its walls."""
    lamp = parse_lamp(light)
    optics = films(built.finish)
    pictures = []
    for wall in built.walls:
        part = Built(built.finish, built.site, wall, built.done)
        seen = composite.look(wall, built.finish.wall_colour, optics, lamp)
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
    return arrange(finish, pictures, where_words(built.site, light))


def _large_enough(picture: Image.Image) -> Image.Image:
    """Return a picture wide enough for its caption."""
    if picture.width >= _NARROWEST:
        return picture
    tall = round(picture.height * _NARROWEST / picture.width)
    return picture.resize((_NARROWEST, max(1, tall)), Image.Resampling.BICUBIC)


def arrange(finish: Finish, pictures: list[Image.Image], place: str) -> Image.Image:
    """Return pictures of steps in rows, each with number, name and words under it."""
    count = max(1, len(pictures))
    pictures = [_large_enough(one) for one in pictures]
    wide = pictures[0].width if pictures else 300
    tall = pictures[0].height if pictures else 60
    across = max(1, min(count, round(math.sqrt(count * 1.5 * tall / wide + 0.3))))
    unit = max(11, round(wide / 21))
    gap, caption, head = round(1.4 * unit), round(5.2 * unit), round(6.4 * unit)
    down = math.ceil(count / across)
    size = (across * (wide + gap) + gap, head + down * (tall + caption + gap) + 3 * unit)
    page = Image.new("RGB", size, PAPER)
    draw = ImageDraw.Draw(page)
    y = write(draw, (gap, gap), finish.name, "title", 2 * unit, size[0] - 2 * gap, most=1)
    write(draw, (gap, y), place, "text", unit, size[0] - 2 * gap, colour=QUIET, most=1)
    for number, (picture, layer) in enumerate(zip(pictures, finish.layers, strict=True)):
        left = gap + number % across * (wide + gap)
        top = head + number // across * (tall + caption + gap)
        page.paste(picture, (left, top))
        y = top + tall + 0.4 * unit
        y = write(draw, (left, y), f"{number + 1}  {layer.name}", "strong", unit, wide, colour=INK, most=1)
        write(draw, (left, y), layer.words(), "text", round(0.9 * unit), wide, colour=QUIET, most=2)
    draw.text((gap, size[1] - 2 * unit), PROMISE, fill=QUIET, font=font("text", round(0.9 * unit)))
    return page
