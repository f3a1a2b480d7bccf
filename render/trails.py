"""Runs on a wall: swept down the wet lattice, two of its rows at a time, by ``render.physics.runs``, drawn crisp on the
output grid.

A run lifts the mobile film from its middle, carries it down and lays it at its sides and in its head,
exactly: what is lifted is laid or has left at the floor.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from dataclasses import fields as dataclass_fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds
from render.fields import Array, Grid
from render.flow import WET_PPI, Bed, mean, share_out
from render.physics import runs as rivulets

_ROWS_A_STEP = 2
RUN_PPI = WET_PPI / _ROWS_A_STEP
"""Rows of runs to the inch."""

Floats = NDArray[np.floating]


@dataclass(frozen=True)
class RunLook:
    """How runs take and lay pigment.

    ``core`` share of what a run lays that lies in its middle and not at its sides;
    ``lift`` share of the film that a strong run takes from its middle; ``lay`` per inch, share of the load
    laid at the rims; ``saturation`` mil of film per mil in2 of head; ``flare`` how much wider a run begins;
    ``fade`` e-foldings of its load that a run has laid by its end, however long it is (0: see ``lay``);
    ``soft`` how much wider than usual its edges are; ``spends`` it lays its load as its head is spent (``lay`` and
    ``fade`` do not count): the liquid that leaves the head takes its share of the pigment with it; ``keeps`` how far it
    keeps the breadth it set out with as its head shrinks, 0 to 1; ``least`` how strongly the weakest run lifts, of the
    strongest; ``opens`` inches over which it comes to lift fully; ``breathes`` how much it widens and narrows on its
    way, of the usual; ``spreads`` how much of its breadth it gains on a foot of its way where it soaks aside: up to
    twice that in one run and nothing in another.
    """

    lift: float = 0.7
    lay: float = 0.3
    saturation: float = 3.0
    flare: float = 1.2
    core: float = 0.0
    fade: float = 0.0
    soft: float = 1.0
    spends: bool = False
    keeps: float = 0.0
    least: float = 0.25
    opens: float = 0.9
    breathes: float = 1.0
    spreads: float = 0.0


def ground(bed: Bed, *, dry_drag: float = 3.0) -> rivulets.Ground:
    """The wall as runs meet it: drag by roughness and dryness, lean by relief and wetness, ledges by the relief."""
    rise, lean = bed.relief.slope
    rough, wetness, lean = (_stepped(one) for one in (bed.relief.rough, bed.wetness, lean))
    lean -= np.float32(_FOLLOWS * bed.wet.ppi) * fields.gradient(wetness)[1]
    drag = (0.35 + 0.65 * rough) * (dry_drag - (dry_drag - 1.0) * wetness)
    ledge = 2.2 / 0.25 * np.clip(rise - 0.03, 0.0, 0.25)
    return rivulets.Ground(drag, lean, _stepped(ledge), 1.0 / bed.wet.ppi)


_FOLLOWS = 0.06
"""Fall of the wall, inches, that turns a run as much as going from a dry place to a wet one does: what runs keeps to
older channels where it may. Chosen by eye.
"""


def _stepped(field: Array) -> Array:
    """A field of the wet lattice on the rows of the runs: the mean of two and two; the last alone if odd."""
    upper, lower = field[::2], field[1::2]
    mean_of = upper.copy()
    mean_of[: len(lower)] += lower
    mean_of[: len(lower)] *= 0.5
    return mean_of


def strays(lanes: Grid, key: int) -> Array:
    """Course that runs keep by themselves, inches aside per inch down: on the rows of the runs, by their lanes."""
    stray = fields.lattice(lanes, (1.1, 0.5), key) * 0.08 + fields.lattice(lanes, (3.5, 1.5), key + 1) * 0.07
    return np.ascontiguousarray(stray[::_ROWS_A_STEP])


def sweep(
    bed: Bed,
    row_in: Floats,
    col_in: Floats,
    volume: Floats,
    *,
    key: int = 0,
    law: rivulets.RunLaw | None = None,
    drawn: Array | None = None,
) -> rivulets.Runs:
    """Sweep runs from given places and volumes (mil in2) down this wall; each strays as the wall's own noise bids, by
    its ``key`` or as :func:`strays` has ``drawn``. The height of the rows is two of the lattice's, whatever the law
    says.

    Left out are places off the wall, heads too small to run two inches where they start, and those
    whose runs would be finer than a twelfth of a pixel.
    """
    lanes = bed.wet
    law = replace(law or rivulets.RunLaw(step=1.0, width=0.06, trail=2.2, stop=0.08), step=_ROWS_A_STEP / lanes.ppi)
    on = (row_in >= 0) & (row_in < lanes.height_in) & (col_in >= 0) & (col_in < lanes.width_in)
    on &= 24.0 * law.half_width(volume) * bed.grid.ppi > 1.0
    meets = ground(bed)
    rows, cols = meets.drag.shape
    row, lane = (np.clip(at, 0, most - 1).astype(np.int64) for at, most in
                 ((row_in / law.step, rows), (col_in * lanes.ppi, cols)))  # fmt: skip
    on &= law.length(1.0) * volume ** (2 / 3) > 2.0 * meets.drag[row, lane]
    row, lane, col_in, volume = row[on], lane[on], col_in[on], volume[on]
    if not row.size:
        return rivulets.descend(row, col_in, volume, ground=meets, wander=np.zeros((rows, 0)), law=law)
    stray = (strays(lanes, key) if drawn is None else drawn).astype(float)
    return rivulets.descend(row, col_in, volume, ground=meets, wander=stray, law=law, lane=lane)


@dataclass(frozen=True)
class Sheaf:
    """Lines of pixels across runs, n of them and each ``wide`` pixels: many lie side by side, so that numpy works along
    the lines and not across the few pixels of one.

    ``first`` (n,) flat index of a line's first pixel; ``cell`` (n,) entry of the runs; ``body`` (wide, n) share 0..1 of
    the pixel in the run's middle; ``rim`` (wide, n) weights of the sides, summing to 1 in each cell over all sheaves.
    """

    first: NDArray[np.int64]
    cell: NDArray[np.int64]
    body: Array
    rim: Array

    @property
    def pixel(self) -> NDArray[np.int64]:
        """Flat index of each pixel, (wide, n)."""
        return self.first + np.arange(len(self.body))[:, None]

    def add_to(self, flat: Array, amount: Array) -> None:
        """Add what lies in each pixel, (wide, n), to a flat picture."""
        np.add.at(flat, self.pixel.ravel(), amount.ravel())

    def on_lines(self, values: Floats) -> Array:
        """Values of the entries of the runs, on the lines: (n,) float32, the same across each line."""
        return values.take(self.cell).astype(np.float32, copy=False)


@dataclass(frozen=True)
class Tracks:
    """Runs drawn on the output grid, in sheaves; or one entry, (m,), for each pixel that a run touches or nearly does.

    ``pixel`` flat index; ``cell`` entry of the runs; ``body`` and ``rim`` as in a sheaf.
    """

    sheaves: tuple[Sheaf, ...]

    def _every(self, part: Callable[[Sheaf], NDArray[Any]], kind: type) -> NDArray[Any]:
        return np.concatenate([np.empty(0, kind), *(part(one).ravel() for one in self.sheaves)])

    @property
    def pixel(self) -> NDArray[np.int64]:
        """Flat index of each pixel touched."""
        return self._every(lambda one: one.pixel, np.int64)

    @property
    def cell(self) -> NDArray[np.int64]:
        """Entry of the runs that touches it."""
        return self._every(lambda one: np.broadcast_to(one.cell, one.body.shape), np.int64)

    @property
    def body(self) -> Array:
        """Share of it in the run's middle."""
        return self._every(lambda one: one.body, np.float32)

    @property
    def rim(self) -> Array:
        """Its share of what the entry lays at its sides."""
        return self._every(lambda one: one.rim, np.float32)


