"""Writing: nothing half written, no file of the user's lost."""

from __future__ import annotations

import os
from pathlib import Path
from typing import BinaryIO

import pytest

from render import files
from render.faults import InputError


def test_write_replaces_whole(tmp_path: Path) -> None:
    """A file is there whole, with nothing beside it."""
    path = tmp_path / "a.txt"
    files.write_text(path, "höhe")
    assert path.read_text(encoding="utf-8") == "höhe"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_failure_leaves_the_old_file(tmp_path: Path) -> None:
    """When filling fails half way, the old content stays and no temporary file is left."""
    path = tmp_path / "a.txt"
    files.write_text(path, "old")

    def fill(stream: BinaryIO) -> None:
        stream.write(b"half")
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        files.write(path, fill)
    assert path.read_text(encoding="utf-8") == "old"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_full_disk() -> None:
    """A device that is really full gives its own error (Linux's /dev/full)."""
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    with pytest.raises(OSError, match="No space"), open("/dev/full", "wb") as full:
        full.write(b"x" * 100_000)
        full.flush()


def test_a_strangers_file_is_not_replaced(tmp_path: Path) -> None:
    """A file that was not made here is kept unless asked; ours may be replaced."""
    path = tmp_path / "photo.png"
    path.write_bytes(b"\x89PNG somebody's photo")
    with pytest.raises(InputError, match="--replace"):
        files.check_target(path)
    files.check_target(path, replace=True)
    path.write_bytes(b"\x89PNG finishboard")
    files.check_target(path)


def test_targets_that_cannot_be_written(tmp_path: Path) -> None:
    """A missing folder and a folder in the file's place are told before work begins."""
    with pytest.raises(InputError, match="no folder"):
        files.check_target(tmp_path / "none" / "a.png")
    with pytest.raises(InputError, match="is a folder"):
        files.check_target(tmp_path)


def test_a_long_pdf_of_ours_is_known(tmp_path: Path) -> None:
    """Who made a PDF stands between its pictures and its pages, far from both ends; a word in its text is not that."""
    ours, other = tmp_path / "ours.pdf", tmp_path / "other.pdf"
    ours.write_bytes(b"%PDF-1.4\n" + b"x" * 99_000 + b"/Producer (finishboard 0.1.0)" + b"y" * 99_000)
    other.write_bytes(b"%PDF-1.4\n(a letter about finishboard)" + b"x" * 99_000 + b"/Producer (somebody)")
    assert files.is_ours(ours) and not files.is_ours(other)
