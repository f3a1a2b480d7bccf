"""The cheapest set of containers that holds enough: an exact search, not a rule of thumb."""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from render.materials import Container
from render.units import ML_PER_GAL

_UNITS_PER_GAL = 1_000_000_000  # volumes are whole billionths of a gallon, so that sums are exact
_TOLERANCE = 1_000  # a millionth of a gallon (0.004 ml) short is rounding, not a reason for another can
_PER_CURRENCY_UNIT = 10_000
_HANDLING = 1_000  # what a can more is worth, in millionths of a gallon, where no prices are known

_NICE = ((1.0, "gal"), (0.25, "qt"), (0.125, "pt"), (1 / 128, "fl oz"))


@dataclass(frozen=True)
class Bought:
    """How many of one container."""

    container: Container
    count: int

    @property
    def label(self) -> str:
        """The container in words: "3.5 gal"."""
        return container_label(self.container)

    def as_dict(self) -> dict[str, Any]:
        """Return the line as plain data."""
        size, price = self.container.size, self.container.price
        return {"size_gal": size, "label": self.label, "count": self.count, "price": price}


@dataclass(frozen=True)
class Purchase:
    """The containers to buy for a need, both in gallons.

    ``cost`` is None where a container bought has no price; then the choice is the one with least left over.
    """

    need: float
    items: tuple[Bought, ...]
    cost: float | None

    @property
    def bought(self) -> float:
        """Gallons in the containers."""
        return sum(one.count * one.container.size for one in self.items)

    @property
    def leftover(self) -> float:
        """Gallons bought beyond the need."""
        return max(self.bought - self.need, 0.0)

    def words(self) -> str:
        """Return "2 x 3.5 gal + 1 x 1 gal", largest first, or a dash for nothing."""
        return " + ".join(f"{one.count} × {one.label}" for one in self.items) or "—"


def container_label(container: Container) -> str:
    """Return a container's own label, or its size in a round unit: 1 gal, 1 qt, 16 fl oz, 5 L."""
    if container.label:
        return container.label
    litres = container.size * ML_PER_GAL / 1000.0
    for size, unit in _NICE:
        count = container.size / size
        if count >= 1 and abs(count * 2 - round(count * 2)) < 1e-6:
            return f"{round(count * 2) / 2:g} {unit}"
    return f"{litres:.3g} L" if litres >= 1 else f"{litres * 1000:.3g} ml"


def _ceil_div(volume: int, size: int) -> int:
    return -(-volume // size)


def _costs(containers: Sequence[Container]) -> tuple[list[int], bool]:
    """Return what each container costs in whole units, and whether those are prices.

    Without a price for each size the volume itself is the cost, and every can a little more.
    """
    if all(one.price > 0 for one in containers):
        return [round(one.price * _PER_CURRENCY_UNIT) for one in containers], True
    return [round(one.size * 1e6) + _HANDLING for one in containers], False


def _counts(sizes: list[int], costs: list[int], need: int) -> list[int]:
    """Return how many of each size hold ``need`` at least cost; of equally cheap choices the largest.

    Best-first search (A*, Hart, Nilsson & Raphael 1968) over the volume reached. The estimate of what is
    still to pay, remaining volume at the best price per volume, is never too high, so the first choice that
    is enough is the cheapest. Sizes are tried in one order, so that each choice is reached once, and a volume
    reached again at no less cost with no more sizes open is dropped.
    """
    best = min(range(len(sizes)), key=lambda i: costs[i] / sizes[i])
    order = sorted(range(len(sizes)), key=lambda i: costs[i] * sizes[best] / (sizes[i] * costs[best]))
    most = min(_ceil_div(need, size) * cost for size, cost in zip(sizes, costs, strict=True))

    def still(volume: int) -> int:
        return _ceil_div(max(need - volume, 0) * costs[best], sizes[best])

    start = (still(0), 0, 0, 0, (0,) * len(sizes))
    heap = [start]
    seen: dict[int, list[tuple[int, int]]] = {}
    while heap:
        _, minus, cost, first, counts = heapq.heappop(heap)
        volume = -minus
        if volume >= need:
            return list(counts)
        known = seen.setdefault(volume, [])
        if any(paid <= cost and at <= first for paid, at in known):
            continue
        known.append((cost, first))
        for at in range(first, len(order)):
            index = order[at]
            paid, filled = cost + costs[index], volume + sizes[index]
            if paid + still(filled) <= most:
                more = (*counts[:index], counts[index] + 1, *counts[index + 1 :])
                heapq.heappush(heap, (paid + still(filled), -filled, paid, at, more))
    raise AssertionError("a choice of one size alone is always within the bound")


def cheapest(need: float, containers: Sequence[Container]) -> Purchase | None:
    """Return the containers that hold ``need`` gallons at least cost, or None where no sizes are known.

    Where a size has no price, the choice with least left over is taken instead and ``cost`` is None.

    Raises
    ------
    ValueError
        If the need is negative or not finite.
    """
    if not (math.isfinite(need) and need >= 0):
        raise ValueError("a need is a volume of zero or more")
    if not containers:
        return None
    wanted = math.ceil(need * _UNITS_PER_GAL) - _TOLERANCE
    costs, priced = _costs(containers)
    if wanted <= 0:
        return Purchase(need, (), 0.0)
    sizes = [round(one.size * _UNITS_PER_GAL) for one in containers]
    counts = _counts(sizes, costs, wanted)
    found = [Bought(one, n) for one, n in zip(containers, counts, strict=True) if n]
    items = tuple(sorted(found, key=lambda one: -one.container.size))
    cost = sum(one.count * one.container.price for one in items) if priced else None
    return Purchase(need, items, cost)
