"""What the page is told: the layer list with its controls, and the figures of a picture. Plain data, no markup."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from render import colour, compare, materials, presets
from render.estimate.quantities import finish_estimate
from render.estimate.words import CURRENCY
from render.finish import Finish, load, shipped_names
from render.layers import about, kinds
from render.layers.base import Coat, Laid, Layer, Liquid, Wash
from render.materials import Material
from render.page.controls import controls
from render.page.easel import lrv
from render.picture import Preview
from render.sheets.preview_sheet import swatch

_GROUPS = ("Coats", "Glazes and colours", "Liquids", "With a tool on what is there")


def shelf() -> dict[str, Any]:
    """Return the shipped materials as their file has them, so that a finish can carry a changed copy of one."""
    return tomllib.loads((presets.folder() / "materials.toml").read_text(encoding="utf-8"))


def colourants() -> dict[str, str]:
    """Return every colourant's own colour, in a film that hides, as an sRGB code."""
    ground = colour.parse_colour("#ffffff")
    return {name: _code(colour.film_exact(ground, one.k, one.s, 50.0)) for name, one in colour.colourants().items()}


def _code(reflectance: Any) -> str:
    return colour.hex_code(colour.to_linear_rgb(reflectance))


def code_of(text: str) -> str:
    """Return a colour in words as an sRGB code."""
    return _code(colour.parse_colour(text))


def shipped() -> list[dict[str, Any]]:
    """Return the shipped finishes by name, with what each is."""
    rows = [(name, load(name)) for name in shipped_names()]
    return [{"id": name, "name": one.name, "summary": one.summary, "family": one.family} for name, one in rows]


def starters() -> list[dict[str, Any]]:
    """Return every layer kind as it is added to a list: what it is, and an entry with the model's own defaults.

    What a kind cannot do without (a material, a dose, colourants) is as in the first shipped finish that has the kind
    with a material off the shelf; where all bring their own, the shelf's nearest of the same class stands in for it.
    """
    used: dict[str, Mapping[str, Any]] = {}
    own: dict[str, Mapping[str, Any]] = {}
    common = shelf()
    for finish in map(load, shipped_names()):
        for entry in finish.source.get("layer", []):
            if entry.get("material", "water") in common:
                used.setdefault(entry["kind"], entry)
            elif like := _like(finish.shelf[entry["material"]], common):
                own.setdefault(entry["kind"], {**entry, "material": like})
    used = {**own, **used}
    found = [_starter(kind, model, used[kind]) for kind, model in kinds().items() if kind in used]
    return sorted(found, key=lambda one: _GROUPS.index(one["group"]))


def _like(material: Material, common: Mapping[str, Any]) -> str | None:
    """Return the shelf's material of the same class and with the same cautions, nearest in spread."""
    same = [
        one for one in materials.shipped().values()
        if one.name in common and (one.group, one.cautions) == (material.group, material.cautions)
    ]  # fmt: skip
    best = min(same, key=lambda one: abs(one.spread.likely - material.spread.likely), default=None)
    return best.name if best else None


def _starter(kind: str, model: type[Layer], used: Mapping[str, Any]) -> dict[str, Any]:
    fields = model.model_fields.items()
    wanted = [key for key, one in fields if key == "medium" or (one.is_required() and key != "name")]
    rank = 1 if issubclass(model, Wash) else 0 if issubclass(model, Laid) else 2 if issubclass(model, Liquid) else 3
    entry = {"kind": kind, **{key: used[key] for key in wanted if key in used}}
    return {"kind": kind, "group": _GROUPS[rank], "about": about(model), "entry": entry}


def layer_list(finish: Finish) -> dict[str, Any]:
    """Return the layer list with the controls of every layer."""
    entries = finish.source.get("layer", [])
    rows = [_row(layer, entry) for layer, entry in zip(finish.layers, entries, strict=True)]
    return {
        "finish": finish.source,
        "name": finish.name,
        "summary": finish.summary,
        "use": finish.use,
        "watch": finish.watch,
        "wall_colour": code_of(finish.wall_colour),
        "layers": rows,
        "paints": {name: _on_shelf(one) for name, one in finish.shelf.items()},
    }


def _on_shelf(material: Material) -> dict[str, str]:
    return {"group": material.group, "colour": code_of(material.colour)}


def _row(layer: Layer, entry: Mapping[str, Any]) -> dict[str, Any]:
    found = controls(layer, entry)
    if isinstance(layer, Coat):
        paint = {
            "key": "paint", "type": "paint", "label": "colour", "material": layer.material.name,
            "help": f"Colour of {layer.material.name}, in every layer that uses it.",
            "value": code_of(layer.material.colour),
        }  # fmt: skip
        found.append(paint)
    return {"name": layer.name, "kind": layer.kind, "words": layer.words(), "note": layer.note, "controls": found}


def figures(got: Preview) -> dict[str, Any]:
    """Return what stands beside a picture: each layer's shares and film, materials and their price."""
    finish, area = got.built.finish, got.built.site.area_ft2
    lines = [
        {**line.to_dict(), "words": line.words, "colour": swatch(layer, line.wet_mil)}
        for line, layer in zip(got.layers, finish.layers, strict=True)
    ]
    return {
        "layers": lines,
        "bare_share": got.bare_share,
        "net_ft2": area,
        "ppi": got.built.site.ppi,
        "lrv": lrv(got),
        "cost_per_ft2": compare.cost_per_ft2(finish),
        "currency": CURRENCY,
        "unpriced": list(compare.unpriced(finish)),
        "seconds": got.seconds,
        "materials": _materials(finish, area),
    }


def _materials(finish: Finish, area: float) -> list[dict[str, Any]]:
    """Return gallons of each material on the wall, and with waste what to buy."""
    found = finish_estimate(finish, area)
    return [
        {
            "name": one.name,
            "gal": one.net.likely,
            "buy": one.purchase.words() if one.purchase and not one.is_water else "",
            "cost": one.purchase.cost if one.purchase else None,
        }
        for one in found.materials
    ]
