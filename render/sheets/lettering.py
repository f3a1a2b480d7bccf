"""Lettering for sheets: the shipped fonts, lines that wrap, and the colours of paper and ink."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import Literal

from PIL import ImageDraw, ImageFont

Face = Literal["title", "strong", "text"]
FONTS = Path(__file__).resolve().parent.parent / "data" / "fonts"
_FILES: dict[Face, str] = {"title": "Vollkorn-SemiBold.ttf", "strong": "Lato-Bold.ttf", "text": "Lato-Regular.ttf"}

PAPER, INK, QUIET, RULE = "#f7f3ec", "#2a2522", "#6d635a", "#d8cfc2"
PROMISE = "A computed impression; the approved physical sample governs."

_UNITS = r"%|°|fl[ \u00a0]oz|gal|qt|pt|tbsp|tsp|L|ml|ft²?|in|mm|cm|m²?|mil|h|min|days?"
_BEFORE_UNIT = re.compile(rf"(?<=[\d½¼¾)]) (?=(?:{_UNITS})(?![^\W\d_]))")


_POINT = re.compile(r" +· +")
_GAPS = re.compile(r"[^\S\u00a0]+")


def tie(text: str) -> str:
    """Return the text with no-break spaces between numbers and their units, and before a point that parts facts.

    So no line ends between a number and its unit, and none begins with the point.
    """
    return _POINT.sub("\u00a0· ", _BEFORE_UNIT.sub("\u00a0", text.replace("fl oz", "fl\u00a0oz")))


@lru_cache(maxsize=64)
def font(face: Face, size: int) -> ImageFont.FreeTypeFont:
    """Return a shipped font at a size in pixels."""
    return ImageFont.truetype(FONTS / _FILES[face], max(7, size))


def wrap(text: str, face: Face, size: int, width: float, most: int = 99) -> list[str]:
    """Return the text in lines no wider than ``width`` pixels; what does not fit in ``most`` lines ends in an ellipsis.

    A word wider than the line is broken; a number and its unit are one word.
    """
    letters = font(face, size)
    lines: list[str] = []
    line = ""
    for whole in _GAPS.split(tie(text).strip()):
        word = whole
        trial = f"{line} {word}".strip()
        if letters.getlength(trial) <= width:
            line = trial
            continue
        if line:
            lines.append(line.removesuffix("\u00a0·"))
        while letters.getlength(word) > width and len(word) > 1:
            cut = max(1, int(len(word) * width / letters.getlength(word)))
            lines.append(word[:cut])
            word = word[cut:]
        line = word
    lines.append(line)
    if len(lines) > most:
        lines = lines[:most]
        while lines[-1] and letters.getlength(lines[-1] + "…") > width:
            lines[-1] = lines[-1][:-1]
        lines[-1] = lines[-1].rstrip() + "…"
    return lines


def write(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    text: str,
    face: Face,
    size: int,
    width: float,
    *,
    colour: str = INK,
    most: int = 99,
    leading: float = 1.28,
) -> float:
    """Write wrapped text with its top left corner at ``at`` and return the y below it."""
    x, y = at
    for line in wrap(text, face, size, width, most):
        draw.text((x, y), line, fill=colour, font=font(face, size))
        y += size * leading
    return y


def aside(
    draw: ImageDraw.ImageDraw, right: float, y: float, text: str, face: Face, size: int, colour: str = INK
) -> float:
    """Write one line that ends at ``right`` and return its width."""
    width = font(face, size).getlength(text)
    draw.text((right - width, y), text, fill=colour, font=font(face, size))
    return width
