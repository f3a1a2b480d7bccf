"""From strata to colour: what is seen at each pixel, and how much of it belongs to which layer.

Strata are laid over the bare wall oldest first, each a Kubelka-Munk film over what is below it; what soaked in of the
colours on a coat stains it together, and what lies on it is laid on top. The share of a layer in what is seen is its
contrast ratio (how much it hides black from white) times what later strata let through.

Pixels are worked on in chunks, downwards first: where a coat hides, nothing below is looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from render import colour, threads
from render.colour import Film
from render.fields import Array
from render.layers.base import Optics
from render.light import Lamp, exposed
from render.recall import Lower, Recall
from render.wall import Stratum, Wall, frozen

if TYPE_CHECKING:
    from render.mate import Mate

_CHUNK = colour.CHUNK
_SAMPLES = 40_000
_MATES = 0.26  # share of the rows that a mate looks at, who also works out the light
# How deep a glaze soaks into plaster, and how much that plaster scatters per mil: chosen by eye, no figure was found.
_SOAK_MIL, _SOAK_SCATTER = 6.0, 0.8

Places = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Seen:
    """What is seen: colour and shares.

    Attributes
    ----------
    rgb
        float32 (rows, cols, 3), linear sRGB of the surface under the lamp's light, before relief shades it.
    sample
        Reflectances (n, bands) of evenly spread pixels, for figures that do not depend on the lamp.
    shares
        Layer name to its share of what is seen, 0 to 1; ``""`` is the bare wall; all sum to 1.
    metal
        float32 (rows, cols), the share of each pixel that shows metal, 0 to 1; None if no layer is metal.
    """

    rgb: Array
    sample: Array
    shares: Mapping[str, float]
    find_main: Callable[[], NDArray[np.int16]]
    metal: Array | None = None

    @cached_property
    def main(self) -> NDArray[np.int16]:
        """int16 (rows, cols), the stratum that a pixel shows most of, -1 for the bare wall; found when asked for."""
        return frozen(self.find_main())


def hiding(film: Array, k: NDArray[np.float64], s: NDArray[np.float64]) -> Array:
    """Return the contrast ratio 0..1 of a film (mil): 1 - (R over white - R over black), mean over the bands."""
    look = colour.film(k, s)
    return look.contrast.take(look.place(film), mode="clip")


def _marks(wall: Wall, ground: NDArray[np.float64], films: Mapping[str, Optics]) -> tuple[tuple[Any, ...], ...]:
    """Return for each stratum what its look depends on besides the strata below it."""
    last = _last_coat(wall.strata)
    return tuple(
        (one.film, one.fixed, *(np.ascontiguousarray(value).tobytes() for value in films[one.name]), ground.tobytes(),
         wall.tone if index == last else None)
        for index, one in enumerate(wall.strata)
    )  # fmt: skip


def _last_coat(strata: Sequence[Stratum]) -> int:
    return max((i for i, one in enumerate(strata) if one.role == "coat"), default=-1)


def ends(strata: Sequence[Stratum]) -> list[int]:
    """Return how many of the lowest strata have a look of their own: all but those amid the colours on a coat."""
    colours = [one.role == "colour" for one in strata]
    amid = (0 < at < len(colours) and colours[at - 1] and colours[at] for at in range(len(colours) + 1))
    return [at for at, inside in enumerate(amid) if not inside]


@dataclass(frozen=True, eq=False)
class _Pile:
    """The strata of a wall, or of some rows of it, and the tone of the last coat (rows, cols)."""

    strata: tuple[Stratum, ...]
    tone: Array

    def rows(self, some: slice) -> _Pile:
        """Return some rows."""
        strata = (
            replace(one, film=one.film[some], fixed=None if one.fixed is None else one.fixed[some])
            for one in self.strata
        )
        return _Pile(tuple(strata), self.tone[some])


class _Strata:
    """The strata of some rows: their films (n,), tabulated optics, and which of them lie on which."""

    def __init__(self, pile: _Pile, optics: Sequence[Optics], films: Sequence[Film], rows: slice) -> None:
        self.all, self.optics, self.films = pile.strata, optics, films
        self.toned = _last_coat(pile.strata)
        self.rows, self.tone = rows, pile.tone
        self.size = (rows.stop - rows.start) * pile.tone.shape[1]

    def thick(self, index: int, at: Places | None) -> Array:
        """Return the film of a stratum, mil, at some pixels of the rows."""
        return _read(self.all[index].film, self.rows, at)

    def soaked(self, index: int, at: Places | None) -> Array | None:
        """Return what soaked in of a colour, mil, at some pixels of the rows, or None."""
        one = self.all[index]
        return None if one.fixed is None or one.role != "colour" else _read(one.fixed, self.rows, at)


def _tables(strata: Sequence[Stratum], films: Mapping[str, Optics]) -> tuple[list[Optics], list[Film]]:
    """Return (k, s) per mil of each stratum, and the same tabulated."""
    optics = [films[one.name] for one in strata]
    return optics, [colour.film(*one) for one in optics]


def _read(field: Array, rows: slice, at: Places | None) -> Array:
    flat = field[rows].reshape(-1)
    return flat if at is None else flat.take(at)


@dataclass(frozen=True, eq=False)
class _Level:
    """A coat, or the ground, with the colours ``first`` to ``stop`` - 1 on it.

    ``at`` are the pixels where it shows (None: all), ``coat`` its number or -1 for the ground, ``place`` its films'
    places in the table, ``below`` which of ``at`` show what lies below it (None: all).
    """

    at: Places | None
    coat: int
    first: int
    stop: int
    place: Places | None = None
    below: Places | None = None


def _levels(strata: _Strata, bottom: int, top: int) -> list[_Level]:
    """Return the levels from stratum ``top`` - 1 down to ``bottom`` that show, and last the ground below it if it
    shows."""
    found: list[_Level] = []
    at: Places | None = None
    stop = top
    for coat in range(top - 1, bottom - 1, -1):
        if strata.all[coat].role == "colour":
            continue
        film = strata.films[coat]
        place = film.place(strata.thick(coat, at))
        shows = np.flatnonzero(place != film.hidden) if strata.all[coat].role == "coat" else None
        if shows is not None and shows.size == place.size:
            shows = None
        found.append(_Level(at, coat, coat + 1, stop, place, shows))
        stop = coat
        if shows is not None:
            if not shows.size:
                return found
            at = shows if at is None else at[shows]
    return [*found, _Level(at, -1, bottom, stop)]


def _paint(strata: _Strata, levels: Sequence[_Level], start: Array) -> Array:
    """Return the reflectance (n, bands) of the top level of some; ``start`` is that of the ground, of one colour or
    (n, bands)."""
    work = np.empty((2, strata.size, start.shape[-1]), np.float32)
    seen = np.empty((0, start.shape[-1]), np.float32)
    for level in reversed(levels):
        if level.place is None:
            seen = _ground(start, strata.size, level.at)
        else:
            seen = _coated(seen, strata.films[level.coat], level.place, level.below, work)
            if level.coat == strata.toned:
                _tone(seen, _read(strata.tone, strata.rows, level.at))
        _colour(seen, strata, level, work)
    return seen


def _ground(start: Array, size: int, at: Places | None) -> Array:
    if start.ndim == 1:
        return np.tile(start, (size if at is None else at.size, 1))
    return start.copy() if at is None else start.take(at, axis=0)


def _coated(seen: Array, film: Film, place: Places, below: Places | None, work: Array) -> Array:
    """Return the colour of a coat at its pixels from that of what it lies on at those that show it."""
    if below is None:
        film.lay(seen, place, work)
        return seen
    shown = np.empty((below.size + 1, seen.shape[1]), np.float32)
    shown[:-1], shown[-1] = seen, film.masstone
    film.lay(shown[:-1], place.take(below), work)
    source = np.full(place.size, below.size, np.intp)
    source[below] = np.arange(below.size)
    return shown.take(source, axis=0)


def _tone(seen: Array, tone: Array) -> None:
    """Multiply colours by a factor each."""
    if (tone != 1).any():
        seen *= tone[:, np.newaxis]


def _colour(seen: Array, strata: _Strata, level: _Level, work: Array) -> None:
    """Stain a level with what soaked into it and lay on it what did not."""
    loads, stains, lying = [], [], []
    for index in range(level.first, level.stop):
        thick = strata.thick(index, level.at)
        soaked = strata.soaked(index, level.at)
        if soaked is not None and soaked.any():
            loads.append(soaked)
            stains.append(strata.optics[index])
            thick = np.maximum(thick - soaked, 0)
        lying.append((strata.films[index], thick))
    if loads:
        amounts = np.stack(loads) * np.float32(1 / (_SOAK_MIL * _SOAK_SCATTER))
        k, s = (np.asarray([one[part] for one in stains], np.float32) for part in (0, 1))
        colour.stain_some(seen, amounts, k, s, work)
    for film, thick in lying:
        film.lay_some(seen, thick, work)


def _veils(strata: _Strata, levels: Sequence[_Level], left: Array) -> Iterator[tuple[int, Array, Places | None]]:
    """Yield (stratum, what is seen of it at some pixels, which: None is all), topmost first, and last the bare wall;
    ``left`` (n,) is what may be seen."""
    for level in levels:
        for index in range(level.stop - 1, level.first - 1, -1):
            film = strata.films[index]
            if film.clear:
                continue
            thick = strata.thick(index, level.at)
            at = colour.touched(thick)
            if at is None:
                yield index, _taken(left, film, film.place(thick)), level.at
            elif at.size:
                some = left.take(at)
                own = _taken(some, film, film.place(thick.take(at)))
                left[at] = some
                yield index, own, at if level.at is None else level.at[at]
        if level.place is None:
            yield -1, left, level.at
            return
        yield level.coat, _taken(left, strata.films[level.coat], level.place), level.at
        if level.below is not None:
            left = left.take(level.below)


def _taken(left: Array, film: Film, place: Places) -> Array:
    """Return what a film shows of itself of what is left to see, and take it from that."""
    own = film.contrast.take(place, mode="clip")
    own *= left
    left -= own
    return own


def _main(wall: Wall, films: Mapping[str, Optics]) -> NDArray[np.int16]:
    """Return the stratum that each pixel shows most of, -1 for the bare wall."""
    main, pile = np.empty(wall.grid.shape, np.int16), _Pile(wall.strata, wall.tone)
    optics, tables = _tables(wall.strata, films)

    def chunk(rows: slice) -> None:
        strata = _Strata(pile, optics, tables, rows)
        best, chosen = np.zeros(strata.size, np.float32), np.full(strata.size, -1, np.int16)
        for index, own, at in _veils(strata, _levels(strata, 0, len(wall.strata)), np.ones(strata.size, np.float32)):
            more = np.flatnonzero(own > (best if at is None else best[at]))
            place = more if at is None else at[more]
            best[place], chosen[place] = own[more], index
        main[rows] = chosen.reshape(-1, wall.grid.cols)

    threads.each(chunk, _chunks(main.shape), main.size >= threads.FEW_PIXELS)
    return main


def _chunks(shape: tuple[int, ...]) -> list[slice]:
    """Return the rows to be worked on at a time."""
    return threads.bands(shape[0], max(1, _CHUNK // shape[1]))


def look(
    wall: Wall,
    ground: str,
    films: Mapping[str, Optics],
    lamp: Lamp | None = None,
    recall: Recall | None = None,
    heed: Callable[[], None] = lambda: None,
    *,
    metals: Collection[str] = (),
    mate: Mate | None = None,
) -> Seen:
    """Return what is seen of a wall.

    Parameters
    ----------
    wall
        The strata.
    ground
        Colour of the bare wall, as text.
    films
        (k, s) per mil for every stratum's name.
    lamp
        Its light colours the surface; relief is shaded later.
    recall
        Parts of the last picture; the result does not depend on it.
    heed
        Called now and then; it may raise to call the work off.
    metals
        Names of the layers that are metal.
    mate
        Looks at some rows meanwhile; the result does not depend on it.
    """
    base = colour.parse_colour(ground)
    pile, top = _Pile(wall.strata, wall.tone), len(wall.strata)
    marks = _marks(wall, base, films)
    known, keep = recall.lower(marks, ends(wall.strata)) if recall is not None else (None, 0)
    step = max(1, round((wall.height.size / _SAMPLES) ** 0.5))
    shiny = frozenset(index for index, one in enumerate(wall.strata) if one.name in metals)
    kept = np.empty((wall.height.size if keep else 0, base.size), np.float32)
    bare = base.astype(np.float32)
    lower = _Lower(len(known.marks), known.seen, keep, kept) if known is not None else _Lower(0, bare, keep, kept)
    how = films, exposed(lamp or Lamp()), shiny, step

    rows, rest = wall.grid.rows, []
    if mate is not None and known is None and not keep and (first := _apart(wall.grid.shape)) < rows:
        rest = [mate.begin(partial(_looked, pile.rows(slice(first, rows)), *how, lower, first))]
        rows = first
    parts = [_looked(pile.rows(slice(rows)), *how, lower, 0, heed), *(one() for one in rest)]
    if recall is not None and keep:
        recall.keep_lower(Lower(marks[:keep], frozen(kept)))
    rgb, metal, shares, samples = (_joined(part) for part in zip(*parts, strict=True))
    total = sum(shares, np.zeros(top + 1))
    names = ["", *(one.name for one in wall.strata)]
    every = {name: float(part / wall.height.size) for name, part in zip(names, total, strict=True)}
    return Seen(frozen(rgb), frozen(samples), every, lambda: _main(wall, films), frozen(metal) if shiny else None)


def _apart(shape: tuple[int, int]) -> int:
    """Return from which row on a mate looks at a wall: beyond the last if it is too small to be shared."""
    chunks = _chunks(shape)
    return chunks[round((1.0 - _MATES) * len(chunks))].start if len(chunks) > 1 else shape[0]


def _joined(parts: Sequence[Array]) -> Array:
    """Return parts one after the other; one alone is not copied."""
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


@dataclass(frozen=True, eq=False)
class _Lower:
    """How the lowest strata look: the ``bottom`` of them like ``seen``, of one colour (bands,) or (pixels, bands).

    That of the lowest ``keep``, if any, is written into ``kept`` (pixels, bands).
    """

    bottom: int
    seen: Array
    keep: int
    kept: Array


def _looked(
    pile: _Pile,
    films: Mapping[str, Optics],
    matrix: Array,
    shiny: Collection[int],
    step: int,
    lower: _Lower,
    above: int = 0,
    heed: Callable[[], None] = lambda: None,
) -> tuple[Array, Array, NDArray[np.float64], Array]:
    """Return what is seen of some rows, ``above`` so many others: colours (rows, cols, 3), metal (rows, cols) or
    nothing, sums of shares (chunks, strata + 1), and reflectances of pixels ``step`` apart (n, bands).
    """
    (rows, cols), top, bands = pile.tone.shape, len(pile.strata), lower.seen.shape[-1]
    optics, tables = _tables(pile.strata, films)
    rgb = np.empty((rows, cols, 3), np.float32)
    metal = np.zeros((rows if shiny else 0, cols), np.float32)

    def chunk(part: slice) -> tuple[NDArray[np.float64], Array]:
        heed()
        strata, pixels = _Strata(pile, optics, tables, part), slice(part.start * cols, part.stop * cols)
        levels = _levels(strata, 0, top)
        shares = np.zeros(top + 1)
        for index, own, at in _veils(strata, levels, np.ones(strata.size, np.float32)):
            shares[index + 1] = own.sum(dtype=np.float64)
            if index in shiny:
                metal[part].reshape(-1)[slice(None) if at is None else at] += own

        start, low = lower.seen if lower.seen.ndim == 1 else lower.seen[pixels], lower.bottom
        if lower.keep:
            start, low = _paint(strata, _levels(strata, low, lower.keep), start), lower.keep
            lower.kept[pixels] = start
        seen = _paint(strata, levels if low == 0 else _levels(strata, low, top), start)

        np.maximum(seen @ matrix, 0.0, out=rgb[part].reshape(-1, 3))
        first = -(above + part.start) % step
        return shares, seen.reshape(-1, cols, bands)[first::step, ::step].reshape(-1, bands).copy()

    found = threads.each(chunk, _chunks((rows, cols)), rows * cols >= threads.FEW_PIXELS)
    return rgb, metal, np.stack([one for one, _ in found]), np.concatenate([one for _, one in found])
