"""A comparison: the same finish, wall and pour, with one or two things changed from cell to cell."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

from PIL import Image

from render import colour, threads
from render.estimate.quantities import by_material, sold_as
from render.faults import InputError, nearest, shown
from render.finish import Finish, load, read, set_key
from render.picture import LayerLine, preview
from render.pipeline import Cache, Site

MOST_CELLS = 64
_OWN = ("pour", "light", "finish")


@dataclass(frozen=True)
class Way:
    """One thing that varies: a layer's key, or ``pour``, ``light`` or ``finish``; and the values it takes."""

    label: str
    layer: str
    key: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class Setting:
    """What one cell renders, and the words for what is changed in it."""

    finish: Finish
    pour: int
    light: str
    labels: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Cell:
    """One rendered cell, small enough to be sent between machines.

    ``image`` the wall; ``layers`` the account of each layer; ``cost`` of the materials of one ft².
    """

    setting: Setting
    site: Site
    image: Image.Image
    layers: tuple[LayerLine, ...]
    bare_share: float
    lrv: float
    cost: float

    @property
    def unpriced(self) -> tuple[str, ...]:
        """The materials that ``cost`` leaves out, for they have no price."""
        return unpriced(self.setting.finish)

    def to_dict(self) -> dict[str, Any]:
        """Return the cell's figures as plain data."""
        return {
            "finish": self.setting.finish.name,
            "changed": list(self.setting.labels),
            "pour": self.setting.pour,
            "light": self.setting.light,
            "bare_share": self.bare_share,
            "visible_share": {line.name: line.visible_share for line in self.layers},
            "coverage_achieved": {line.name: line.achieved for line in self.layers},
            "mixed_gal": {line.name: line.mixed_gal for line in self.layers},
            "lrv": self.lrv,
            "materials_cost_per_ft2": self.cost,
            "without_a_price": list(self.unpriced),
        }


def parse_way(text: str, finish: Finish) -> Way:
    """Read "top plaster.coverage=60,70,80": layer, key, and values with the unit of the present value.

    Raises
    ------
    InputError
        If the layer, the key or the values cannot be read.
    """
    target, equals, given = text.partition("=")
    values = tuple(part.strip() for part in _split(given) if part.strip())
    if not equals or not values:
        raise InputError([f'--vary "{text}": expected LAYER.KEY=VALUE,VALUE such as "top plaster.coverage=60,70,80"'])
    target = target.strip()
    if target in _OWN:
        return Way(target, "", target, values)
    layer_name, dot, key = target.rpartition(".")
    if not dot:
        raise InputError([f'--vary "{text}": expected LAYER.KEY before "=", or one of {", ".join(_OWN)}'])
    layer = finish.layer(layer_name)
    keys = [k for k in type(layer).model_fields if k not in ("kind", "name")]
    if key.split(":")[0] not in keys:
        raise InputError([f'--vary "{text}": {layer_name} has no key "{key}"; {nearest(key, keys)}'])
    return Way(target, layer_name, key, values)


def _split(given: str) -> list[str]:
    """Split at semicolons, or where there are none at commas outside brackets: lab(62, 4, 18) stays whole."""
    if ";" in given:
        return given.split(";")
    return re.split(r",(?![^(]*\))", given)


def _with_unit(value: str, present: Any) -> str:
    """Give a bare number the unit of the value that stands there now."""
    if not re.fullmatch(r"-?[\d.]+(?:-[\d.]+)?", value):
        return value
    unit = re.sub(r"^[-\d./\s–]+", "", str(present)) if isinstance(present, str) else ""
    return f"{value} {unit}".strip() if unit else value


def _present(finish: Finish, number: int, key: str) -> Any:
    """Return the value that a key has now, in the file's own words, or the model's default."""
    entry = finish.source["layer"][number]
    if key in entry:
        return entry[key]
    return "100 %" if key in ("coverage", "spread_at", "thin") else ""


def changed(finish: Finish, way: Way, value: str) -> Finish:
    """Return the finish with one key of one layer set to a value.

    Raises
    ------
    InputError
        With the faults that the value causes.
    """
    table = copy.deepcopy(dict(finish.source))
    number = [layer.name for layer in finish.layers].index(way.layer)
    set_key(table["layer"][number], way.key, _typed(_with_unit(value, _present(finish, number, way.key))))
    return read(table, finish.name, finish.shelf)


def _typed(value: str) -> Any:
    """Return true and false as such; everything else stays text."""
    return {"true": True, "false": False}.get(value, value)


def settings(finish: Finish, ways: list[Way], pour: int, light: str) -> Iterator[Setting]:
    """Return the cells' settings, the last way changing fastest."""
    cells = [Setting(finish, pour, light, ())]
    for way in ways:
        cells = [_apply(cell, way, value) for cell in cells for value in way.values]
    if len(cells) > MOST_CELLS:
        raise InputError([f"{len(cells)} cells asked for; expected at most {MOST_CELLS}"])
    yield from cells


