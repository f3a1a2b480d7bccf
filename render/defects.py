"""Rating of cracks and flakes on a wall by ISO 4628-4 and ISO 4628-5.

The frame (scales 0 to 5 of ISO 4628-1:2016; quantity, size and depth of cracks; quantity, size and depth of flaking)
is the standards'. The words and limits of the classes below are from memory, and marked so in the result; where the
standard shows pictures, the limits that stand for them are chosen by the authors, and marked so too.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from render.fields import Array
from render.wall import Wall

FLAKED_SHARE = (0.0, 0.001, 0.003, 0.01, 0.03, 0.15)
"""ISO 4628-5, flaked area by rating 0 to 5 (from memory)."""
FLAKE_MM = (1.0, 3.0, 10.0, 30.0)
"""ISO 4628-5, largest dimension up to sizes 2 to 5 (from memory): up to 1, 3, 10, 30 mm, above."""
CRACK_WORDS = ("none", "very few", "few", "moderate", "considerable", "dense")
"""ISO 4628-4, quantity (words from memory)."""
CRACK_LENGTH = (0.0, 0.05, 0.2, 0.6, 1.6)
"""Crack length per wall area, in/in2, above which quantities 1 to 5 begin: the standard has pictures; chosen by us."""
CRACK_MM = (0.02, 0.05, 0.2, 1.0)
"""Typical width above which sizes 2 to 5 begin. Up to and above 1 mm are the standard's (from memory), others ours."""
_MM_PER_IN = 25.4
_OPEN = 0.02  # share of a pixel from which a crack counts: below it is the film's own grain


def rating(wall: Wall) -> dict[str, Any]:
    """Return the ratings of a wall as plain data.

    ``cracking`` (ISO 4628-4): quantity and size 0 to 5, depth letter, and as reported, such as ``4(S3)b``; with the
    measured length per area, typical width and share. ``flaking`` (ISO 4628-5): quantity, size, depth letter and as
    reported; with the flaked share and the largest flake. ``from_memory`` names what was not read in the standard.
    """
    return {
        "cracking": _cracking(wall.cracks, wall.grid.ppi),
        "flaking": _flaking(wall.fallen >= 0.5, wall),
        "standards": ["ISO 4628-1:2016", "ISO 4628-4:2016", "ISO 4628-5:2016"],
        "from_memory": ["quantity words", "size limits", "flaked area limits"],
        "chosen_by_us": ["crack length limits of the quantities", "crack width limits below 1 mm"],
    }


def rate(value: float, limits: tuple[float, ...]) -> int:
    """Return how many of the ascending limits a value is above."""
    return int(np.searchsorted(np.asarray(limits), value, side="left"))


def _cracking(cracks: Array, ppi: float) -> dict[str, Any]:
    """Rate open cracks."""
    share = float(np.mean(cracks, dtype=np.float64))
    length, width = _length_and_width(cracks, ppi)
    quantity = rate(length, CRACK_LENGTH)
    size = (1 + rate(width, CRACK_MM)) if quantity else 0
    depth = _depth_letter(quantity > 0, through=width > 0.05)
    return {
        "quantity": quantity,
        "words": CRACK_WORDS[quantity],
        "size": size,
        "depth": depth,
        "reported": f"{quantity}(S{size}){depth}" if quantity else "0",
        "length_in_per_in2": round(length, 4),
        "typical_width_mm": round(width, 4),
        "open_share": round(share, 6),
    }


def _length_and_width(cracks: Array, ppi: float) -> tuple[float, float]:
    """Return the length of crack per area (in/in2) and the width that most of the open area has (mm).

    Lines of length L per area cross a straight line 2 L / pi times per length (Buffon); crossings are counted along
    rows and columns. The width is met there too: the ink of each crossing, for cracks numerous enough to be typical
    the 90th percentile, times the mean of the sine of the angle, 2 / pi.
    """
    met, inks = 0, []
    for field in (cracks, cracks.T):
        crossings, ink = _crossings(np.ascontiguousarray(field))
        met += crossings
        inks.append(ink)
    ink = np.concatenate(inks)
    if not len(ink):
        return 0.0, 0.0
    run = 2.0 * cracks.size / ppi
    width = float(np.percentile(ink, 90)) / ppi * _MM_PER_IN * 2.0 / np.pi
    return float(np.pi / 2.0 * met / run), width


def _crossings(field: Array) -> tuple[int, NDArray[np.float64]]:
    """Return how many cracks the rows of a field cross, and the ink (pixels) of each crossing."""
    flat = np.pad(field, ((0, 0), (1, 1))).ravel()
    on = flat > _OPEN
    start = np.flatnonzero(on[1:] & ~on[:-1]) + 1
    if not len(start):
        return 0, np.empty(0)
    total = np.concatenate([[0.0], np.cumsum(flat, dtype=np.float64)])
    end = np.flatnonzero(on[:-1] & ~on[1:]) + 1
    return len(start), total[end] - total[start]


def _flaking(fallen: NDArray[np.bool_], wall: Wall) -> dict[str, Any]:
    """Rate fallen film."""
    share = float(np.mean(fallen))
    quantity = rate(share, FLAKED_SHARE[1:]) + 1 if share > 0.0 else 0
    quantity = min(quantity, 5)
    largest, typical = _extents(fallen, wall.grid.ppi)
    size = 1 + rate(typical, FLAKE_MM) if quantity else 0
    whole = bool(fallen.any()) and bool(np.mean(wall.top[fallen] < 0) > 0.5)
    letter = ("b" if whole else "a") if quantity else ""
    return {
        "quantity": quantity,
        "size": size,
        "depth": letter,
        "reported": f"{quantity}(S{size}){letter}" if quantity else "0",
        "flaked_share": round(share, 6),
        "largest_mm": round(largest, 2),
        "typical_mm": round(typical, 2),
    }


def _extents(fallen: NDArray[np.bool_], ppi: float) -> tuple[float, float]:
    """Return the largest dimension of the largest flake, and the one that most flaked area belongs to, mm."""
    labels, count = ndimage.label(fallen)
    if not count:
        return 0.0, 0.0
    boxes = ndimage.find_objects(labels)
    long = np.array([max(side.stop - side.start for side in box) for box in boxes]) / ppi * _MM_PER_IN
    area = np.bincount(labels.ravel(), minlength=count + 1)[1:]
    order = np.argsort(long)
    half = np.searchsorted(np.cumsum(area[order]), 0.5 * area.sum())
    return float(long.max()), float(long[order][half])


def _depth_letter(cracked: bool, through: bool) -> str:
    """Return a for cracks that do not go through the top coat, b for those that do; nothing where there are none."""
    return ("b" if through else "a") if cracked else ""
