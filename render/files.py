"""Writing so that nothing is half written and no file of the user's is lost."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from render.faults import InputError

if TYPE_CHECKING:
    from PIL.PngImagePlugin import PngInfo

MARK = b"finishboard"  # stands in the first kilobytes of everything that this program writes but PDF
_LOOK = 8192
_PDF_MARK = b"/Producer (finishboard"  # stands where the pages' pictures end, wherever that is


def is_ours(path: Path) -> bool:
    """Return whether an existing file was written by this program, and so may be replaced."""
    try:
        with path.open("rb") as existing:
            head = existing.read(_LOOK)
            return _PDF_MARK in head + existing.read() if head.startswith(b"%PDF") else MARK in head
    except OSError:
        return False


def check_target(path: Path, replace: bool = False) -> None:
    """Refuse a target that cannot be written, before long work begins.

    Raises
    ------
    InputError
        If the folder is missing or not writable, or a file of somebody else's is there.
    """
    folder = path.parent
    if not folder.is_dir():
        raise InputError([f"{path}: there is no folder {str(folder)!r}; make it first"])
    if not os.access(folder, os.W_OK):
        raise InputError([f"{path}: the folder cannot be written to"])
    if path.is_dir():
        raise InputError([f"{path}: is a folder; expected a file name"])
    if path.exists() and not replace and not is_ours(path):
        raise InputError([f"{path}: is there already and was not made by finishboard; give another name or --replace"])


def write(path: Path, fill: Callable[[BinaryIO], None]) -> None:
    """Write a file by filling a temporary one beside it and renaming: an existing file survives a failure.

    Raises
    ------
    OSError
        If the disk is full or the folder cannot be written; the temporary file is gone then.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".tmp", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            fill(stream)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _umask() -> int:
    """Return the process's umask, which can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def png_mark(title: str) -> PngInfo:
    """Return a text chunk that marks a picture as ours."""
    from PIL.PngImagePlugin import PngInfo

    chunk = PngInfo()
    chunk.add_itxt("made by", "finishboard")
    chunk.add_itxt("Title", title)
    return chunk


def write_bytes(path: Path, content: bytes) -> None:
    """Write bytes as ``write`` does."""
    write(path, lambda stream: _put(stream, content))


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text as ``write`` does."""
    write(path, lambda stream: _put(stream, text.encode("utf-8")))


def _put(stream: BinaryIO, content: bytes) -> None:
    stream.write(content)
