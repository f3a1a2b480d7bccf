"""Cautions that travel with the layers that cause them; each names its source and defers to those who know.

They inform; they replace neither a product's safety data sheet nor local codes nor licensed practice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from render.estimate import words
from render.finish import Finish
from render.job import JobFile, Offer, Placed
from render.layers.base import Coat, Layer
from render.materials import Material

DEFER = "Follow the product's safety data sheet, local codes and licensed practice."
LEAD_YEAR = 1978
_MOST_ROOMS = 6  # that a caution names one by one
LEAD_FT2 = 6.0  # 40 CFR 745.83: minor repair inside disturbs six square feet or less per room
ABRADES = frozenset(("sand", "chip", "scrape"))
_BY_JOB = frozenset(("dust", "old paint", "ladder"))  # these depend on what lies below, the house and the walls
_DUSTY_CLASSES = frozenset(("plaster", "crackle plaster", "lime plaster", "limewash", "texture paint", "mineral"))


@dataclass(frozen=True)
class Hazard:
    """An entry of the table: heading, what the crew does, where it is from, and what the client is told."""

    title: str
    text: str
    source: str
    client: str


TABLE: Mapping[str, Hazard] = {
    "alcohol": Hazard(
        "Isopropyl alcohol",
        "Highly flammable: flash point 53 °F (12 °C). No flame, spark, pilot light or hot lamp in the room; open "
        "windows and keep air moving. Exposure limit 400 ppm over a working day. Keep containers closed and rags "
        "in a covered metal bin.",
        "NIOSH Pocket Guide to Chemical Hazards, 2-propanol; 29 CFR 1926.252(e)",
        "We flick alcohol into the wet colour. For that hour: no flame, pilot light or candle nearby, windows open, "
        "and please stay out of the room.",
    ),
    "dust": Hazard(
        "Dust from sanding or chipping plaster",
        "It can carry respirable crystalline silica. Sand wet or with a vacuum, close the room off, wear a fitted "
        "respirator, and do not sweep dry.",
        "29 CFR 1926.1153; NIOSH 99-113",
        "Sanding makes fine dust. We sand wet or with a vacuum and close the room off; please leave its doors shut.",
    ),
    "old paint": Hazard(
        "Old paint may hold lead",
        "The house was built before 1978 and more than 6 ft² (0.56 m²) in a room is sanded, scraped or chipped: a "
        "certified firm and renovator, containment, and no open dry sanding or torch, unless a test shows no lead.",
        "EPA Renovation, Repair and Painting rule, 40 CFR 745 subpart E (745.80-745.83)",
        "Your house was built before 1978. Unless a test shows that the old paint holds no lead, the walls are worked "
        "by a certified firm under the EPA's rule, and the rooms are sealed off while it does.",
    ),
    "ladder": Hazard(
        "Work above reach",
        "Stand the ladder's foot out a quarter of its working length, three points of contact, never on the top step. "
        "Over long walls use a platform.",
        "29 CFR 1926.1053",
        "There will be ladders and platforms in the rooms; please leave them to us.",
    ),
    "wet floor": Hazard(
        "Wet floor",
        "Water and glaze run off the wall. Wet drop cloths slip: use absorbent cloths over sheeting, change them when "
        "they are full, keep leads and lamps off the floor.",
        "29 CFR 1910.22",  # walking surfaces kept clean and dry; this reference is from memory
        "Water and colour run down to covered floors, and wet covers are slippery: please walk around them.",
    ),
    "lime": Hazard(
        "Lime",
        "Wet lime is caustic to eyes and skin. Goggles, gloves and long sleeves; keep clean water at hand to rinse.",
        "The product's own safety data sheet (29 CFR 1910.1200)",  # this reference is from memory
        "Fresh lime burns eyes and skin. Children and animals stay away from the walls until they are dry.",
    ),
    "activator": Hazard(
        "Metal activator",
        "A solution of acid salts: it harms eyes and skin and stains stone and floors. Goggles, gloves, long sleeves, "
        "moving air, and a mask rated for mist where it is sprayed; keep water at hand; never mix two of them.",
        "The product's own safety data sheet (29 CFR 1910.1200)",  # this reference is from memory
        "The liquid that turns the metal harms eyes and skin until it is sealed: please leave those walls alone.",
    ),
    "oily rags": Hazard(
        "Rags with drying oil",
        "They can heat up and catch fire by themselves: spread them out to dry flat outside, or keep them under water "
        "in a closed metal bin.",
        "29 CFR 1926.252(e)",
        "Rags with oil in them can catch fire by themselves; we take ours away and leave none behind.",
    ),
}


@dataclass(frozen=True)
class Caution:
    """A caution that applies, and what causes it."""

    key: str
    title: str
    text: str
    source: str
    causes: tuple[str, ...]
    client: str

    @property
    def full(self) -> str:
        """The text with source and deference."""
        return f"{self.text} {DEFER} Source: {self.source}."

    def as_dict(self) -> dict[str, Any]:
        """Return the caution as plain data."""
        return {
            "key": self.key,
            "title": self.title,
            "text": f"{self.text} {DEFER}",
            "source": self.source,
            "causes": list(self.causes),
        }


def _materials(layer: Layer, shelf: Mapping[str, Material]) -> list[Material]:
    """Return what a layer lays: its own material and whatever else is in its mix."""
    own = getattr(layer, "material", None)
    found = [own] if isinstance(own, Material) else []
    return found + [shelf[name] for name in layer.amounts(1.0).parts if name in shelf]


def abrades(layer: Layer) -> bool:
    """Return whether a layer sands, scrapes or chips what is there."""
    return layer.kind in ABRADES or ("dust" in layer.cautions() and not isinstance(layer, Coat))


def _makes_dust(layers: Sequence[Layer], number: int) -> bool:
    """Return whether an abrading layer meets plaster laid before it."""
    below = [one.material for one in layers[:number] if isinstance(one, Coat)]
    return any(one.group in _DUSTY_CLASSES or "dust" in one.cautions for one in below)


def of_finish(finish: Finish) -> dict[str, list[str]]:
    """Return the hazards that the layers of a finish cause: key to the names of the layers."""
    found: dict[str, list[str]] = {}
    for number, layer in enumerate(finish.layers):
        keys = {one for one in layer.cautions() if one not in _BY_JOB}
        if abrades(layer) and _makes_dust(finish.layers, number):
            keys.add("dust")
        for material in _materials(layer, finish.shelf):
            keys.update(one for one in material.cautions if one not in _BY_JOB)
            keys.update({"alcohol"} if material.group == "alcohol" else ())
        for key in keys & TABLE.keys():
            found.setdefault(key, []).append(layer.name)
    return found


def disturbed(walls: Iterable[Placed]) -> float:
    """Return ft² of surface that is sanded, scraped or chipped on some walls of one room."""
    area = 0.0
    for one in walls:
        shares = [1.0 if layer.asked is None else layer.asked for layer in one.finish.layers if abrades(layer)]
        area += max(max(shares, default=0.0) * one.area.net, one.wall.disturbs)
    return area


def _old_paint(file: JobFile, offer: Offer) -> list[str]:
    """Return the rooms of a house built before 1978 in which more than six square feet are disturbed."""
    year = file.site.year_built
    if year is None or year >= LEAD_YEAR:
        return []
    rooms = {one.room.name: [w for w in offer.walls if w.room.name == one.room.name] for one in offer.walls}
    found = {name: disturbed(walls) for name, walls in rooms.items() if disturbed(walls) > LEAD_FT2}
    if len(found) > _MOST_ROOMS:
        return [f"{len(found)} rooms: up to {words.area(max(found.values()), file.units)}"]
    return [f"{name}: {words.area(area, file.units)}" for name, area in found.items()]


def _above_reach(file: JobFile, offer: Offer) -> list[str]:
    """Return the rooms with a wall higher than the reach, and how high it is."""
    tops: dict[str, float] = {}
    for one in offer.walls:
        tops[one.room.name] = max(tops.get(one.room.name, 0.0), one.wall.top)
    high = {room: top for room, top in tops.items() if top > file.work.reach}
    if len(high) > _MOST_ROOMS:
        return [f"{len(high)} rooms: up to {_height(max(high.values()), file.units)}"]
    return [f"{room}: up to {_height(top, file.units)}" for room, top in high.items()]


def _height(inches: float, units: str) -> str:
    return f"{inches * 0.0254:.3g} m" if units == "metric" else f"{inches / 12:.4g} ft"


def _caution(key: str, causes: Sequence[str]) -> Caution:
    hazard = TABLE[key]
    return Caution(key, hazard.title, hazard.text, hazard.source, tuple(dict.fromkeys(causes)), hazard.client)


def for_finish(finish: Finish) -> tuple[Caution, ...]:
    """Return the cautions that the layers of a finish cause, in the order of the table."""
    found = of_finish(finish)
    return tuple(_caution(key, found[key]) for key in TABLE if key in found)


def for_offer(file: JobFile, offer: Offer) -> tuple[Caution, ...]:
    """Return the cautions of an option: those of its layers, of the house's age and of the walls' height."""
    found: dict[str, list[str]] = {}
    for finish in offer.finishes:
        for key, names in of_finish(finish).items():
            found.setdefault(key, []).extend(names)
    for key, causes in (("old paint", _old_paint(file, offer)), ("ladder", _above_reach(file, offer))):
        if causes:
            found.setdefault(key, []).extend(causes)
    return tuple(_caution(key, found[key]) for key in TABLE if key in found)


def open_points(file: JobFile, offer: Offer) -> tuple[str, ...]:
    """Return what the user has not said and a caution may depend on."""
    rooms = {one.room.name: [w for w in offer.walls if w.room.name == one.room.name] for one in offer.walls}
    if file.site.year_built is None and any(disturbed(walls) > LEAD_FT2 for walls in rooms.values()):
        return (
            "The year the house was built is not stated. If it is before 1978, sanding or chipping more than 6 ft² "
            "(0.56 m²) in a room falls under the EPA's rule for lead paint (40 CFR 745 subpart E).",
        )
    return ()
