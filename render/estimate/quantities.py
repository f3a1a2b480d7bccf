"""How much of each material a finish takes on an area: the volumes that the picture's films are made from.

Each layer states its volumes low / likely / high (``Layer.amounts``). Here they are split by material, summed
over the layers, given the waste, and bought at the lowest cost.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from render.estimate.purchase import Purchase, cheapest
from render.finish import Finish
from render.layers.base import Amounts, Layer
from render.materials import Material
from render.units import Span

End = Literal["low", "likely", "high"]

# No published waste allowance for decorative plaster or glaze was found: ten in a hundred is an example.
WASTE = 0.10
WASTE_NOTE = "an example: no published allowance for these finishes was found; use your own"
ANY_COLOURANT = "colourant"  # the shelf's entry that gives sizes and prices of colourants without their own
ZERO = Span.exactly(0.0)


def plus(a: Span, b: Span) -> Span:
    """Return the sum of two ranges, low with low and high with high."""
    return Span(a.low + b.low, a.likely + b.likely, a.high + b.high)


def times(a: Span, factor: float) -> Span:
    """Return a range times a number of zero or more."""
    return Span(a.low * factor, a.likely * factor, a.high * factor)


def total(spans: Iterable[Span]) -> Span:
    """Return the sum of ranges."""
    result = ZERO
    for one in spans:
        result = plus(result, one)
    return result


def spread_out(span: Span) -> dict[str, float]:
    """Return a range as a plain dict."""
    return {"low": span.low, "likely": span.likely, "high": span.high}


@dataclass(frozen=True)
class LayerLine:
    """What one layer takes, in gallons.

    ``materials`` splits the product (a glaze: medium and colourants) and the thinning water by material.
    """

    name: str
    kind: str
    tool: str
    area_ft2: float
    coverage: float | None
    product: Span
    water: Span
    mixed: Span
    materials: Mapping[str, Span]

    def as_dict(self) -> dict[str, Any]:
        """Return the line as plain data."""
        return {
            "name": self.name,
            "kind": self.kind,
            "tool": self.tool,
            "coverage": self.coverage,
            "product_gal": spread_out(self.product),
            "water_gal": spread_out(self.water),
            "mixed_gal": spread_out(self.mixed),
            "materials_gal": {name: spread_out(span) for name, span in self.materials.items()},
        }


@dataclass(frozen=True)
class MaterialLine:
    """The total of one material over all layers, in gallons: bare, with waste, and what to buy."""

    name: str
    group: str
    net: Span
    with_waste: Span
    buy: End
    purchase: Purchase | None

    @property
    def is_water(self) -> bool:
        """Water comes from the tap and is not bought."""
        return self.group == "water"

    @property
    def has_no_price(self) -> bool:
        """Whether this is to be bought, and no size or no price is known."""
        needed = not self.is_water and self.with_waste.high > 0
        return needed and (self.purchase is None or self.purchase.cost is None)

    def as_dict(self) -> dict[str, Any]:
        """Return the line as plain data; ``cost`` is null where a price is missing."""
        bought = self.purchase
        return {
            "name": self.name,
            "class": self.group,
            "net_gal": spread_out(self.net),
            "with_waste_gal": spread_out(self.with_waste),
            "containers": [one.as_dict() for one in (bought.items if bought else ())],
            "bought_gal": bought.bought if bought else None,
            "leftover_gal": bought.leftover if bought else None,
            "cost": bought.cost if bought else None,
        }


@dataclass(frozen=True)
class FinishEstimate:
    """What a finish takes on an area."""

    finish: str
    area_ft2: float
    waste: float
    buy: End
    layers: tuple[LayerLine, ...]
    materials: tuple[MaterialLine, ...]

    @property
    def cost(self) -> float:
        """What the containers cost, as far as they are priced."""
        return sum(one.purchase.cost or 0.0 for one in self.materials if one.purchase)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Materials that are bought but have no size or no price."""
        return tuple(one.name for one in self.materials if one.has_no_price)

    def as_dict(self) -> dict[str, Any]:
        """Return the estimate as plain data for JSON; volumes in US gallons."""
        return {
            "finish": self.finish,
            "net_ft2": self.area_ft2,
            "waste": self.waste,
            "bought_for": self.buy,
            "layers": [one.as_dict() for one in self.layers],
            "materials": [one.as_dict() for one in self.materials],
            "material_cost": self.cost,
            "unpriced": list(self.unpriced),
        }


