"""Random streams keyed by words, so that a layer's placement depends on its name and not on its number.

A pour is the number that fixes one instance of a finish. Every use of chance asks for a stream by pour, layer name and
purpose; inserting a layer leaves the others' streams bit for bit as they were.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_MASK = (1 << 64) - 1


def key(pour: int, *path: str | int) -> int:
    """Return the 64-bit key of a purpose: the same for the same pour and words, on every machine."""
    text = "\x1f".join([str(int(pour)), *map(str, path)]).encode()
    return int.from_bytes(hashlib.blake2b(text, digest_size=8).digest(), "little")


def stream(pour: int, *path: str | int) -> np.random.Generator:
    """Return numpy's generator for a pour and a path of words (layer name, purpose, tile ...)."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(key(pour, *path))))


def mix64(values: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Scramble 64-bit integers (splitmix64, Steele, Lea & Flood 2014): a new array of uint64, same shape."""
    z = values + np.uint64(0x9E3779B97F4A7C15)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


def hash_unit(ids: NDArray[np.uint64], purpose: int) -> NDArray[np.float64]:
    """Return uniform numbers in [0, 1), one for each id (uint64) and purpose (a key); same shape as ids."""
    mixed = mix64(ids ^ np.uint64(purpose & _MASK))
    return (mixed >> np.uint64(11)).astype(np.float64) * 2.0**-53


def hash_lattice(rows: NDArray[np.int64], cols: NDArray[np.int64], purpose: int) -> NDArray[np.float64]:
    """Return uniform numbers in [0, 1) for lattice points: shape (rows.size, cols.size)."""
    along = mix64(rows.astype(np.uint64) ^ np.uint64(purpose & _MASK))
    across = mix64(cols.astype(np.uint64) * np.uint64(0xD1342543DE82EF95) + np.uint64(purpose >> 7 & _MASK))
    return (mix64(along[:, None] ^ across[None, :]) >> np.uint64(11)).astype(np.float64) * 2.0**-53


@dataclass(frozen=True)
class Streams:
    """The chance that one layer may use: every stream is asked for by purpose."""

    pour: int
    layer: str

    def rng(self, *purpose: str | int) -> np.random.Generator:
        """Return a generator for a purpose; asking twice gives the same stream from its beginning."""
        return stream(self.pour, self.layer, *purpose)

    def key(self, *purpose: str | int) -> int:
        """Return the 64-bit key of a purpose, for hashed lattices."""
        return key(self.pour, self.layer, *purpose)
