"""The wall: what the layers change.

A wall is a frozen record of read-only arrays, one value per pixel, and a ledger in gallons. Coats and colours lie on it
as *strata*, oldest first. ``add``, ``take``, ``cut`` and ``move`` are the only ways to change material; each books what
it does, so that for every stratum

    added = on the wall + removed + run off.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from render import strips
from render.fields import Array, Grid
from render.units import MIL_FT2_PER_GAL

_SURFACE = ("height", "wet", "thirst", "sheen", "tone", "slip", "loose", "cracks", "fallen")
Booked = Literal["removed", "run_off"]


class LedgerError(ArithmeticError):
    """More was taken from a stratum than lies there, or material was moved without being kept."""


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return the array, read-only."""
    array.flags.writeable = False
    return array


def over(on: NDArray[np.bool_], value: float | Array, field: Array) -> Array:
    """Return a field with new values where ``on``: a field that is even still, or again, costs no memory."""
    new = np.asarray(value, np.float32)
    even = field.strides == (0,) * field.ndim
    if even and new.ndim == 0 and field.flat[0] == new:
        return field
    if on.all():
        return np.broadcast_to(new, field.shape)
    return np.where(on, new, field)


def _within(fixed: Array, film: Array) -> Array:
    """Return what soaked in, nowhere more than the film: the same array where it is so already."""
    less = fixed
    for part in strips.parts(film.shape):
        if (fixed[part] > film[part]).any():
            less = np.array(fixed) if less is fixed else less
            np.minimum(fixed[part], film[part], out=less[part])
    return frozen(less)


@dataclass(frozen=True, eq=False)
class Stratum:
    """What one layer left on the wall. Its colour and recipe stay with the layer: a new colour re-runs no physics.

    Attributes
    ----------
    name
        The layer's name.
    role
        ``coat`` builds height and hides; ``colour`` is a glaze or stain that lies on or in what is there; ``clear``
        is a sealer: what lies under it moves no more.
    film
        float32 (rows, cols), mil as mixed.
    fixed
        For colours: the part of ``film`` that has soaked in, or None. It moves no more, and colours from inside.
    thirst, sheen
        Absorbency and sheen that a coat shows where it lies on top, 0 to 1.
    stands
        Share of a coat's film that stands as height when it has dried, above 0 and at most 1.
    """

    name: str
    role: Literal["coat", "colour", "clear"]
    film: Array
    fixed: Array | None = None
    thirst: float = 0.5
    sheen: float = 0.0
    stands: float = 1.0

    @property
    def rise(self) -> Array:
        """Return how far a coat raises the wall, mil: float32 (rows, cols)."""
        return self.film if self.stands == 1.0 else self.film * np.float32(self.stands)

    @cached_property
    def mean(self) -> float:
        """Mean film over the wall, mil (float64 sum)."""
        return float(np.mean(self.film, dtype=np.float64))

    def of_film(self, film: Array, fixed: Array | None = None) -> Stratum:
        """Return the stratum with another film; fixed colour, as it was if not given, never exceeds it."""
        fixed = self.fixed if fixed is None else fixed
        film = frozen(np.asarray(film, np.float32))
        return replace(self, film=film, fixed=None if fixed is None else _within(fixed, film))


@dataclass(frozen=True)
class Entry:
    """One stratum's account in gallons as mixed."""

    added: float = 0.0
    removed: float = 0.0
    run_off: float = 0.0