def _outline(runs: rivulets.Runs, look: RunLook, key: int) -> NDArray[np.float64]:
    """Half-width drawn in each entry: flared at the top, breathing, with a rounded head at its end."""
    step, run = runs.step, runs.run
    lone = runs.half[runs.start]
    run_in = (runs.row - runs.first[run]) * step
    half = runs.half ** (1.0 - look.keeps) * (lone**look.keeps)[run]
    half *= 1.0 + look.flare * np.exp(-run_in / np.maximum(4.0 * lone, 0.05)[run])
    half *= np.sqrt(np.minimum((run_in + 0.5 * step) / np.maximum(1.2 * lone, step)[run], 1.0))
    if look.spreads:
        half *= 1.0 + (2.0 * look.spreads * seeds.hash_unit(ids(runs), key + 19))[run] * (run_in / 12.0)
    half *= np.exp(look.breathes * (0.16 * _along(runs, 0.5, key) + 0.32 * _along(runs, 2.2, key + 1)) - 0.06)
    to_end = (runs.last[run] - runs.row) * step
    ends_here = _stops(runs)[run]
    at_end = runs.half[_finish(runs)]
    size = np.maximum(np.maximum(np.cbrt(np.maximum(runs.tail, 1e-4)) * 0.1, 0.04), 0.7 * at_end)[run]
    bulb = np.exp(-(((to_end - 1.8 * size) / (1.8 * size)) ** 2)) * size
    round_off = np.sqrt(np.clip(to_end / (1.5 * size), 0.0, 1.0))
    joins = np.sqrt(np.clip((to_end + 0.5 * step) / np.maximum(2.0 * half, step), 0.0, 1.0))  # runs into another
    half = np.where(ends_here, np.maximum(half, bulb) * round_off, half)
    return np.where((runs.parent >= 0)[run], half * joins, half)


