"""Where the shipped presets are: beside the package in a checkout, inside it in an installed wheel."""

from __future__ import annotations

from pathlib import Path


def folder() -> Path:
    """Return the folder of shipped finishes and materials.

    Raises
    ------
    FileNotFoundError
        If neither a checkout's ``presets`` nor an installed copy is there.
    """
    here = Path(__file__).resolve().parent
    for place in (here / "_presets", here.parent / "presets"):
        if (place / "materials.toml").is_file():
            return place
    raise FileNotFoundError("the presets that ship with finishboard are missing; install it again")
