"""Cracks of a drying film: when it cracks, how far apart, how wide, and the net that follows.

The laws are in SI; the net (``crack_division``, ``crack_opening``, ``crack_drawing``, ``crack_flakes``) lies in inches
on the wall. A film that shrinks by ``strain`` while stuck to a stiff base is stretched by stress = modulus x strain; it
cracks if it is thick enough to pay for the crack, and goes on dividing until the base's grip can no longer build the
stress up between two cracks.

References
----------
Hutchinson & Suo 1992, Adv. Appl. Mech. 29:63 (energy of a channelling crack; factor 1.976 from memory).
Groisman & Kaplan 1994, Europhys. Lett. 25:415, doi 10.1209/0295-5075/25/6/004 (spacing is linear in the thickness, the
friction at the base is the main source of stress).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from render.kept import Kept
from render.physics.crack_division import STEP_IN, Division, SpacingMap, divide
from render.physics.crack_drawing import CrackFields, Window, draw, ink_of, runs_of
from render.physics.crack_opening import Cells, Net, Strands, open_cracks

CHANNEL_Z = 1.976
"""Z in G = Z stress^2 thickness / modulus for a film as stiff as its base (Hutchinson & Suo 1992, from memory)."""


def critical_thickness(stress: float, modulus: float, energy: float) -> float:
    """Thickness below which a film does not crack, m: energy x modulus / (Z stress^2).

    ``stress`` and plane-strain ``modulus`` in Pa, ``energy`` of a crack in J/m2 (Griffith's balance with the
    channelling crack of Hutchinson & Suo 1992).

    Raises
    ------
    ValueError
        If a value is not above zero.
    """
    if min(stress, modulus, energy) <= 0:
        raise ValueError("stress, modulus and energy must be above zero")
    return energy * modulus / (CHANNEL_Z * stress * stress)


def spacing(thickness: ArrayLike, strength: float, friction: ArrayLike) -> NDArray[np.float64]:
    """Distance at which cracks stop dividing a film, m: 2 strength thickness / friction.

    From an open crack the stress rises by friction / thickness per metre; half way to the next crack it reaches the
    ``strength``. ``thickness`` in m, ``strength`` and ``friction`` (shear that the base can hold) in Pa. Linear in the
    thickness as Groisman & Kaplan 1994 measured.
    """
    return 2.0 * strength * np.asarray(thickness, float) / np.asarray(friction, float)


def bonded_opening(thickness: ArrayLike, strain: float) -> NDArray[np.float64]:
    """Mean width of a crack in a film that does not slide, m: 2 Z strain thickness.

    The crack's energy is half of stress times opening: Z stress^2 h / E = stress opening / 2.
    """
    return 2.0 * CHANNEL_Z * strain * np.asarray(thickness, float)


def sliding_opening(between: ArrayLike, strain: float, strength_strain: float) -> NDArray[np.float64]:
    """Width of a crack in a film that slides on its base, m: spacing x (strain - strength_strain / 2).

    The piece between two cracks draws back by ``strain`` (free shrinkage) less what friction holds: the stress rises
    from 0 at the rim to the strength in the middle, whose strain is ``strength_strain``.
    """
    return np.maximum(np.asarray(between, float) * (strain - 0.5 * strength_strain), 0.0)


_COARSE_PX = 0.4  # points of a crack need lie no closer on the picture
_FINER_PPI = (34.0, 68.0)  # from these resolutions on there are two, then three points to one of the division's


def net(
    map_: SpacingMap, window: tuple[float, float, float, float], key: int, ppi: float = 100.0, kept: Kept | None = None
) -> Net:
    """Return the crack net over a window (top, left, bottom, right; inches), fine enough for a picture.

    Every resolution (``ppi``, pixels per inch) has the same net; from 68 px/in on it has all its detail. A smaller
    window has the same net, bit for bit. What is ``kept`` from before is not divided again.
    """
    step_in, finer = max(STEP_IN, _COARSE_PX / ppi), 1 + sum(ppi > one for one in _FINER_PPI)
    asked, store = (map_, window, key, step_in), Kept(0) if kept is None else kept
    division = store.once(asked, lambda: divide(map_, window, key, step_in=step_in))
    return store.once((*asked, finer), lambda: open_cracks(division, map_, window, finer))


__all__ = [
    "CHANNEL_Z", "Cells", "CrackFields", "Division", "Net", "SpacingMap", "Strands", "Window", "bonded_opening",
    "critical_thickness", "divide", "draw", "ink_of", "net", "open_cracks", "runs_of", "sliding_opening", "spacing",
]  # fmt: skip
