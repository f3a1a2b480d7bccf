"""What is bought: generic classes of product with spread, thinning, containers, price, drying, colour and cautions."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from render import presets
from render.units import Quantity, Span

Class = Literal[
    "paint", "texture paint", "plaster", "crackle plaster", "limewash", "lime plaster",
    "release size", "glaze medium", "sealer", "alcohol", "water", "mineral", "colourant", "metallic paint",
]  # fmt: skip

Hazard = Literal["activator", "alcohol", "dust", "lime", "oily rags", "wet floor"]
"""What a product can be hazardous by; the words of each caution stand in ``render.estimate.cautions``."""


def _hazards(words: Any) -> Any:
    """Read the keys of cautions, so that a misspelt one is a fault and not a caution left out."""
    known = get_args(Hazard)
    expected = f"expected {', '.join(known[:-1])} or {known[-1]}"
    if not isinstance(words, list | tuple):
        raise ValueError(f'expected a list such as ["dust"]; each is {expected.removeprefix("expected ")}')
    for word in words:
        if word not in known:
            near = difflib.get_close_matches(str(word), known, 1, 0.6)
            raise ValueError(
                f"{str(word)[:40]!r} is no hazard; {expected}{f' (did you mean {near[0]!r}?)' if near else ''}"
            )
    return tuple(words)


def _reflectance(text: Any) -> Any:
    """Read a colour, so that a bad one is a fault of the file and not of a later step."""
    if not isinstance(text, str):
        raise ValueError('expected a colour in quotes, such as "#d9cfb8"')
    from render.colour import parse_colour

    parse_colour(text)
    return text


ColourText = Annotated[str, BeforeValidator(_reflectance)]


class Container(BaseModel):
    """A size in which a material is sold, with its price in the user's currency."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    size: Annotated[float, Quantity("volume", 1e-4, 500.0)]
    label: Annotated[str, Field(description="What the size is called, such as pail.")] = ""
    price: Annotated[float, Field(ge=0, allow_inf_nan=False, description="In your currency; 0 is not known.")] = 0.0


class Material(BaseModel):
    """A product by class; nothing here is a brand.

    Prices and spreads that ship are examples; a user's own file overrides them.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    group: Annotated[Class, Field(alias="class", description="What it is; the estimate and the cautions go by it.")]
    colour: Annotated[
        ColourText, Field(description="Of a film that hides, such as #d9cfb8, lab(62, 4, 18) or LRV 62.")
    ] = "#e9e4d8"
    hides: Annotated[
        float, Quantity("film", 0.1, 500.0), Field(description="Film, as laid, that hides what is under it.")
    ] = 4.0
    spread: Annotated[
        Span,
        Quantity("spread", 1.0, 20_000.0, ranged=True),
        Field(description="Wall per volume before thinning, where a layer says none."),
    ] = Span.exactly(300.0)
    absorbency: Annotated[
        float, Quantity("share", 0.0, 1.0), Field(description="How thirsty the dry coat is for what comes over it.")
    ] = 0.5
    sheen: Annotated[float, Quantity("share", 0.0, 1.0), Field(description="From matt to polished.")] = 0.0
    grain: Annotated[float, Quantity("share", 0.0, 0.6), Field(description="Sand, as a share of the volume.")] = 0.0
    dries: Annotated[
        Span, Quantity("time", 0.0, 2000.0, ranged=True), Field(description="Until the next coat may go on.")
    ] = Span.between(2.0, 4.0)
    containers: Annotated[tuple[Container, ...], Field(description="The sizes it is sold in, with prices.")] = ()
    cautions: Annotated[
        tuple[Hazard, ...],
        BeforeValidator(_hazards),
        Field(description='Hazards of the product, a list such as ["dust", "lime"].'),
    ] = ()
    note: Annotated[str, Field(description="A remark of your own.")] = ""

    @property
    def metallic(self) -> bool:
        """Whether it mirrors in its own hue, as metal does."""
        return self.group == "metallic paint"


def _fault_lines(source: str, name: str, error: Any) -> list[str]:
    """Return one line for each fault that pydantic found in a material."""
    from render.faults import lines

    return lines(f'{source}: material "{name}"', Material, error)


def read(table: Mapping[str, Any], source: str) -> tuple[dict[str, Material], list[str]]:
    """Return the materials of a TOML table and the faults found in it, all at once."""
    from pydantic import ValidationError

    got: dict[str, Material] = {}
    faults: list[str] = []
    for name, entry in table.items():
        if not isinstance(entry, dict):
            faults.append(f'{source}: material "{name}": expected a table of keys')
            continue
        try:
            got[name] = Material.model_validate({**entry, "name": name})
        except ValidationError as error:
            faults.extend(_fault_lines(source, name, error))
    return got, faults


def stand_ins(table: Mapping[str, Any], sound: Mapping[str, Material]) -> dict[str, Material]:
    """Return a plain material for each name of a TOML table that could not be read: the name is known all the same."""
    return {name: Material.model_validate({"class": "paint", "name": name}) for name in table if name not in sound}


@lru_cache(maxsize=4)
def _shipped(path: Path, _changed: float) -> Mapping[str, Material]:
    got, faults = read(tomllib.loads(path.read_text(encoding="utf-8")), path.name)
    if faults:
        raise ValueError("\n".join(faults))
    return got


def shipped() -> Mapping[str, Material]:
    """Return the materials that ship with the program, by name."""
    path = presets.folder() / "materials.toml"
    return _shipped(path, path.stat().st_mtime)


def find(name: Any, shelf: Mapping[str, Material]) -> Material:
    """Return a material by name.

    Raises
    ------
    ValueError
        With the nearest known name.
    """
    if isinstance(name, Material):
        return name
    if not isinstance(name, str):
        raise ValueError("expected the name of a material in quotes")
    if name in shelf:
        return shelf[name]
    near = difflib.get_close_matches(name, list(shelf), 1, 0.5)
    hint = f"; did you mean {near[0]!r}?" if near else f"; known are {', '.join(sorted(shelf))}"
    raise ValueError(f"unknown material{hint}")
