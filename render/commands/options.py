"""Options that several commands share, and how they speak: answers on stdout, everything else on stderr."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

FinishArg = Annotated[str, typer.Argument(metavar="FINISH", help="A finish file, or the name of a shipped finish.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the answer as one JSON object.")]
WallOption = Annotated[str, typer.Option("--wall", help="Width x height, such as '12 ft x 8 ft' or '3.6 m x 2.4 m'.")]
PpiOption = Annotated[float, typer.Option("--ppi", help="Pixels for each inch of wall; fractions are fine.")]
PourOption = Annotated[int, typer.Option("--pour", help="The number that fixes one instance: same pour, same wall.")]
LightOption = Annotated[
    str,
    typer.Option(
        "--light",
        help="The lamp, such as 'window left 16 deg', 'overhead, 2700 K' or 'even'.",
        show_default="window left 16 deg",  # picture.DEFAULT_LIGHT, without what its import takes
    ),
]
DraftOption = Annotated[bool, typer.Option("--draft", help="Half the resolution, at most 12.5 px/in: fast.")]
OutOption = Annotated[Path | None, typer.Option("-o", "--out", help="Where to write; default: here, by its name.")]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Also replace a file that finishboard did not make.")]


def draft_ppi(ppi: float, draft: bool) -> float:
    """Return the resolution of a draft."""
    return min(12.5, ppi / 2.0) if draft else ppi


def say(text: str) -> None:
    """Tell the person something that is not the answer."""
    print(text, file=sys.stderr)


def answer(data: Any) -> None:
    """Print an answer as JSON."""
    print(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False))


def named(path: Path | None, name: str, suffix: str) -> Path:
    """Return the output path: the one given, or one in this folder made of the finish's name."""
    if path is not None:
        return path
    safe = "".join(letter if letter.isalnum() or letter in "-_" else "-" for letter in name.lower()).strip("-")
    return Path(f"{safe[:60] or 'finish'}{suffix}")


def check_picture(path: Path, replace: bool) -> None:
    """Refuse a picture's target that cannot be written, or that is named as what it will not be.

    Raises
    ------
    InputError
        As ``files.check_target``, and if the name does not end in .png.
    """
    from render import files
    from render.faults import InputError

    if path.suffix.lower() != ".png":
        raise InputError([f"{path}: pictures are written as PNG; expected a name that ends in .png"])
    files.check_target(path, replace)


class Bar:
    """Progress on stderr while a person watches."""

    def __init__(self) -> None:
        """Watch only a terminal."""
        self._on = sys.stderr.isatty()

    def __call__(self, number: int, total: int, name: str) -> None:
        """Show the layer that is being laid."""
        if self._on:
            print(f"\r\x1b[K{number + 1}/{total}  {name}", end="", file=sys.stderr, flush=True)

    def close(self) -> None:
        """Clear the line."""
        if self._on:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