def _stops(runs: rivulets.Runs) -> NDArray[np.bool_]:
    """Which runs end on the wall, (n,)."""
    return (runs.parent < 0) & (runs.off == 0)


def _finish(runs: rivulets.Runs) -> NDArray[np.int64]:
    """Last entry of each run, (n,)."""
    return np.minimum(runs.start + np.maximum(runs.last - runs.first - 1, 0), runs.half.size - 1)


def _near_end(runs: rivulets.Runs, reach: float = 0.6) -> NDArray[np.float64]:
    """1 in the head of a run that ended on the wall, fading to 0 over ``reach`` inches above it: (entries,)."""
    to_end = (runs.last[runs.run] - runs.row) * runs.step
    return np.where(_stops(runs)[runs.run], np.clip(1.0 - to_end / reach, 0.0, 1.0), 0.0)


def ids(runs: rivulets.Runs) -> NDArray[np.uint64]:
    """A number for each run that depends on where it starts alone, so that a wider wall keeps the runs it
    had.
    """
    start = np.round(runs.begun * 256.0).astype(np.int64)
    return seeds.mix64((runs.first * 1_000_003 + start).astype(np.uint64))


def _along(runs: rivulets.Runs, wavelength: float, key: int) -> NDArray[np.float64]:
    """Unit-variance noise along each run, (entries,), that knows nothing of its neighbours: eased between
    hashed knots.
    """
    place = runs.row * (runs.step / wavelength)
    i = place.astype(np.int64)
    knot = seeds.mix64(np.arange(int(i.max(initial=0)) + 2, dtype=np.uint64))
    own = ids(runs)[runs.run]
    t = place - i
    ease = t * t * (3.0 - 2.0 * t)
    here, next_ = (seeds.hash_unit(own ^ knot[k], key) for k in (i, i + 1))
    return (here + (next_ - here) * ease - 0.5) * 4.1