def shares_of_product(amounts: Amounts) -> dict[str, float]:
    """Return each material's share of the product before thinning; the shares sum to 1.

    ``Amounts.parts`` are shares of the thinned mix; the thinner is taken out of the water's share.
    """
    mixed = amounts.mixed.likely
    thinner = amounts.water.likely / mixed if mixed > 0 else 0.0
    bare = {name: share - (thinner if name == "water" else 0.0) for name, share in amounts.parts.items()}
    whole = sum(bare.values())
    return {name: share / whole for name, share in bare.items() if share > 1e-12} if whole > 0 else {}


def by_material(amounts: Amounts) -> dict[str, Span]:
    """Return gallons of each material that a layer takes: product by its recipe, and the thinning water."""
    split = {name: times(amounts.product, share) for name, share in shares_of_product(amounts).items()}
    if amounts.water.high > 0:
        split["water"] = plus(split.get("water", ZERO), amounts.water)
    return split


def layer_line(layer: Layer, area_ft2: float) -> LayerLine:
    """Return what a layer takes on an area."""
    got = layer.amounts(area_ft2)
    tool = ", ".join(layer.tools_used())
    volumes = (got.product, got.water, got.mixed, by_material(got))
    return LayerLine(layer.name, layer.kind, str(tool), area_ft2, layer.asked, *volumes)


def sum_materials(lines: Iterable[LayerLine]) -> dict[str, Span]:
    """Return each material's total over layers, in the order of first use."""
    sums: dict[str, Span] = {}
    for line in lines:
        for name, span in line.materials.items():
            sums[name] = plus(sums.get(name, ZERO), span)
    return sums


def sold_as(name: str, shelf: Mapping[str, Material]) -> Material | None:
    """Return the shelf's entry for a material; colourants without one share a common entry."""
    return shelf.get(name) or shelf.get(ANY_COLOURANT)


def material_line(name: str, net: Span, shelf: Mapping[str, Material], waste: float, buy: End) -> MaterialLine:
    """Return a material's total with waste and the cheapest containers for the chosen end of its range."""
    entry = sold_as(name, shelf)
    group = entry.group if name in shelf and entry else "colourant"
    if group == "water":
        return MaterialLine(name, group, net, net, buy, None)
    need = times(net, 1.0 + waste)
    sizes = entry.containers if entry else ()
    return MaterialLine(name, group, net, need, buy, cheapest(getattr(need, buy), sizes))


def material_lines(
    sums: Mapping[str, Span], shelf: Mapping[str, Material], waste: float, buy: End
) -> tuple[MaterialLine, ...]:
    """Return the lines of all materials."""
    return tuple(material_line(name, span, shelf, waste, buy) for name, span in sums.items())


def finish_estimate(finish: Finish, area_ft2: float, waste: float = WASTE, buy: End = "high") -> FinishEstimate:
    """Return what a finish takes on a net wall area.

    Parameters
    ----------
    finish
        The layers; volumes come from their own ``amounts``.
    area_ft2
        Net wall area, ft².
    waste
        Share added to every bought material (not to water).
    buy
        The end of the range that is bought for; the high one unless told otherwise.

    Raises
    ------
    ValueError
        If the area or the waste is negative.
    """
    if area_ft2 < 0 or waste < 0:
        raise ValueError("area and waste are zero or more")
    lines = layer_lines(finish.layers, area_ft2)
    materials = material_lines(sum_materials(lines), finish.shelf, waste, buy)
    return FinishEstimate(finish.name, area_ft2, waste, buy, lines, materials)


def layer_lines(layers: Sequence[Layer], area_ft2: float) -> tuple[LayerLine, ...]:
    """Return the lines of all layers, oldest first."""
    return tuple(layer_line(one, area_ft2) for one in layers)
