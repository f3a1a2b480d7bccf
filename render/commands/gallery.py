"""``gallery``: every shipped finish at board size and close up, with a page of Markdown that shows them by family."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from render.commands import options as o

if TYPE_CHECKING:
    from PIL import Image

    from render.finish import Finish

BOARD_IN, CLOSE_IN = 48.0, 12.0
_ROUND_IN = 24.0  # a close-up is the middle of a wall this wide, so that what surrounds it is there
_BOARD_PPI, _CLOSE_PPI = 25.0, 50.0
_BOARD_PX, _CLOSE_PX = 1200, 600
_MOST_MB = 12.0
_QUALITIES = (88, 85, 82, 78, 73, 68, 62, 56, 50, 44)
_MARK = b"made by finishboard"  # in each picture's comment: what the command may replace

Folder = Annotated[Path, typer.Option("-o", "--out", help="Folder to write into; made if it is not there.")]
Some = Annotated[list[str] | None, typer.Argument(metavar="[FINISH]...", help="Only these; all if none is named.")]


@dataclass(frozen=True)
class Shown:
    """One finish of the gallery with its two pictures as JPEG."""

    key: str
    finish: Finish
    board: bytes
    close: bytes


def gallery(
    finishes: Some = None,
    out: Folder = Path("gallery"),
    pour: o.PourOption = 1,
    light: o.LightOption = "",
    draft: o.DraftOption = False,
) -> None:
    """Render the shipped finishes at board size (4 ft) and close up (12 in) into a folder with an index page."""
    from render import files, picture
    from render.finish import load, shipped_names

    names = finishes or shipped_names()
    opened = [(name, load(name)) for name in names]
    lamp = light or picture.DEFAULT_LIGHT
    _ready(out, [_slug(name) for name in names])
    room = int(_MOST_MB * 1e6 * 0.98 / max(len(opened), 1))
    shown = []
    bar = o.Bar()
    try:
        for number, (name, finish) in enumerate(opened):
            bar(number, len(opened), finish.name)
            shown.append(_shown(_slug(name), finish, pour, lamp, draft, room))
    finally:
        bar.close()
    for one in shown:
        for kind, data in (("board", one.board), ("close", one.close)):
            files.write(out / f"{one.key}-{kind}.jpg", lambda stream, data=data: stream.write(data))  # type: ignore[misc]
    files.write_text(out / "README.md", page(shown, pour, lamp))
    total = sum(len(one.board) + len(one.close) for one in shown)
    o.say(f"{out}: {len(shown)} finishes, {total / 1e6:.1f} MB")


def _slug(name: str) -> str:
    return Path(name).stem


def _ready(out: Path, keys: Iterable[str]) -> None:
    """Make the folder; refuse to write over pictures or a page that are somebody else's."""
    from render.faults import InputError

    if out.exists() and not out.is_dir():
        raise InputError([f"{out}: is a file; expected a folder"])
    out.mkdir(parents=True, exist_ok=True)
    pictures = [out / f"{key}-{kind}.jpg" for key in keys for kind in ("board", "close")]
    foreign = [path for path in pictures if path.exists() and _MARK not in path.read_bytes()[:4096]]
    index = out / "README.md"
    if index.exists() and _MARK.decode() not in index.read_text(encoding="utf-8", errors="replace"):
        foreign.append(index)
    if foreign:
        raise InputError(
            [f"{path}: is there already and was not made by finishboard; move it away" for path in foreign]
        )


def _shown(key: str, finish: Finish, pour: int, light: str, draft: bool, room: int) -> Shown:
    """Render one finish twice and pack it into its share of the gallery's bytes."""
    from render import picture

    half = 0.5 if draft else 1.0
    board = picture.preview(finish, "4 ft x 4 ft", _BOARD_PPI * half, pour, light).image
    wide = picture.preview(finish, "2 ft x 2 ft", _CLOSE_PPI * half, pour, light).image
    edge = round((_ROUND_IN - CLOSE_IN) / 2.0 * _CLOSE_PPI * half)
    close = wide.crop((edge, edge, wide.width - edge, wide.height - edge))
    return Shown(key, finish, _packed(board, _BOARD_PX, room * 2 // 3), _packed(close, _CLOSE_PX, room // 3))


def _packed(image: Image.Image, most_px: int, room: int) -> bytes:
    """Return a JPEG no wider than ``most_px``, at the best quality that fits ``room`` bytes."""
    from PIL import Image as Pictures

    if image.width > most_px:
        image = image.resize((most_px, round(most_px * image.height / image.width)), Pictures.Resampling.LANCZOS)
    data = b""
    for quality in _QUALITIES:
        stream = BytesIO()
        image.save(stream, "JPEG", quality=quality, optimize=True, progressive=True, comment=_MARK)
        data = stream.getvalue()
        if len(data) <= room:
            break
    return data


def page(shown: Sequence[Shown], pour: int, light: str) -> str:
    """Return the index page: families in alphabetical order, each finish with pictures, use, care and layers."""
    lines = [
        "# A book of finishes",
        "",
        f"<!-- {_MARK.decode()} -->",
        "",
        "Computed impressions; the approved physical sample governs. Left: 4 ft x 4 ft. Right: 12 in, close up. "
        f"Light: {light}; pour {pour}. Any of them is a file in `presets/` to copy and change; "
        "`finishboard gallery` renders this page again.",
        "",
    ]
    for family in sorted({one.finish.family for one in shown}):
        lines += [f"## {family[:1].upper()}{family[1:]}", ""]
        for one in shown:
            if one.finish.family == family:
                lines += _entry(one)
    return "\n".join(lines)


def _entry(one: Shown) -> list[str]:
    """Return one finish's part of the page."""
    finish = one.finish
    name = finish.name
    listed = [f"{i + 1}. **{layer.name}**: {layer.words()}" for i, layer in enumerate(finish.layers)]
    return [
        f"### {name}",
        "",
        f'<img src="{one.key}-board.jpg" width="58%" alt="{name}, 4 ft wide"> '
        f'<img src="{one.key}-close.jpg" width="36%" alt="{name}, 12 in wide">',
        "",
        finish.summary,
        "",
        f"*Use.* {finish.use}  ",
        f"*Watch.* {finish.watch}",
        "",
        f"`finishboard preview {one.key}`",
        "",
        "<details><summary>Layers</summary>",
        "",
        *listed,
        "",
        "</details>",
        "",
    ]
