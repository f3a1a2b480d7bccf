"""A PNG that renders again, and hostile PNGs."""

from __future__ import annotations

import io
import json
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from render import keepsake
from render.faults import InputError
from render.picture import preview
from tests_support import SMALL, small_finish


def png_with(path: Path, text: str) -> Path:
    """A small PNG with a text chunk of ours."""
    chunk = PngInfo()
    chunk.add_itxt("finishboard", text)
    Image.new("RGB", (4, 4)).save(path, pnginfo=chunk)
    return path


def test_png_renders_again_byte_for_byte(tmp_path: Path) -> None:
    """What a PNG carries gives the same PNG."""
    got = preview(small_finish(), **SMALL)
    first = io.BytesIO()
    keepsake.save(got.image, first, got, SMALL["wall"])
    path = tmp_path / "a.png"
    path.write_bytes(first.getvalue())
    kept = keepsake.open_again(path)
    again = preview(kept.finish, kept.wall, kept.ppi, kept.pour, kept.light)
    second = io.BytesIO()
    keepsake.save(again.image, second, again, kept.wall)
    assert first.getvalue() == second.getvalue()
    assert np.array_equal(np.asarray(Image.open(path)), np.asarray(got.image))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "damaged"),
        ("[" * 100_000, "damaged"),
        ("[]", "JSON object"),
        ('{"version": "0.1.0"}', "finish = None"),
        (json.dumps({"version": "9.0", "finish": {}, "wall": "a", "ppi": 1, "pour": 1, "light": ""}), "version"),
        (json.dumps({"version": "0.1.0", "finish": {"x": 1}, "wall": "a", "ppi": 1, "pour": 1, "light": ""}), "x"),
    ],
)
def test_damaged_chunks_give_one_plain_message(tmp_path: Path, text: str, says: str) -> None:
    """A chunk that is damaged, of an unknown version or not a finish is an input error."""
    with pytest.raises(InputError, match=says):
        keepsake.open_again(png_with(tmp_path / "a.png", text))


def test_other_files_are_refused(tmp_path: Path) -> None:
    """A PNG without a finish, a JPEG in PNG's clothes and a missing file are input errors."""
    plain = tmp_path / "plain.png"
    Image.new("RGB", (4, 4)).save(plain)
    with pytest.raises(InputError, match="carries no finish"):
        keepsake.open_again(plain)
    jpeg = tmp_path / "jpeg.png"
    Image.new("RGB", (4, 4)).save(jpeg, "JPEG")
    with pytest.raises(InputError, match="not a PNG"):
        keepsake.open_again(jpeg)
    with pytest.raises(InputError, match="not a PNG"):
        keepsake.open_again(tmp_path / "missing.png")


def chunk(kind: bytes, body: bytes) -> bytes:
    """One PNG chunk."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def test_decompression_bombs(tmp_path: Path) -> None:
    """A header of 100 000 x 100 000 pixels and a text chunk that swells to 200 MB are refused without being opened."""
    head = struct.pack(">IIBBBBB", 100_000, 100_000, 8, 2, 0, 0, 0)
    bomb = tmp_path / "bomb.png"
    bomb.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b"") + chunk(b"IEND", b""))
    with pytest.raises(InputError):
        keepsake.open_again(bomb)
    head = struct.pack(">IIBBBBB", 4, 4, 8, 2, 0, 0, 0)
    text = b"finishboard\0\1\0\0\0" + zlib.compress(b"a" * 200_000_000, 9)
    body = zlib.compress(b"\0" * 13 * 4)
    bomb.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"iTXt", text) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    )
    with pytest.raises(InputError):
        keepsake.open_again(bomb)
