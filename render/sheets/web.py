"""Both sheets as HTML: one file each, pictures and letters inside it, readable on a phone and printable.

Jinja fills the templates with every value escaped, so that marks in a name are shown as text. The shipped fonts are put
in as subsets of the letters that the sheet uses.
"""

from __future__ import annotations

import base64
import io
import re
from functools import lru_cache
from pathlib import Path
from typing import Any

import jinja2

from render import __version__
from render.estimate.cautions import DEFER
from render.sheets.content import LRV_NOTE, ClientSheet, SiteSheet
from render.sheets.lettering import FONTS, tie

_FACES = (
    ("Lato", 400, "Lato-Regular.ttf"),
    ("Lato", 700, "Lato-Bold.ttf"),
    ("Vollkorn", 400, "Vollkorn-Regular.ttf"),
    ("Vollkorn", 600, "Vollkorn-SemiBold.ttf"),
)
_TAGS = re.compile(r"<(style|script)\b.*?</\1>|<[^>]*>", re.DOTALL)


@lru_cache(maxsize=1)
def _templates() -> jinja2.Environment:
    """Return the templates; a value that a template names and does not get is an error."""
    folder = Path(__file__).resolve().parent / "templates"
    env = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder), autoescape=True, undefined=jinja2.StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, finalize=lambda one: tie(one) if type(one) is str else one,
    )  # fmt: skip
    env.filters["data_uri"] = data_uri
    return env


def data_uri(jpeg: bytes) -> str:
    """Return a JPEG as the address that an ``img`` in the same file takes."""
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def subset(file: Path, letters: str) -> bytes:
    """Return a font in WOFF form with the letters given and nothing else (SIL Open Font License 1.1)."""
    import logging

    from fontTools import subset as cutter
    from fontTools.ttLib import TTFont

    logging.getLogger("fontTools").setLevel(logging.ERROR)  # it remarks on dates in the shipped files
    options = cutter.Options(flavor="woff", layout_features=["kern", "lnum"], notdef_outline=True, hinting=False)
    font = TTFont(file, recalcTimestamp=False)
    tool = cutter.Subsetter(options)
    tool.populate(text=letters)
    tool.subset(font)
    font.flavor = "woff"
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


@lru_cache(maxsize=32)
def _face(family: str, weight: int, file: str, letters: str) -> str:
    data = base64.b64encode(subset(FONTS / file, letters)).decode("ascii")
    return (
        f"@font-face{{font-family:'{family}';font-weight:{weight};font-display:swap;"
        f"src:url(data:font/woff;base64,{data}) format('woff')}}"
    )


def _with_fonts(page: str) -> str:
    """Return a page with the fonts for its own letters in place of the mark ``/*fonts*/``."""
    letters = "".join(sorted(set(_TAGS.sub(" ", page)) | set("&<>\"'…–×")))
    return page.replace("/*fonts*/", "".join(_face(*face, letters) for face in _FACES), 1)


def _page(template: str, fonts: bool, **values: Any) -> str:
    page = _templates().get_template(template).render(version=__version__, defer=DEFER, lrv_note=LRV_NOTE, **values)
    return _with_fonts(page) if fonts else page


def client(sheet: ClientSheet, fonts: bool = True) -> str:
    """Return the client sheet as one HTML file; without ``fonts`` it is set in the reader's own serif and sans."""
    cautions: dict[tuple[str, str], list[str]] = {}
    sources: dict[str, None] = {}
    for card in sheet.cards:
        for title, body, source in card.cautions:
            cautions.setdefault((title, body), []).append(card.letter)
            sources[source] = None
    return _page("client.html", fonts, sheet=sheet, cautions=list(cautions.items()), sources=list(sources))


def site(sheet: SiteSheet, fonts: bool = True) -> str:
    """Return the site sheet as one HTML file; ``fonts`` as for ``client``."""
    return _page("site.html", fonts, sheet=sheet)
