"""What a PNG carries in its text chunks, so that it can be rendered again: finish, wall, pour, light and version."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from PIL import Image, UnidentifiedImageError
from PIL.PngImagePlugin import PngInfo

from render import __version__
from render.faults import InputError, shown
from render.finish import Finish, read
from render.picture import Preview

_KEY = "finishboard"
_MOST_PIXELS = 400_000_000
_MOST_TEXT = 2_000_000


@dataclass(frozen=True)
class Kept:
    """What to render again."""

    finish: Finish
    wall: str
    ppi: float
    pour: int
    light: str
    version: str


def info(preview: Preview, wall: str) -> PngInfo:
    """Return the text chunk for a preview: one JSON object under the key ``finishboard``."""
    site = preview.built.site
    kept = {
        "version": __version__,
        "finish": preview.built.finish.source,
        "wall": wall,
        "ppi": site.ppi,
        "pour": site.pour,
        "light": preview.light,
    }
    chunk = PngInfo()
    chunk.add_itxt(_KEY, json.dumps(kept, ensure_ascii=False, sort_keys=True))
    return chunk


def save(image: Image.Image, stream: BinaryIO, preview: Preview, wall: str) -> None:
    """Write a PNG with its text chunk, the same bytes for the same picture."""
    image.save(stream, "PNG", pnginfo=info(preview, wall), compress_level=6)


def _text(path: Path) -> str:
    """Return the chunk of a PNG without decoding the picture."""
    try:
        with Image.open(path, formats=("PNG",)) as picture:
            if picture.width * picture.height > _MOST_PIXELS:
                raise InputError([f"{path}: larger than {_MOST_PIXELS / 1e6:.0f} megapixels"])
            text = picture.info.get(_KEY)
    except InputError:
        raise
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise InputError([f"{path}: not a PNG that can be opened: {error}"]) from None
    if not isinstance(text, str) or len(text) > _MOST_TEXT:
        raise InputError([f"{path}: carries no finish; expected a PNG made by finishboard preview"])
    return str(text)


def open_again(path: Path) -> Kept:
    """Return what a PNG asks to be rendered again.

    Raises
    ------
    InputError
        If it is no PNG of ours, is too large, or its chunk is damaged or of an unknown version.
    """
    try:
        kept: Any = json.loads(_text(path))
    except (json.JSONDecodeError, RecursionError):
        raise InputError([f"{path}: its finish is damaged; expected JSON in the chunk {_KEY!r}"]) from None
    expected = {"version": str, "finish": dict, "wall": str, "ppi": int | float, "pour": int, "light": str}
    if not isinstance(kept, dict):
        raise InputError([f"{path}: its finish is damaged; expected a JSON object"])
    wrong = [key for key, kind in expected.items() if not isinstance(kept.get(key), kind)]
    if wrong:
        raise InputError([f"{path}: {key} = {shown(kept.get(key))}: damaged or missing" for key in wrong])
    if kept["version"].split(".")[0] != __version__.split(".")[0]:
        raise InputError([f"{path}: made by version {shown(kept['version'])}; this is {__version__}"])
    finish = read(kept["finish"], path.name)
    return Kept(finish, kept["wall"], float(kept["ppi"]), kept["pour"], kept["light"], kept["version"])
