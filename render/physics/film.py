"""Thin liquid films on a vertical wall: closed forms and a conservative solver.

Rows run down the wall. The closed forms are in SI. The solver takes any two consistent lengths, one along
the wall and one through the film (the layers use inches and mil), because only ``mobility`` joins them.

References
----------
Nusselt 1916, Z. VDI 60:541 (falling film; formula from memory, re-derived).
Huppert 1982, Nature 300:427-429 (constant volume on a slope; formula from memory, re-derived).
Mezger, The Rheology Handbook, section 3.3.4.2.12d (yield point against sagging, tau0 = a rho g).
Orchard 1962, Appl. Sci. Res. A11:451 (levelling; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.floating]

GRAVITY = 9.81
"""Acceleration of free fall, m/s2."""


def nusselt_flux(film: ArrayLike, density: float, viscosity: float, gravity: float = GRAVITY) -> Array:
    """Volume running down per second and per metre of wall, m2/s: rho g h^3 / (3 mu).

    ``film`` in m, ``density`` in kg/m3, ``viscosity`` in Pa s. Nusselt 1916.
    """
    return density * gravity * np.asarray(film, dtype=float) ** 3 / (3.0 * viscosity)


def nusselt_speed(film: ArrayLike, density: float, viscosity: float, gravity: float = GRAVITY) -> Array:
    """Mean speed of a film, m/s: rho g h^2 / (3 mu); its surface moves 1.5 times as fast."""
    return density * gravity * np.asarray(film, dtype=float) ** 2 / (3.0 * viscosity)


def huppert_front(area: float, kinematic_viscosity: float, time: ArrayLike, gravity: float = GRAVITY) -> Array:
    """How far a slab of cross-section ``area`` (m2) has run after ``time`` (s), in m: (9 A^2 g t / 4
    nu)^(1/3).

    Huppert 1982.
    """
    return (9.0 * area**2 * gravity * np.asarray(time, dtype=float) / (4.0 * kinematic_viscosity)) ** (1 / 3)


def huppert_profile(
    below_top: ArrayLike, area: float, kinematic_viscosity: float, time: float, gravity: float = GRAVITY
) -> Array:
    """Film (m) at a distance ``below_top`` (m): (nu x / g t)^(1/2) down to the front, nothing beyond it.

    Huppert 1982.
    """
    x = np.asarray(below_top, dtype=float)
    film = np.sqrt(kinematic_viscosity * np.clip(x, 0.0, None) / (gravity * time))
    return np.where(x <= huppert_front(area, kinematic_viscosity, time, gravity), film, 0.0)


def hang_limit(yield_stress: float, density: float, gravity: float = GRAVITY) -> float:
    """Thickest film (m) that hangs still: tau0 / (rho g). ``yield_stress`` in Pa. Mezger."""
    return yield_stress / (density * gravity)


def bingham_factor(yield_ratio: ArrayLike) -> Array:
    """Share of the Newtonian flux left to a film with a yield stress: 1 - 1.5 B + .5 B^3, 0 from B = 1 on.

    ``yield_ratio`` B is the hang limit over the film. Textbook result, re-derived.
    """
    b = np.clip(np.asarray(yield_ratio, dtype=float), 0.0, 1.0)
    return 1.0 - 1.5 * b + 0.5 * b**3


def levelling_rate(film: float, wavelength: float, surface_tension: float, viscosity: float) -> float:
    """Decay per second of brush-mark ripples: 16 pi^4 sigma h^3 / (3 mu lambda^4), all SI. Orchard 1962."""
    return 16.0 * np.pi**4 * surface_tension * film**3 / (3.0 * viscosity * wavelength**4)


@dataclass(frozen=True)
class FilmLaw:
    """How one liquid moves on one wall.

    Attributes
    ----------
    mobility : g / (3 nu) in the units of the grid: a film h moves at ``mobility * h**2`` wall lengths a
    second.
    spacing : cell size, wall lengths.
    hang : film that a yield stress keeps still (:func:`hang_limit`); flux times :func:`bingham_factor`.
    hold : film kept by the contact line, number or (rows, cols): speed ~ h^2 - hold^2.
    cap : film above which the speed no longer grows, so that one thick cell does not rule the time step.
    relief_pull : how strongly a slope of the wall steers the film (slope of 1 changes the drive by this
    much).
    levelling : how strongly the film's own slope, film lengths per wall length, drives it from thick to thin.
    """

    mobility: float
    spacing: float
    hang: float = 0.0
    hold: float | Array = 0.0
    cap: float = np.inf
    relief_pull: float = 0.0
    levelling: float = 0.0

    def speed(self, film: Array) -> Array:
        """Downward speed of ``film`` under its own weight, wall lengths per second."""
        speed = np.minimum(film, self.cap)
        speed *= speed
        speed -= np.asarray(self.hold, film.dtype) ** 2
        np.maximum(speed, 0.0, out=speed)
        speed *= self.mobility
        if self.hang > 0:
            speed *= bingham_factor(self.hang / np.maximum(film, 1e-30))
        return speed


@dataclass(frozen=True)
class Flowed:
    """A film after it ran: ``film`` and ``carried`` (rows, cols); what left at the floor, per column."""

    film: Array
    carried: tuple[Array, ...]
    run_off: Array
    carried_off: tuple[Array, ...]
    steps: int


class _Faces:
    """How fast a film goes through the lower and the right faces of the cells, (rows, cols) each: what does not change
    from step to step, and room for what does.

    The right faces are worked as one long line, in which the last cell of a row is followed by the first of the next:
    nothing goes through the face between them. numpy is twice as fast along it.
    """

    def __init__(self, law: FilmLaw, relief: Array | None, like: Array) -> None:
        """Make ready for films of the shape and dtype of ``like``."""
        self.law = law
        pull = 0.0 if relief is None else law.relief_pull / law.spacing
        self.steered = law.relief_pull != 0 or law.levelling != 0
        self.drive, self.across = np.ones_like(like), np.zeros_like(like)
        if relief is not None and pull:
            self.drive -= np.diff(relief, axis=0, append=relief[-1:]) * pull
            self.across[:, :-1] -= np.diff(relief, axis=1) * pull
        self.hold = np.asarray(law.hold, like.dtype)
        self.held = bool(np.any(self.hold))
        self.down, self.right, self.scratch = np.empty_like(like), np.zeros_like(like), np.empty_like(like)

    def speeds(self, film: Array) -> tuple[Array, Array | None]:
        """Speeds now; they are overwritten at the next call."""
        weight = self.law.speed(film)
        if not self.steered:
            return weight, None
        down, law = self.down, self.law
        k = law.levelling / law.spacing
        np.subtract(film[:-1], film[1:], out=down[:-1])
        down[-1] = 0.0
        down *= k
        down += self.drive
        np.clip(down, 0.0, 1.5, out=down)
        down *= weight
        cells, right, weights = film.reshape(-1), self.right.reshape(-1)[:-1], weight.reshape(-1)
        np.subtract(cells[:-1], cells[1:], out=right)
        right *= k
        right += self.across.reshape(-1)[:-1]
        np.clip(right, -0.5, 0.5, out=right)
        out = np.maximum(right, 0.0)
        out *= weights[:-1]
        np.minimum(right, 0.0, out=right)
        right *= weights[1:]
        right += out
        self.right[:, -1] = 0.0
        return down, self.right

    def free_share(self, film: Array) -> Array | float:
        """Share of a cell above what the contact line keeps: an explicit step must not pull it below that."""
        if not self.held:
            return 1.0
        free = np.maximum(film, 1e-30, out=self.scratch)
        np.divide(self.hold, free, out=free)
        np.subtract(1.0, free, out=free)
        return np.maximum(free, 0.0, out=free)


def _time_step(film: Array, down: Array, across: Array | None, law: FilmLaw, left: float) -> float:
    """Longest stable step: a film wave runs at three times the film's speed, and no cell may lose all it
    has. Zero where nothing moves.
    """
    fastest, widest = 3.0 * float(down.max(initial=0.0)), 0.0
    if across is not None:
        widest = max(float(across.max(initial=0.0)), -float(across.min(initial=0.0)))
    if fastest <= 0 and widest <= 0:
        return 0.0
    if across is not None:
        fastest = max(fastest, 0.5 * fastest + 4.0 * widest)
        thick = min(float(film.max()), law.cap)
        fastest = max(fastest, 4.0 * law.levelling * law.mobility * thick**3 / law.spacing)
    return min(left, 0.9 * law.spacing / fastest)


def _move(amount: Array, out_down: Array, out_right: Array | None) -> Array:
    """Donor-cell exchange, in place: each face takes its share of the upwind cell. Returns what leaves at the floor."""
    leaving = amount * out_down
    if out_right is not None:
        cells, right = amount.reshape(-1), out_right.reshape(-1)[:-1]
        net = np.maximum(right, 0.0)
        net *= cells[:-1]
        left = np.minimum(right, 0.0)
        left *= cells[1:]
        net += left
        cells[:-1] -= net
        cells[1:] += net
    amount -= leaving
    amount[1:] += leaving[:-1]
    return leaving[-1]


def flow(film: Array, law: FilmLaw, time: float, relief: Array | None = None, carried: Sequence[Array] = ()) -> Flowed:
    """Let a film run down a vertical wall for ``time`` seconds.

    Parameters
    ----------
    film : (rows, cols) film, film lengths, not negative.
    relief : (rows, cols) height of the wall, wall lengths; a rise below a cell (a ledge) slows it.
    carried : further (rows, cols) amounts that travel with the film, such as pigment.

    The top and the sides are closed and the floor is open. Every exchange is between two cells, so the sum
    of film and run-off is kept to rounding; the dtype of ``film`` is kept too.

    Raises
    ------
    ValueError : a negative film, or a time that is negative.
    """
    if time < 0 or (film.size and float(film.min()) < 0):
        raise ValueError(f"flow: film and time must not be negative (least film {film.min()}, time {time})")
    amounts = [np.array(one, order="C") for one in (film, *carried)]
    off = [np.zeros(film.shape[1], dtype=np.float64) for _ in amounts]
    faces = _Faces(law, relief, amounts[0])
    steps, left = 0, float(time)
    while left > 0:
        down, across = faces.speeds(amounts[0])
        dt = _time_step(amounts[0], down, across, law, left)
        if dt == 0:
            break
        down *= dt / law.spacing
        np.minimum(down, faces.free_share(amounts[0]), out=down)
        if across is not None:
            across *= dt / law.spacing
        for i, one in enumerate(amounts):
            off[i] += _move(one, down, across)
        left, steps = (0.0 if dt >= left else left - dt), steps + 1
    return Flowed(amounts[0], tuple(amounts[1:]), off[0], tuple(off[1:]), steps)