def _apply(cell: Setting, way: Way, value: str) -> Setting:
    labels = (*cell.labels, f"{way.label} {value}")
    if way.key == "light" and not way.layer:
        return replace(cell, light=value, labels=labels)
    if way.key == "pour" and not way.layer:
        if not re.fullmatch(r"-?\d{1,18}", value):
            raise InputError([f"--vary pour = {shown(value)}: expected a whole number"])
        return replace(cell, pour=int(value), labels=labels)
    if way.key == "finish" and not way.layer:
        other = load(value)
        return replace(cell, finish=other, labels=(*cell.labels, other.name))
    made = changed(cell.finish, way, value)
    number = [layer.name for layer in made.layers].index(way.layer)
    words = made.source["layer"][number][way.key]
    return replace(cell, finish=made, labels=(*cell.labels, f"{way.layer}: {way.key.replace('_', ' ')} {words}"))


def _best_price(name: str, finish: Finish) -> float | None:
    """Return the lowest price of a gallon of a material; nothing for water, None where no price is known."""
    own = finish.shelf.get(name)
    if name == "water" or (own is not None and own.group == "water"):
        return 0.0
    material = sold_as(name, finish.shelf)
    prices = [one.price / one.size for one in material.containers if one.price > 0] if material else []
    return min(prices, default=None)


def _volumes(finish: Finish) -> dict[str, float]:
    """Return gallons of each material that one ft² is likely to take."""
    sums: dict[str, float] = {}
    for layer in finish.layers:
        for name, span in by_material(layer.amounts(1.0)).items():
            sums[name] = sums.get(name, 0.0) + span.likely
    return sums


def cost_per_ft2(finish: Finish) -> float:
    """Return what the materials of one ft² cost, pro rata at the best price of the sizes sold, without waste.

    A material without a price is left out; ``unpriced`` names it.
    """
    return sum(gallons * (_best_price(name, finish) or 0.0) for name, gallons in _volumes(finish).items())


def unpriced(finish: Finish) -> tuple[str, ...]:
    """Return the materials that the finish takes and that have no price, in the order of first use."""
    used = (name for name, gallons in _volumes(finish).items() if gallons > 0)
    return tuple(name for name in used if _best_price(name, finish) is None)


def _cell(setting: Setting, wall: str, ppi: float, cache: Cache | None = None) -> Cell:
    got = preview(setting.finish, wall, ppi, setting.pour, setting.light, cache=cache)
    lrv = float(colour.lrv(got.seen.sample.mean(axis=0, dtype="float64")))
    cost = cost_per_ft2(setting.finish)
    return Cell(setting, got.built.site, got.image, got.layers, got.bare_share, lrv, cost)


def _here(wanted: list[Setting], wall: str, ppi: float, cache: Cache) -> Iterator[Cell]:
    """Render cells on this machine's cores; the first alone, for it lays what all the others share."""
    yield _cell(wanted[0], wall, ppi, cache)
    with ThreadPoolExecutor(threads.count(MOST_CELLS)) as pool:
        yield from pool.map(lambda one: _cell(one, wall, ppi, cache), wanted[1:])


def _elsewhere(wanted: list[Setting], wall: str, ppi: float, address: str) -> Iterator[Cell]:
    """Render cells on a Dask cluster, in order.

    Raises
    ------
    InputError
        If Dask is not installed or the scheduler does not answer.
    """
    try:
        from distributed import Client
    except ImportError:
        raise InputError(["--scheduler: needs Dask; install finishboard with the extra 'cluster'"]) from None
    try:
        client = Client(address, timeout="10s")
    except (OSError, ValueError, TimeoutError) as error:
        raise InputError([f"--scheduler {address}: no Dask scheduler answers there ({error})"]) from None
    with client:
        for future in client.map(_cell, wanted, wall=wall, ppi=ppi, pure=False):
            yield future.result()


def compare(
    finish: Finish,
    ways: list[Way],
    *,
    wall: str,
    ppi: float,
    pour: int,
    light: str,
    cache: Cache | None = None,
    progress: Callable[[int, int, str], None] | None = None,
    scheduler: str = "",
) -> list[Cell]:
    """Render the cells of a comparison on all cores; cells share the layers before the change.

    ``scheduler`` is the address of a Dask scheduler whose workers render the cells instead, with the same bytes.

    Raises
    ------
    InputError
        If a way or a value cannot be read, or the scheduler does not answer.
    """
    wanted = list(settings(finish, ways, pour, light))
    run = _elsewhere(wanted, wall, ppi, scheduler) if scheduler else _here(wanted, wall, ppi, cache or Cache())
    cells = []
    for number, cell in enumerate(run):
        cells.append(cell)
        if progress is not None:
            progress(number, len(wanted), ", ".join(cell.setting.labels))
    return cells


def table(cells: list[Cell]) -> list[dict[str, Any]]:
    """Return one flat row for each cell, for CSV."""
    rows = []
    for cell in cells:
        row: dict[str, Any] = {f"changed {n + 1}": label for n, label in enumerate(cell.setting.labels)}
        row.update({f"{line.name} seen": round(line.visible_share, 5) for line in cell.layers})
        cost = {"materials cost per ft2": round(cell.cost, 4), "without a price": ", ".join(cell.unpriced)}
        rows.append({**row, "LRV": round(cell.lrv, 2), **cost})
    return rows
