"""The map of what is visible where: each layer's region in a flat colour, with its share."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from render.estimate.batches import Units
from render.picture import Preview
from render.sheets.lettering import INK, PAPER, QUIET, RULE, font, write
from render.sheets.preview_sheet import per_cent, where_words

# Okabe & Ito 2008, "Color Universal Design": told apart by colour-blind eyes; then paler companions. From memory.
_FLAT = (
    "#0072b2", "#e69f00", "#009e73", "#cc79a7", "#56b4e9", "#d55e00", "#f0e442", "#7f7f7f",
    "#8fb8d6", "#f2cf8c", "#8ccfb9", "#e5bcd3", "#aad9f4", "#eaae7f", "#f7f1a0", "#bfbfbf",
)  # fmt: skip

_LEAST = 0.0005  # of the wall: a few pixels need no line in the legend
_FIGURES = "Each place has the colour of the layer that it shows most of."


def regions(preview: Preview) -> list[tuple[str, float, str]]:
    """Return (layer, share of the wall that shows most of it, flat colour) for every layer that has a region."""
    main = preview.seen.main
    names = ["bare wall", *(one.name for one in preview.built.wall.strata)]
    counts = np.bincount(main.ravel() + 1, minlength=len(names))
    return [
        (name, float(count) / main.size, _FLAT[number % len(_FLAT)])
        for number, (name, count) in enumerate(zip(names, counts, strict=True))
        if count
    ]


def flat_map(preview: Preview) -> Image.Image:
    """Return the wall with each pixel in the colour of the layer that it shows most of."""
    count = len(preview.built.wall.strata) + 1
    table = np.array([[int(_FLAT[n % len(_FLAT)][i : i + 2], 16) for i in (1, 3, 5)] for n in range(count)], np.uint8)
    return Image.fromarray(table[preview.seen.main + 1])


def sheet(preview: Preview, units: Units = "imperial") -> Image.Image:
    """Return the map with its legend."""
    wall = flat_map(preview)
    scale = max(1.0, 560 / wall.height)
    wall = wall.resize((round(wall.width * scale), round(wall.height * scale)), Image.Resampling.NEAREST)
    unit = wall.height / 60.0
    margin, column, size = round(2.2 * unit), round(24 * unit), round(1.15 * unit)
    page = Image.new("RGB", (wall.width + column + 3 * margin, wall.height + 2 * margin), PAPER)
    page.paste(wall, (margin, margin))
    draw = ImageDraw.Draw(page)
    x, y = wall.width + 2 * margin, float(margin)
    y = write(draw, (x, y - 0.5 * unit), f"{preview.built.finish.name}: what one sees where", "title", 2 * size, column)
    place = where_words(preview.built.site, preview.light, units=units)
    y = write(draw, (x, y + 0.3 * unit), f"{place}. {_FIGURES}", "text", size, column, colour=QUIET) + unit
    for name, share, flat in [one for one in regions(preview) if one[1] >= _LEAST]:
        draw.rectangle((x, y + 0.2 * size, x + 1.2 * size, y + 1.4 * size), fill=flat, outline=RULE)
        draw.text((x + 2 * size, y), per_cent(share), fill=INK, font=font("strong", size))
        write(draw, (x + 6.2 * size, y), name, "text", size, column - 6.2 * size, most=1)
        y += 1.9 * size
    return page
