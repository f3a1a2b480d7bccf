"""Runs the layers of a finish over a wall, the only caller of ``apply``, and keeps the wall after each layer."""

from __future__ import annotations

import hashlib
from collections import Counter, OrderedDict
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from functools import partial
from threading import Lock
from typing import TYPE_CHECKING, Any

from render import __version__
from render.finish import Finish
from render.kept import Kept
from render.layers.base import Amounts, Layer
from render.seeds import Streams
from render.units import film_mil
from render.wall import Entry, Wall

if TYPE_CHECKING:
    from render.mate import Mate

Progress = Callable[[int, int, str], None]
_MOST_ACCOUNTS = 20_000


class Stopped(Exception):  # noqa: N818  # not an error: the person moved on
    """The work was called off."""


def go_on(stop: Callable[[], bool] | None) -> None:
    """Raise ``Stopped`` if the work was called off."""
    if stop is not None and stop():
        raise Stopped


@dataclass(frozen=True)
class Site:
    """The wall to finish: height and width in inches, pixels per inch, and the pour."""

    height_in: float
    width_in: float
    ppi: float
    pour: int = 1

    def bare(self) -> Wall:
        """Return the empty wall."""
        return Wall.bare(self.height_in, self.width_in, self.ppi)

    @property
    def area_ft2(self) -> float:
        """Net area."""
        return self.height_in * self.width_in / 144.0


@dataclass(frozen=True)
class Done:
    """What one layer did: the account of its line in the list. Coverages are shares 0..1, volumes US gallons."""

    layer: Layer
    achieved: float | None
    amounts: Amounts
    mean_wet_mil: float
    removed_gal: float
    run_off_gal: float


@dataclass(frozen=True, eq=False)
class Built:
    """A finished wall with the account of each layer, and the walls after each layer if they were asked for."""

    finish: Finish
    site: Site
    wall: Wall
    done: tuple[Done, ...]
    walls: tuple[Wall, ...] = field(default=())

    def ledger(self) -> dict[str, Entry]:
        """Return the account per material, in gallons as mixed into the coats and glazes."""
        total: dict[str, list[float]] = {}
        for one in self.finish.layers:
            entry = self.wall.ledger.get(one.name)
            for material, part in (one.amounts(1.0).parts if entry else {}).items():
                row = total.setdefault(material, [0.0, 0.0, 0.0])
                for i, gallons in enumerate((entry.added, entry.removed, entry.run_off) if entry else ()):
                    row[i] += part * gallons
        return {material: Entry(*row) for material, row in total.items()}

    def on_wall(self) -> dict[str, float]:
        """Return gallons of each material that lie on the wall, summed from the films and not from the ledger."""
        total: dict[str, float] = {}
        for one in self.finish.layers:
            if one.name in self.wall.ledger:
                gallons = self.wall.gallons(self.wall.stratum(one.name).film)
                for material, part in one.amounts(1.0).parts.items():
                    total[material] = total.get(material, 0.0) + part * gallons
        return total


class Cache:
    """Keeps the last walls by what they depend on, up to a number of bytes; safe to share between threads."""

    def __init__(self, limit_bytes: int = 1_000_000_000, drawn_bytes: int = 250_000_000) -> None:
        """Start empty, with that much room for walls and for what hands draw."""
        self._limit = limit_bytes
        self._kept: OrderedDict[str, tuple[Wall, Done]] = OrderedDict()
        self._uses: Counter[int] = Counter()  # how many kept walls hold an array, by its identity
        self._accounts: OrderedDict[str, Done] = OrderedDict()
        self._bytes = 0
        self._lock = Lock()
        self.parts = Kept(drawn_bytes)
        """What layers keep of their work."""

    def get(self, key: str) -> tuple[Wall, Done] | None:
        """Return what was kept under a key, or None."""
        with self._lock:
            if key not in self._kept:
                return None
            self._kept.move_to_end(key)
            return self._kept[key]

    def start(self, known: Sequence[str]) -> tuple[list[Done], Wall | None]:
        """Return the accounts of as many first layers as have one and end in a kept wall, and that wall.

        Accounts are small and outlive the walls, so that a change in a late layer needs no early wall.
        """
        with self._lock:
            for count in range(len(known), 0, -1):
                accounts = [self._accounts.get(key) for key in known[:count]]
                if known[count - 1] in self._kept and all(accounts):
                    self._kept.move_to_end(known[count - 1])
                    return [one for one in accounts if one is not None], self._kept[known[count - 1]][0]
        return [], None

    def put(self, key: str, wall: Wall, done: Done) -> None:
        """Keep a wall; the least lately used go when there is no room. What walls share counts once."""
        with self._lock:
            self._accounts[key] = done
            while len(self._accounts) > _MOST_ACCOUNTS:
                self._accounts.popitem(last=False)
            if key in self._kept:
                self._count(self._kept.pop(key)[0], -1)
            self._kept[key] = (wall, done)
            self._count(wall, 1)
            while self._bytes > self._limit and len(self._kept) > 1:
                self._count(self._kept.popitem(last=False)[1][0], -1)

    def _count(self, wall: Wall, more: int) -> None:
        """Book the arrays of a wall in or out."""
        for one in wall.arrays():
            held = self._uses[id(one)] > 0
            self._uses[id(one)] += more
            holds = self._uses[id(one)] > 0
            self._bytes += one.nbytes * (holds - held)
            if not holds:
                del self._uses[id(one)]


