"""Measures the topology of a crack picture from its skeleton alone. Knows nothing of how the picture was made."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.morphology import remove_small_holes, skeletonize

_NODE_PX = 2.5  # junction pixels closer than this are one junction
_STRAIGHT_DEG = 150.0  # two arms this far apart run through; their side is no corner


@dataclass(frozen=True)
class Topology:
    """What was counted.

    ``cells`` wholly inside; ``corners_per_cell``; ``t_share`` of the junctions where one crack runs through and another
    ends; ``square_share`` of those that end within 20 degrees of square; ``mean_area_px`` of the cells.

    A junction of d arms makes d/2 - 1 cells (Euler's formula on a large net), so corners per cell is the corners
    counted at the junctions over the cells that they make: no bias from cells cut by the rim.
    """

    cells: int
    corners_per_cell: float
    t_share: float
    square_share: float
    mean_area_px: float


def _pruned(skeleton: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Remove dead ends until none is left."""
    around = np.ones((3, 3))
    around[1, 1] = 0
    rim = np.zeros_like(skeleton)
    rim[:2] = rim[-2:] = rim[:, :2] = rim[:, -2:] = True
    while True:
        ends = skeleton & ~rim & (ndimage.convolve(skeleton.astype(np.int8), around.astype(np.int8)) <= 1)
        if not ends.any():
            return skeletonize(skeleton)
        skeleton = skeleton & ~ends


def _junctions(skeleton: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Number the junctions: blobs round pixels that three or more branches leave, close ones joined."""
    p = np.pad(skeleton, 1).astype(np.int8)
    ring = [p[:-2, 1:-1], p[:-2, 2:], p[1:-1, 2:], p[2:, 2:], p[2:, 1:-1], p[2:, :-2], p[1:-1, :-2], p[:-2, :-2]]
    crossings = sum(((b == 1) & (a == 0)).astype(int) for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    near = ndimage.distance_transform_edt(~(skeleton & (crossings >= 3))) <= _NODE_PX
    return ndimage.label(near, np.ones((3, 3)))[0]


def _arms(
    branches: NDArray[np.int32], blobs: NDArray[np.int32], one: int, part: tuple[slice, ...], reach: float
) -> list[float]:
    """Return directions (degrees) in which branches leave a junction, along their first ``reach`` pixels."""
    mine = blobs[part] == one
    rows, cols = np.mgrid[part]
    node = np.array([rows[mine].mean(), cols[mine].mean()])
    touching = np.unique(branches[part][ndimage.binary_dilation(mine, np.ones((3, 3)))])
    found = []
    for branch in touching[touching > 0]:
        at = np.argwhere(branches[part] == branch) + np.array([rows[0, 0], cols[0, 0]])
        far = np.hypot(*(at - node).T)
        at = at[far <= reach][np.argsort(far[far <= reach])]
        if not len(at):
            continue
        half = len(at) // 2
        step = at[half:].mean(axis=0) - at[:half].mean(axis=0) if half >= 2 else at.mean(axis=0) - node
        found.append(float(np.degrees(np.arctan2(step[0], step[1]))))
    return sorted(found)


def measure(ink: NDArray[np.floating], reach: float, threshold: float = 0.12) -> Topology:
    """Measure a picture of cracks.

    Parameters
    ----------
    ink
        (rows, cols), 0 film to 1 crack.
    reach
        How far from a junction the directions of its arms are taken, pixels: a fifth of a cell or so.
    threshold
        Ink that counts as crack.
    """
    crack = remove_small_holes(ink > threshold, max_size=12)
    skeleton = _pruned(skeletonize(ndimage.binary_closing(crack, np.ones((3, 3)))))
    cells, count = ndimage.label(~skeleton)
    edge = int(reach) + 4
    outer = np.concatenate(
        [cells[:edge].ravel(), cells[-edge:].ravel(), cells[:, :edge].ravel(), cells[:, -edge:].ravel()]
    )
    inner = np.setdiff1d(np.arange(1, count + 1), outer)
    blobs = _junctions(skeleton)
    branches = ndimage.label(skeleton & (blobs == 0), np.ones((3, 3)))[0]
    corners, cells_made, squares, through, junctions = 0, 0.0, [], 0, 0
    for one, box in enumerate(ndimage.find_objects(blobs), start=1):
        if any(b.start < edge or b.stop > size - edge for b, size in zip(box, ink.shape, strict=True)):
            continue
        arms = _arms(branches, blobs, one, tuple(slice(b.start - edge + 3, b.stop + edge - 3) for b in box), reach)
        if len(arms) < 3:
            continue
        gaps = np.diff([*arms, arms[0] + 360.0])
        junctions += 1
        corners += len(arms) - int(gaps.max() > _STRAIGHT_DEG)
        cells_made += len(arms) / 2.0 - 1.0
        widest = int(gaps.argmax())
        if len(arms) == 3 and gaps[widest] > _STRAIGHT_DEG:
            through += 1
            line = (arms[widest] + arms[(widest + 1) % 3]) / 2.0
            stem = arms[(widest + 2) % 3]
            squares.append(abs((stem - line + 90.0) % 180.0 - 90.0))
    sizes = np.bincount(cells.ravel(), minlength=count + 1)
    return Topology(
        len(inner), corners / cells_made, through / junctions, float(np.mean(np.array(squares) <= 20.0)),
        float(sizes[inner].mean()),
    )  # fmt: skip