@dataclass(frozen=True)
class _Lines:
    """Runs cut along the rows of pixels of a grid, (n,) each: ``entry`` of the runs drawn; ``wide`` pixels, from that
    of flat index ``first`` on, among which are all that it touches; ``edge`` where the first of them begins, from the
    run's middle, and ``pixel`` how broad each is, both in half-widths; ``thin`` share of a half-width that its edge
    is broad.
    """

    entry: NDArray[np.int64]
    wide: NDArray[np.int64]
    first: NDArray[np.int64]
    edge: Array
    pixel: Array
    thin: Array

    def alike(self, pixels: int) -> Iterator[tuple[int, _Lines]]:
        """Lines of one breadth, some after the others, of so many pixels together: how broad, and the lines."""
        for wide in (np.flatnonzero(np.bincount(self.wide)[1:]) + 1).tolist():
            on, most = np.flatnonzero(self.wide == wide), max(1, pixels // wide)
            for at in range(0, on.size, most):
                some = on[at : at + most]
                yield wide, _Lines(*(getattr(self, one.name).take(some) for one in dataclass_fields(self)))


def _cut(runs: rivulets.Runs, half: Floats, blur: Floats, grid: Grid) -> _Lines:
    """Cut runs along the rows of pixels whose middles lie in a row of the runs; half-widths and the breadth of their
    edges (inches) by entry. Lines are four, eight ... pixels long, or as long as the picture is broad.
    """
    goes_on = np.append(runs.run[1:] == runs.run[:-1], False)
    slope = np.where(goes_on, np.append(runs.col[1:], 0.0) - runs.col, 0.0)
    wider = np.where(goes_on, np.append(half[1:], 0.0), 0.2 * half) - half
    tall = grid.ppi * runs.step
    top, end = (np.minimum(np.ceil((runs.row + k) * tall - 0.5).astype(np.int64), grid.rows) for k in (0, 1))
    entry = np.repeat(np.arange(half.size), end - top)
    row = np.arange(entry.size) - (np.cumsum(end - top) - end).take(entry)
    t = (row + 0.5) / tall - runs.row.take(entry)
    middle = (runs.col.take(entry) + slope.take(entry) * t) * grid.ppi
    per_pixel = 1.0 / np.maximum((half.take(entry) + wider.take(entry) * t) * grid.ppi, 0.02)
    thin = np.clip(blur.take(entry) * per_pixel * grid.ppi, 0.16, 1.0)
    reach = (1 + thin) / per_pixel
    low = np.clip(np.floor(middle - reach), 0, grid.cols).astype(np.int64)
    wide = np.clip(np.ceil(middle + reach), low, grid.cols).astype(np.int64) - low
    wide = np.minimum((wide + 3) & ~3, grid.cols)
    low = np.minimum(low, grid.cols - wide)
    edge, per_pixel, thin = (one.astype(np.float32) for one in ((low - middle) * per_pixel, per_pixel, thin))
    return _Lines(entry, wide, row * grid.cols + low, edge, per_pixel, thin)


_PART = 1 << 14
"""Pixels at a time: what is made on the way stays in the processor's cache, and memory is used again."""


def draw(runs: rivulets.Runs, grid: Grid, look: RunLook, key: int) -> Tracks:
    """Draw runs on a grid: pixel-area shares of their bodies and rims, right even where a run is finer
    than a pixel.
    """
    fine = runs.finer()
    more = 0.3 * _along(fine, 3.0, key + 7) + 0.15 * _along(fine, 0.4, key + 8)
    left = np.asarray(np.clip(0.5 + more, 0.02, 0.98), np.float32)
    core = np.asarray(look.core + (0.75 - look.core) * _near_end(fine), np.float32)
    blur = (0.022 * look.soft * np.exp(0.7 * seeds.hash_unit(ids(fine), key + 11)))[fine.run]
    lines = _cut(fine, _outline(fine, look, key), blur, grid)
    sheaves = tuple(_across(some, wide, left, core) for wide, some in lines.alike(_PART))
    whole = 1.0 / np.maximum(_by_entry(sheaves, [one.rim for one in sheaves], runs.half.size), 1e-12)
    for one in sheaves:
        one.rim[:] *= one.on_lines(whole)
    return Tracks(sheaves)


def _by_entry(sheaves: Sequence[Sheaf], amounts: Sequence[Array], entries: int) -> NDArray[np.float64]:
    """Sum over the pixels of each entry of the runs, (entries,)."""
    cells = np.concatenate([np.empty(0, np.int64), *(one.cell for one in sheaves)])
    whole = np.concatenate([np.empty(0), *(one.sum(0) for one in amounts)])
    return np.asarray(np.bincount(cells, whole, entries), np.float64)


def _across(lines: _Lines, wide: int, left: Array, core: Array) -> Sheaf:
    """Pixels across lines, ``wide`` of them on each: shares of body and rims.

    A share is the difference between the two edges of a pixel; a line has one edge more than it has pixels.
    """
    u = np.arange(wide + 1, dtype=np.float32)[:, None] * lines.pixel
    u += lines.edge
    trough = np.diff(rivulets.trough_share(u), axis=0)
    rim = np.diff(rivulets.rim_share(u, lines.thin, left.take(lines.entry)), axis=0)
    middle = core.take(lines.entry)
    rim *= 1.0 - middle
    rim += middle * trough
    trough *= np.float32(1.6) / lines.pixel
    return Sheaf(lines.first, lines.entry >> 1, trough, rim)


def run_down(
    bed: Bed,
    mobile: Sequence[Array],
    runs: rivulets.Runs,
    look: RunLook,
    key: int,
    load: Floats | None = None,
) -> tuple[list[Array], list[float]]:
    """Let runs lift, carry and lay the mobile films, which change in place: pale middles, dark sides, darker below.

    Returns
    -------
    The films, and the mean film of each that left at the floor. ``load`` (runs, colours) is pigment that
    runs bring along, in mil pixels.
    """
    grid = bed.grid
    if not runs.half.size:
        return list(mobile), [0.0] * len(mobile)
    sheaves = draw(runs, grid, look, key).sheaves
    lifts = _lifts(sheaves, np.float32(look.lift) * _fade(runs, look, key), grid)
    could = [[lift * film.ravel().take(one.pixel) for one, lift in zip(sheaves, lifts, strict=True)] for film in mobile]
    offered = np.stack([_by_entry(sheaves, each, runs.half.size) for each in could], 1)
    per_volume = look.saturation * grid.ppi**2  # mil in2 of head to mil pixels of film
    taken, laid, off = rivulets.carry(runs, offered, _lay(runs, look, key) * _on_wall(runs, grid), per_volume, load)
    taken /= np.maximum(offered, 1e-12)
    for k, film in enumerate(mobile):
        flat, changed = film.reshape(-1), 0.0
        for one, some in zip(sheaves, could[k], strict=True):
            change = one.rim * one.on_lines(laid[:, k])
            change -= some * one.on_lines(taken[:, k])
            one.add_to(flat, change)
            changed += float(change.sum(dtype=np.float64))
        np.maximum(flat, 0.0, out=flat)
        astray = _brought(load, k) - float(off[:, k].sum()) - changed
        if abs(astray) > 1e-6 * film.size:
            # A picture coarser than the lattice of runs misses some of their steps: what they lay there is shared out.
            share_out(film, max(mean(film) + astray / film.size, 0.0), out=film)
    return list(mobile), [float(o) / (grid.rows * grid.cols) for o in off.sum(0)]


def _lifts(sheaves: Sequence[Sheaf], strength: Array, grid: Grid) -> list[Array]:
    """Share of what lies there that runs lift from each pixel, sheaf by sheaf, (wide, n): where several pass they
    share. ``strength`` by entry.
    """
    crowd = np.zeros(grid.rows * grid.cols, np.float32)
    for one in sheaves:
        one.add_to(crowd, one.body)
    lifts = []
    for one in sheaves:
        lift = one.body * one.on_lines(strength)
        lift /= np.maximum(crowd.take(one.pixel), np.float32(1.0))
        lifts.append(lift)
    return lifts


def _on_wall(runs: rivulets.Runs, grid: Grid) -> NDArray[np.float64]:
    """Return the share of each entry's row that is wall, 0 to 1: of a row that the floor cuts, what would lie below
    goes on with the run and off at the floor.
    """
    return np.clip(grid.height_in / runs.step - runs.row, 0.0, 1.0)


def _brought(load: Floats | None, colour: int) -> float:
    """Pigment of one colour that runs bring along, mil pixels."""
    return 0.0 if load is None else float(load[:, colour].sum())


def _fade(runs: rivulets.Runs, look: RunLook, key: int) -> NDArray[np.float32]:
    """How strongly a run lifts in each row: it comes in by degrees, and weakens as its head shrinks."""
    run = runs.run
    down = (runs.row - runs.first[run]) * runs.step
    head = np.sqrt(np.cbrt(runs.volume / np.maximum(runs.volume[runs.start], 1e-9)[run])).clip(0, 1)
    own = (look.least + (1.0 - look.least) * seeds.hash_unit(ids(runs), key + 13))[run]
    wave = np.clip(0.9 + 0.3 * _along(runs, 2.0, key + 14), 0.0, 1.0)
    return (own * head * wave * (1.0 - np.exp(down / -look.opens))).astype(np.float32)


_FOOT_ROWS = 2
"""Rows over which a run that stops lays what is left in its head."""


def _lay(runs: rivulets.Runs, look: RunLook, key: int) -> NDArray[np.float64]:
    """Share of the load laid in each entry: a little on the way, more at ledges, all of it over the last
    inch and a half.
    """
    step, run = runs.step, runs.run
    if look.spends:
        eases = 1.0 - np.exp((runs.row + 0.5 - runs.first[run]) * (step / -look.flare))
        to_end = runs.last[run] - runs.row
        way = eases * runs.left / np.maximum(runs.volume, 1e-12)
        return np.where(_stops(runs)[run] & (to_end <= _FOOT_ROWS), 1.0 / to_end, way)
    length = np.maximum((runs.last - runs.first) * step, 1.0)
    ledges = (runs.left / np.maximum(runs.volume, 1e-9)).clip(0, 1)
    way = np.maximum(look.lay, look.fade / length)[run] * step * (1.0 + 3.0 * ledges)
    way *= np.exp(0.8 * _along(runs, 1.4, key + 17) - 0.3)
    way *= 1.0 - np.exp((runs.row - runs.first[run]) * (step / -0.8))
    most = 1.44 / step  # rows to the end; laid evenly more toward it
    d = np.clip((runs.last[run] - runs.row).astype(float), 1.0, most)
    last = (most - d) / (d * (most - 0.5 * (d + 1.0)))
    last = np.where(_stops(runs)[run], np.where(d == 1.0, 1.0, last), 0.0)
    return np.minimum(np.maximum(way, last), 1.0)