def _key(before: str, *words: Any) -> str:
    return hashlib.blake2b("\x1f".join([before, *map(str, words)]).encode(), digest_size=16).hexdigest()


def keys(finish: Finish, site: Site) -> list[str]:
    """Return the cache key of the wall after each layer: the layers up to it, the wall, the pour and the version."""
    key = _key(__version__, site)
    found = []
    for layer in finish.layers:
        key = _key(key, layer.kind, layer.fingerprint())
        found.append(key)
    return found


def _totals(wall: Wall) -> tuple[float, float]:
    """Return gallons removed and run off so far."""
    return sum(one.removed for one in wall.ledger.values()), sum(one.run_off for one in wall.ledger.values())


def _account(layer: Layer, before: Wall, after: Wall) -> Done:
    """Return what a layer did to the wall."""
    entry = after.ledger.get(layer.name)
    added = entry.added if entry and layer.name not in before.ledger else 0.0
    gone, ran = (b - a for a, b in zip(_totals(before), _totals(after), strict=True))
    return Done(
        layer, layer.achieved(before, after), layer.amounts(after.area_ft2),
        film_mil(added, after.area_ft2), gone, ran,
    )  # fmt: skip


def _alone(_place: int) -> None:
    """Tell nobody."""


def build(
    finish: Finish,
    site: Site,
    *,
    cache: Cache | None = None,
    progress: Progress | None = None,
    keep_walls: bool = False,
    stop: Callable[[], bool] | None = None,
    mate: Mate | None = None,
) -> Built:
    """Run the layers in order and return the finished wall.

    Parameters
    ----------
    finish, site
        What to do, and on what.
    cache
        Walls to start from and to keep.
    progress
        Called before each layer with its number, how many there are, and its name.
    keep_walls
        Also return the wall after each layer.
    stop
        Asked between layers, and within them whenever one asks for chance; true calls the work off.
    mate
        Draws ahead into what the cache keeps; without a cache it is not asked.

    Raises
    ------
    Stopped
        If the work was called off.
    """
    wall = site.bare()
    done: list[Done] = []
    walls: list[Wall] = []
    known = keys(finish, site)
    if cache is not None and not keep_walls:
        accounts, kept_wall = cache.start(known)
        wall = wall if kept_wall is None else kept_wall
        done = [Done(layer, *_rest(one, layer, wall)) for layer, one in zip(finish.layers, accounts, strict=False)]
    parts = cache.parts if cache is not None else Kept(0)
    left = finish.layers[len(done) :]
    ahead = mate.ahead(left, wall.grid, site.pour, parts) if mate and cache is not None else nullcontext(_alone)
    with ahead as begun:
        for place, layer in enumerate(left):
            go_on(stop)
            number = len(done)
            if progress is not None:
                progress(number, len(finish.layers), layer.name)
            kept = cache.get(known[number]) if cache is not None else None
            if kept is None:
                begun(place)
                after = layer.apply(wall, Streams(site.pour, layer.name, parts, partial(go_on, stop)))
                kept = after, _account(layer, wall, after)
                if cache is not None:
                    cache.put(known[number], *kept)
            wall = kept[0]
            done.append(Done(layer, *_rest(kept[1], layer, wall)))
            if keep_walls:
                walls.append(wall)
    return Built(finish, site, wall, tuple(done), tuple(walls))


def _rest(done: Done, layer: Layer, wall: Wall) -> tuple[float | None, Amounts, float, float, float]:
    """Return an account's figures with the layer's present amounts: a kept wall may have had another recipe."""
    return done.achieved, layer.amounts(wall.area_ft2), done.mean_wet_mil, done.removed_gal, done.run_off_gal
