"""What every layer kind shares: a name, its keys, the volumes it asks for, and ``apply``.

A layer kind is one module beside this one. It derives from ``Layer`` (an act on what is there), ``Coat`` (adds
material that builds and hides) or ``Wash`` (a wet colour), names itself with a ``kind`` literal, and implements
``apply(wall, streams) -> Wall``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator
from pydantic_core import core_schema

from render import units
from render.fields import Array
from render.materials import Material, find
from render.seeds import Streams
from render.units import Quantity, Span
from render.wall import Stratum, Wall

# The types that layer keys use. Each reads a string with its unit.
Share = Annotated[float, Quantity("share", 0.0, 1.0)]
SpanShare = Annotated[Span, Quantity("share", 0.0, 4.0, ranged=True)]
Length = Annotated[float, Quantity("length", 0.0, 1200.0)]
Mils = Annotated[float, Quantity("film", 0.0, 2000.0)]
Angle = Annotated[float, Quantity("angle", -180.0, 180.0)]
SpanSpread = Annotated[Span, Quantity("spread", 1.0, 20_000.0, ranged=True)]
SpanDose = Annotated[Span, Quantity("dose", 0.0, 1.0, ranged=True)]
Optics = tuple[NDArray[np.float64], NDArray[np.float64]]
Volume = Annotated[float, Quantity("volume", 0.0, 500.0)]
SpanTime = Annotated[Span, Quantity("time", 0.0, 2000.0, ranged=True)]


class _Named:
    """Reads a material's name against the shelf that the finish was opened with."""

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> Any:
        def read(name: Any, info: ValidationInfo) -> Material:
            from render.materials import shipped

            shelf = (info.context or {}).get("materials") or shipped()
            return find(name, shelf)

        return core_schema.with_info_plain_validator_function(read)


Named = Annotated[Material, _Named()]


@dataclass(frozen=True)
class Amounts:
    """What a layer asks for on an area, in gallons, low / likely / high.

    ``product`` is out of the container, ``mixed`` with its thinner or in the mixed glaze, ``water`` the thinner.
    ``parts`` is the share of each material in the likely mix.
    """

    product: Span
    water: Span
    mixed: Span
    parts: dict[str, float]

    @classmethod
    def none(cls) -> Amounts:
        """Nothing is used."""
        zero = Span.exactly(0.0)
        return cls(zero, zero, zero, {})


class Layer(BaseModel):
    """One thing done to the wall."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, validate_default=True)

    kind: str
    name: Annotated[str, Field(min_length=1, max_length=80)]
    note: Annotated[str, Field(max_length=500, description="A remark for the layer list and the site sheet.")] = ""
    labour: Annotated[
        Annotated[Span, Quantity("rate", 1.0, 20_000.0, ranged=True)] | None,
        Field(description="Your own rate of work for this layer, one person; default: the usual one."),
    ] = None

    title: ClassVar[str] = ""
    tools: ClassVar[tuple[str, ...]] = ()
    hazards: ClassVar[tuple[str, ...]] = ()
    while_wet: ClassVar[bool] = False
    """Whether it is done to a coat or colour that is still wet; everything else waits until what is below is dry."""

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall after this layer."""
        raise NotImplementedError

    def amounts(self, area_ft2: float) -> Amounts:
        """Return what the layer asks for on an area; acts ask for nothing."""
        return Amounts.none()

    @property
    def asked(self) -> float | None:
        """The coverage that the layer asks for, 0 to 1, or None where the word does not apply."""
        return getattr(self, "coverage", None)

    def achieved(self, before: Wall, after: Wall) -> float | None:
        """Return the share of the wall that the layer really touched, 0 to 1; None where no coverage is asked."""
        if self.asked is None:
            return None
        touched = before.height != after.height
        for old, new in zip(before.strata, after.strata, strict=False):
            if old.film is not new.film:
                touched = touched | (old.film != new.film)
        return float(np.mean(touched))

    def optics(self) -> Optics | None:
        """Return (k, s) per mil, each (bands,), of the stratum that the layer leaves; None if it leaves none."""
        return None

    def fingerprint(self) -> str:
        """Return what the wall depends on: the keys without colours, prices, notes and hours."""
        own = self.model_dump(exclude={"note", "labour", "colourants", "medium", "material"})
        material = getattr(self, "material", None)
        kept = material and material.model_dump(
            include={"name", "spread", "absorbency", "sheen", "grain", "hides", "group"}
        )
        return repr((own, kept))

    def words(self) -> str:
        """Return the layer's line in the list, in plain words, without its name."""
        return self.title or self.kind.replace("_", " ")

    def tools_used(self) -> tuple[str, ...]:
        """Return what is held in the hand: the layer's own ``tool`` where it names one, else the kind's tools."""
        own = str(getattr(self, "tool", "") or "")
        return (own,) if own else self.tools

    def cautions(self) -> tuple[str, ...]:
        """Return the hazards that this layer causes, as keys of the caution table."""
        return self.hazards


def _ratio(area_ft2: float, spread: Span, times: float) -> Span:
    """Return gallons low / likely / high for a spread; a wide spread needs little."""
    return Span(*(area_ft2 * times / one for one in (spread.high, spread.likely, spread.low)))