@dataclass(frozen=True, eq=False)
class Wall:
    """The state of a wall after some layers. All fields are read-only float32 (rows, cols) unless said.

    Attributes
    ----------
    grid, area_ft2
        Where the pixels are, and the wall's net area.
    height
        mil above the bare wall.
    strata
        Coats and colours, oldest first.
    ledger
        Stratum name to ``Entry``.
    wet
        Free water, 0 dry to 1 running.
    thirst
        How fast the surface drinks, 0 sealed to 1 bare plaster.
    sheen
        0 matt to 1 polished.
    tone
        Factor on the reflectance of the uppermost coat (burnish, patchy drying); 1 where even.
    slip
        Release size under the next coat: 0 bonded to 1 slippery.
    loose
        How loosely the uppermost coat hangs on, 0 to 1.
    cracks
        Share of the pixel that is open crack in the uppermost coat, 0 to 1.
    fallen
        Share of the pixel from which a coat broke away, 0 to 1.
    """

    grid: Grid
    area_ft2: float
    height: Array
    strata: tuple[Stratum, ...] = ()
    ledger: Mapping[str, Entry] = field(default_factory=dict)
    wet: Array = field(default_factory=lambda: np.zeros((1, 1), np.float32))
    thirst: Array = field(default_factory=lambda: np.zeros((1, 1), np.float32))
    sheen: Array = field(default_factory=lambda: np.zeros((1, 1), np.float32))
    tone: Array = field(default_factory=lambda: np.ones((1, 1), np.float32))
    slip: Array = field(default_factory=lambda: np.zeros((1, 1), np.float32))
    loose: Array = field(default_factory=lambda: np.zeros((1, 1), np.float32))
    cracks: Array = field(default_factory=lambda: np.zeros((1, 1), np.float32))
    fallen: Array = field(default_factory=lambda: np.zeros((1, 1), np.float32))

    def __post_init__(self) -> None:
        """Give every field the wall's shape (a constant field costs no memory) and lock it."""
        for name in _SURFACE:
            array = np.asarray(getattr(self, name), np.float32)
            if array.shape != self.grid.shape:
                array = np.broadcast_to(array, self.grid.shape)
            if array.flags.writeable:
                frozen(array)
            object.__setattr__(self, name, array)

    @classmethod
    def bare(cls, height_in: float, width_in: float, ppi: float, thirst: float = 0.35) -> Wall:
        """Return an empty, flat, matt wall of that height and width in inches."""
        grid = Grid.over(height_in, width_in, ppi)
        zero = np.zeros((1, 1), np.float32)
        return cls(grid, height_in * width_in / 144.0, zero, thirst=np.full((1, 1), thirst, np.float32))

    # --- reading ----------------------------------------------------------------------------------------------------

    def arrays(self) -> list[Array]:
        """Return the arrays that take memory: what is even over the wall does not."""
        films = [one for layer in self.strata for one in (layer.film, layer.fixed) if one is not None]
        every = [*(getattr(self, name) for name in _SURFACE), *films]
        return [one for one in every if any(one.strides)]

    def gallons(self, film: NDArray[Any]) -> float:
        """Return the volume of a film in mil over this wall, in gallons (float64 sum)."""
        return float(np.mean(film, dtype=np.float64)) * self.area_ft2 / MIL_FT2_PER_GAL

    def stratum(self, name: str) -> Stratum:
        """Return the stratum that a layer left.

        Raises
        ------
        KeyError
            If no stratum has that name.
        """
        for one in self.strata:
            if one.name == name:
                return one
        raise KeyError(name)

    @cached_property
    def coats(self) -> tuple[Stratum, ...]:
        """The coats, oldest first."""
        return tuple(one for one in self.strata if one.role == "coat")

    @cached_property
    def top(self) -> NDArray[np.int16]:
        """Index in ``strata`` of the uppermost coat at each pixel, -1 where the wall is bare: (rows, cols)."""
        top = np.full(self.grid.shape, -1, np.int16)
        for index, one in enumerate(self.strata):
            if one.role == "coat":
                top[one.film > 0] = index
        return frozen(top)

    def open_colours(self, of: tuple[str, ...] = ()) -> tuple[Stratum, ...]:
        """Return the colours that a wet act can still move: those laid since the last coat, or those named."""
        last = max((i for i, one in enumerate(self.strata) if one.role != "colour"), default=-1)
        if of:
            sealed = max((i for i, one in enumerate(self.strata) if one.role == "clear"), default=-1)
            return tuple(one for one in self.strata[sealed + 1 :] if one.role == "colour" and one.name in of)
        return tuple(self.strata[last + 1 :])

    # --- changing ---------------------------------------------------------------------------------------------------

    def evolve(self, **fields: Any) -> Wall:
        """Return the wall with other surface fields (not material: see ``add``, ``take``, ``cut``, ``move``)."""
        return replace(self, **fields)

    def add(self, stratum: Stratum, **fields: Any) -> Wall:
        """Return the wall with one more stratum; what it holds is booked as added.

        A coat raises the height by what stands of its film, and where it lies gives the surface its thirst and sheen
        and takes away wetness, slip, looseness, cracks, fallen places and tone, unless ``fields`` says otherwise.

        Raises
        ------
        LedgerError
            If a stratum has that name already, or the film is negative or not finite.
        """
        film = frozen(np.asarray(stratum.film, np.float32))
        if stratum.name in self.ledger:
            raise LedgerError(f"two layers are called {stratum.name!r}")
        if film.size and not (float(film.min()) >= 0.0 and np.isfinite(film.max())):
            raise LedgerError(f"{stratum.name!r} has a film below zero")
        stratum = replace(stratum, film=film)
        ledger = {**self.ledger, stratum.name: Entry(added=self._holds(stratum))}
        if stratum.role == "coat":
            fields = {**self._covered(stratum, known=fields), **fields}
        return replace(self, strata=(*self.strata, stratum), ledger=ledger, **fields)

    def _covered(self, coat: Stratum, known: Collection[str]) -> dict[str, Array]:
        """Return the surface fields after a coat, but for those that are known already."""
        on = coat.film > 0
        fresh = {"thirst": coat.thirst, "sheen": coat.sheen, "wet": 0.0, "slip": 0.0, "loose": 0.0, "cracks": 0.0}
        if self.fallen.any():
            fresh["fallen"] = 0.0
        unknown = [(name, value) for name, value in (*fresh.items(), ("tone", 1.0)) if name not in known]
        fields = {name: over(on, value, getattr(self, name)) for name, value in unknown}
        return {**fields, "height": self.height + coat.rise}

    def take(self, name: str, amount: Array, booked: Booked = "removed") -> Wall:
        """Return the wall with ``amount`` (mil, rows x cols) less of a stratum; height is not touched.

        Raises
        ------
        LedgerError
            If more is taken than lies there (beyond float32 rounding).
        """
        one = self.stratum(name)
        amount, left = np.broadcast_to(amount, one.film.shape), np.empty(one.film.shape, np.float32)

        def lessen(part: slice) -> float:
            some = np.subtract(one.film[part], amount[part], out=left[part], casting="same_kind")
            least = float(some.min())
            np.maximum(some, 0.0, out=some)
            return least

        least = min(strips.by_rows(lessen, left.shape))
        if least < -1e-3 and least < -1e-3 * float(one.film.max()):
            raise LedgerError(f"more of {name!r} is taken than lies there")
        return self._rebook(one, left, booked)

    def _holds(self, one: Stratum) -> float:
        """Return the volume of a stratum in gallons."""
        return one.mean * self.area_ft2 / MIL_FT2_PER_GAL

    def _rebook(self, one: Stratum, film: Array, booked: Booked) -> Wall:
        """Replace a stratum's film by a smaller one and book the difference."""
        new, entry = one.of_film(film), self.ledger[one.name]
        gone = self._holds(one) - self._holds(new)
        return self._swap(one, new, replace(entry, **{booked: getattr(entry, booked) + gone}))

    def _swap(self, one: Stratum, new: Stratum, entry: Entry) -> Wall:
        """Put a stratum and its account in another's place."""
        strata = tuple(new if other is one else other for other in self.strata)
        return replace(self, strata=strata, ledger={**self.ledger, one.name: entry})

    def move(self, name: str, film: Array, *, fixed: Array | None = None, run_off_gal: float = 0.0) -> Wall:
        """Return the wall with a stratum's material moved about: ``film`` is where it lies now.

        What left at the floor line is ``run_off_gal``. The film, which becomes the wall's, is scaled by the rounding
        error of the move, so the ledger closes.

        Raises
        ------
        LedgerError
            If material was lost or made on the way (more than one part in a thousand).
        """
        one = self.stratum(name)
        before, after = self._holds(one), self.gallons(film)
        wanted = before - run_off_gal
        if abs(after - wanted) > 1e-3 * max(before, 1e-12):
            raise LedgerError(f"moving {name!r} made {after - wanted:+.3g} gal from nothing")
        if after > 0.0:
            own = film if film.flags.writeable else np.empty_like(film)
            film = np.multiply(film, np.float64(wanted / after), out=own, casting="same_kind")
        new, entry = one.of_film(film, fixed), self.ledger[name]
        return self._swap(one, new, replace(entry, run_off=entry.run_off + before - self._holds(new)))

    def cut(self, depth: Array) -> Wall:
        """Return the wall with ``depth`` (mil) abraded or broken off: the uppermost strata go first, the height falls.

        Colour on a coat leaves in proportion to how far the cut goes into it (wholly from 0.5 mil on). Nothing is cut
        from the bare wall.
        """
        left, gone = np.empty(self.grid.shape, np.float32), np.zeros(self.grid.shape, np.float32)
        left[:] = depth
        wall = self
        for one in reversed(self.strata):
            film = _abraded(one, left, gone)
            if film is not None:
                wall = wall._rebook(one, film, "removed")
        return wall.evolve(height=np.subtract(wall.height, gone, out=gone))


def _abraded(one: Stratum, left: Array, gone: Array) -> Array | None:
    """Return what a cut that has ``left`` to go (mil) leaves of a stratum's film, or None where it does not reach it.

    What goes of a coat is taken from ``left`` and added to ``gone``.
    """
    coat, stands = one.role == "coat", np.float32(one.stands)

    def off(part: slice) -> Array:
        if coat:
            return np.minimum(one.film[part], left[part] / stands)
        share = np.clip(left[part] * np.float32(2.0), 0.0, 1.0)
        return np.multiply(share, one.film[part], out=share)

    def cut(part: slice) -> None:
        some = off(part)
        np.subtract(one.film[part], some, out=film[part])
        if coat:
            some *= stands
            left[part] -= some
            gone[part] += some

    if not any(off(part).any() for part in strips.parts(left.shape)):
        return None
    film = np.empty(left.shape, np.float32)
    strips.by_rows(cut, left.shape)
    return film
