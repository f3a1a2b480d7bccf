"""Random streams keyed by words, so that a layer's placement depends on its name and not on its number.

A pour is the number that fixes one instance of a finish. Every use of chance asks for a stream by pour, layer name and
purpose; inserting a layer leaves the others' streams bit for bit as they were.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray

from render.kept import Kept

_MASK = (1 << 64) - 1


def key(pour: int, *path: str | int) -> int:
    """Return the 64-bit key of a purpose: the same for the same pour and words, on every machine."""
    text = "\x1f".join([str(int(pour)), *map(str, path)]).encode()
    return int.from_bytes(hashlib.blake2b(text, digest_size=8).digest(), "little")


def stream(pour: int, *path: str | int) -> np.random.Generator:
    """Return numpy's generator for a pour and a path of words (layer name, purpose, tile ...)."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(key(pour, *path))))


_BLOCK = 16384  # numbers mixed at a time: they and the scratch stay in the processor's cache
_HIGH = 1 if sys.byteorder == "little" else 0  # where the upper half of a 64-bit number lies


def _stir(z: NDArray[np.uint64], scratch: NDArray[np.uint64]) -> None:
    """Scramble in place but for the last step, which leaves the upper 31 bits as they are; scratch as large as z."""
    z += np.uint64(0x9E3779B97F4A7C15)
    for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        np.right_shift(z, np.uint64(shift), out=scratch)
        z ^= scratch
        z *= np.uint64(factor)


def mix64(values: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Scramble 64-bit integers (splitmix64, Steele, Lea & Flood 2014): a new array of uint64, same shape."""
    mixed = np.array(values, np.uint64, order="C", copy=True)
    flat = mixed.reshape(-1)
    scratch = np.empty(min(_BLOCK, flat.size), np.uint64)
    for at in range(0, flat.size, _BLOCK):
        part = flat[at : at + _BLOCK]
        shifted = scratch[: part.size]
        _stir(part, shifted)
        np.right_shift(part, np.uint64(31), out=shifted)
        part ^= shifted
    return mixed


def hash_unit(ids: NDArray[np.uint64], purpose: int) -> NDArray[np.float64]:
    """Return uniform numbers in [0, 1), one for each id (uint64) and purpose (a key); same shape as ids."""
    mixed = mix64(ids ^ np.uint64(purpose & _MASK))
    mixed >>= np.uint64(11)
    return np.multiply(mixed.view(np.int64), 2.0**-53)  # signed, they turn into floats three times as fast


def _sides(
    rows: NDArray[np.int64], cols: NDArray[np.int64], purpose: int
) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
    """Return the mixed numbers of a lattice's rows and columns; mixed once more, their exclusive or is a point's."""
    along = mix64(rows.astype(np.uint64) ^ np.uint64(purpose & _MASK))
    across = mix64(cols.astype(np.uint64) * np.uint64(0xD1342543DE82EF95) + np.uint64(purpose >> 7 & _MASK))
    return along, across


def hash_lattice(rows: NDArray[np.int64], cols: NDArray[np.int64], purpose: int) -> NDArray[np.float64]:
    """Return uniform numbers in [0, 1) for lattice points: shape (rows.size, cols.size)."""
    along, across = _sides(rows, cols, purpose)
    return hash_unit(along[:, None] ^ across[None, :], 0)


def white_lattice(rows: NDArray[np.int64], cols: NDArray[np.int64], purpose: int, std: float) -> NDArray[np.float32]:
    """Return white noise for lattice points: uniform, mean 0, that standard deviation; 31 bits of chance.

    It lies in memory column by column, ready to be spread across: shape (cols.size, rows.size).
    """
    along, across = _sides(rows, cols, purpose)
    found = np.empty((cols.size, rows.size), np.float32)
    tall = max(1, _BLOCK // max(rows.size, 1))
    block, scratch = np.empty((2, min(tall, cols.size), rows.size), np.uint64)
    scale, shift = np.float32(std * 3.0**0.5 * 2.0**-31), np.float32(std * 3.0**0.5)
    for at in range(0, cols.size, tall):
        into = found[at : at + tall]
        part = block[: len(into)]
        np.bitwise_xor(across[at : at + tall, None], along[None, :], out=part)
        _stir(part, scratch[: len(into)])
        np.copyto(into, part.view(np.uint32)[:, _HIGH::2], casting="same_kind")
        into *= scale
        into -= shift
    return found


def _nothing() -> None:
    """Heed nothing."""


@dataclass(frozen=True)
class Streams:
    """The chance that one layer may use: every stream is asked for by purpose.

    ``kept`` may hold large results of pure functions from before: nothing depends on whether it does. ``heed`` is
    called whenever a stream or a drawing is asked for, and may raise to call a layer off that is under way.
    """

    pour: int
    layer: str
    kept: Kept = field(default_factory=partial(Kept, 0), compare=False, repr=False)
    heed: Callable[[], None] = field(default=_nothing, compare=False, repr=False)

    def rng(self, *purpose: str | int) -> np.random.Generator:
        """Return a generator for a purpose; asking twice gives the same stream from its beginning."""
        self.heed()
        return stream(self.pour, self.layer, *purpose)

    def key(self, *purpose: str | int) -> int:
        """Return the 64-bit key of a purpose, for hashed lattices."""
        self.heed()
        return key(self.pour, self.layer, *purpose)