class Laid(Layer):
    """A material laid over part of the wall at a spread."""

    material: Annotated[Named, Field(description="What is laid: a material that ships or one of the finish's own.")]
    coverage: Annotated[Share, Field(description="Share of the wall that the layer is asked to touch.")] = "100 %"  # type: ignore[assignment]  # defaults are read as a file's values are
    spread: Annotated[
        SpanSpread | None, Field(description="Wall per volume of product before thinning; default: the material's.")
    ] = None
    spread_at: Annotated[
        Share | None, Field(description="The coverage at which that spread was measured; default: this coverage.")
    ] = None
    thin: Annotated[SpanShare, Field(description="Thinner added, as a share of the product's volume.")] = "0 %"  # type: ignore[assignment]

    @field_validator("spread_at")
    @classmethod
    def _spread_at_above_zero(cls, share: float | None) -> float | None:
        if share is not None and share <= 0:
            raise ValueError("the coverage at which a spread was measured is above 0 %")
        return share

    @property
    def spread_used(self) -> Span:
        """The layer's own spread, or the material's."""
        return self.spread or self.material.spread

    @property
    def parts(self) -> dict[str, float]:
        """Share of each material in the likely mix; the shares sum to 1."""
        likely = self.thin.likely
        parts = {self.material.name: 1.0 / (1.0 + likely)}
        if likely > 0:
            parts["water"] = parts.get("water", 0.0) + likely / (1.0 + likely)
        return parts

    def amounts(self, area_ft2: float) -> Amounts:
        """Product = area / spread x coverage / spread_at; mixed = product x (1 + thin)."""
        at = self.spread_at or self.coverage
        product = _ratio(area_ft2, self.spread_used, self.coverage / at if at > 0 else 0.0)
        thin = self.thin
        water = Span(product.low * thin.low, product.likely * thin.likely, product.high * thin.high)
        mixed = Span(product.low + water.low, product.likely + water.likely, product.high + water.high)
        return Amounts(product, water, mixed, self.parts)

    @property
    def mean_mil(self) -> float:
        """The mean film over the whole wall, in mil, that the likely mixed volume gives."""
        return units.film_mil(self.amounts(1.0).mixed.likely, 1.0)

    def achieved(self, before: Wall, after: Wall) -> float | None:
        """Return the share of the wall that has any of this layer's film."""
        return float(np.mean(after.stratum(self.name).film > 0))


class Coat(Laid):
    """A coat builds height and hides what is under it."""

    def optics(self) -> Optics:
        """Absorption and scattering per mil, from the material's colour and hiding film."""
        from render import colour

        return colour.coat_ks(colour.parse_colour(self.material.colour), self.material.hides)

    def stratum(self, film: Array, **more: Any) -> Stratum:
        """Return this coat's stratum for a film (mil), with the material's absorbency and sheen."""
        fields = {"thirst": self.material.absorbency, "sheen": self.material.sheen, **more}
        return Stratum(self.name, "coat", film, **fields)


def scaled(film: Array, mean_mil: float, out: Array | None = None) -> Array:
    """Return a film with exactly that mean (float64 sum), where it has any material; written to ``out``, if given.

    A coat shapes its film so that this factor is near 1.
    """
    mean = float(np.mean(film, dtype=np.float64))
    factor = mean_mil / mean if mean > 0.0 and mean_mil > 0.0 else 0.0
    return np.asarray(np.multiply(film, factor, out=out), np.float32)


class Wash(Laid):
    """A wet colour: a glaze mixed by volume from a medium and colourants. The product is the glaze before thinning."""

    medium: Annotated[Volume, Field(description="Clear medium in one batch of the glaze.")] = "12 fl oz"  # type: ignore[assignment]
    colourants: Annotated[
        dict[str, Annotated[float, Quantity("volume", 0.0, 50.0)]],
        Field(description="Volume of each colourant in one batch."),
    ]

    @field_validator("colourants")
    @classmethod
    def _known(cls, given: dict[str, float]) -> dict[str, float]:
        from render import colour
        from render.faults import nearest

        shelf = colour.colourants()
        for name in given:
            if name not in shelf:
                raise ValueError(f"unknown colourant {name!r}; {nearest(name, sorted(shelf))}")
        if not given:
            raise ValueError("expected at least one colourant with its volume")
        return given

    @property
    def parts(self) -> dict[str, float]:
        """Share of the medium, each colourant and the water in the mixed glaze; the shares sum to 1."""
        volumes = {self.material.name: self.medium, **self.colourants}
        whole = sum(volumes.values()) * (1.0 + self.thin.likely)
        parts = {name: volume / whole for name, volume in volumes.items()}
        if self.thin.likely > 0:
            parts["water"] = self.thin.likely / (1.0 + self.thin.likely)
        return parts

    def optics(self) -> Optics:
        """Absorption and scattering per mil of the mixed glaze, by Duncan's rule."""
        from render import colour

        shelf = colour.colourants()
        return colour.mix({shelf[name]: self.parts[name] for name in self.colourants})

    def stratum(self, film: Array, fixed: Array | None = None) -> Stratum:
        """Return this glaze's stratum for a film (mil)."""
        return Stratum(self.name, "colour", film, fixed)


class Liquid(Layer):
    """Clear liquid that works on what is there and dries away: water or alcohol, by the dose on the wall."""

    material: Annotated[Named, Field(description="Water or alcohol.")]
    dose: Annotated[SpanDose, Field(description="Liquid for each area of the whole wall.")]
    coverage: Annotated[Share, Field(description="Share of the wall that it is asked to touch.")] = "100 %"  # type: ignore[assignment]

    @property
    def asked(self) -> float | None:
        """None: what a liquid opens depends on what is wet there; ``coverage`` is where it is aimed."""
        return None

    def amounts(self, area_ft2: float) -> Amounts:
        """Volume = dose x area; nothing is mixed in."""
        used = Span(*(area_ft2 * one for one in (self.dose.low, self.dose.likely, self.dose.high)))
        return Amounts(used, Span.exactly(0.0), used, {self.material.name: 1.0})
