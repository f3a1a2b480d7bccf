"""The preview: a finish on a wall, lit, with the account of every layer."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PIL import Image

from render import __version__, composite, threads, units
from render.fields import Array
from render.finish import Finish, load
from render.pipeline import Built, Cache, Done, Progress, Site, build, go_on

if TYPE_CHECKING:
    from render.light import Lamp
    from render.mate import Mate
    from render.recall import Recall
    from render.wall import Wall

DEFAULT_WALL, DEFAULT_PPI, DEFAULT_POUR = "4 ft x 4 ft", 25.0, 1
DEFAULT_LIGHT = "window left 16 deg"
Cast = Callable[[], tuple[Array, Array]]  # gives the light that falls on a relief: see light.cast
BYTES_PER_PIXEL = 160  # what a render holds at its height beside 200 MB: 134 to 147, measured (tests/bench)


@dataclass(frozen=True)
class LayerLine:
    """One layer of the list. Coverages and shares 0..1, film in mil, volumes in US gallons (likely)."""

    name: str
    kind: str
    words: str
    asked: float | None
    achieved: float | None
    visible_share: float
    wet_mil: float
    product_gal: float
    water_gal: float
    mixed_gal: float
    removed_gal: float
    run_off_gal: float

    def to_dict(self) -> dict[str, Any]:
        """Return the line as plain data."""
        return {
            "name": self.name,
            "kind": self.kind,
            "coverage_asked": self.asked,
            "coverage_achieved": self.achieved,
            "visible_share": self.visible_share,
            "mean_wet_mil": self.wet_mil,
            "product_gal": self.product_gal,
            "water_gal": self.water_gal,
            "mixed_gal": self.mixed_gal,
            "removed_gal": self.removed_gal,
            "run_off_gal": self.run_off_gal,
        }


def _line(done: Done, shares: Mapping[str, float]) -> LayerLine:
    layer, amounts = done.layer, done.amounts
    return LayerLine(
        layer.name, layer.kind, layer.words(), layer.asked, done.achieved, shares.get(layer.name, 0.0),
        done.mean_wet_mil, amounts.product.likely, amounts.water.likely, amounts.mixed.likely,
        done.removed_gal, done.run_off_gal,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Preview:
    """A rendered finish.

    ``image`` is the wall alone; ``layers`` the account of each layer, in order; ``seconds`` the time it took.
    """

    built: Built
    seen: composite.Seen
    image: Image.Image
    lamp: Lamp
    light: str
    seconds: float

    @property
    def layers(self) -> tuple[LayerLine, ...]:
        """The layer list with what each layer asked for, achieved and used."""
        return tuple(_line(done, self.seen.shares) for done in self.built.done)

    def film(self, name: str) -> Array:
        """Return the film that a layer left, in mil as mixed: read-only float32 (rows, cols).

        Raises
        ------
        KeyError
            If the layer leaves nothing on the wall or is not in the finish.
        """
        return self.built.wall.stratum(name).film

    @property
    def bare_share(self) -> float:
        """Share of the wall where one sees the bare wall."""
        return self.seen.shares.get("", 0.0)

    @cached_property
    def ledger(self) -> dict[str, dict[str, float]]:
        """Account per material in gallons: added, on the wall (summed from the films), removed, run off."""
        on_wall = self.built.on_wall()
        return {
            material: {
                "added_gal": entry.added,
                "on_wall_gal": on_wall.get(material, 0.0),
                "removed_gal": entry.removed,
                "run_off_gal": entry.run_off,
            }
            for material, entry in self.built.ledger().items()
        }

    def to_dict(self) -> dict[str, Any]:
        """Return everything that ``preview --json`` prints."""
        from render import colour, defects, texture

        site, wall = self.built.site, self.built.wall
        return {
            "finish": self.built.finish.name,
            "wall": {
                "width_ft": site.width_in / 12.0,
                "height_ft": site.height_in / 12.0,
                "net_ft2": site.area_ft2,
            },
            "ppi": site.ppi,
            "pour": site.pour,
            "light": self.light,
            "version": __version__,
            "seconds": round(self.seconds, 3),
            "bare_share": self.bare_share,
            "layers": [line.to_dict() for line in self.layers],
            "ledger": self.ledger,
            "colours": colour.summary(self.seen.sample),
            "texture": texture.parameters(wall.height, site.ppi),
            "defects": defects.rating(wall),
        }


def site_for(wall: str, ppi: float, pour: int) -> Site:
    """Return the site for a wall in words.

    Raises
    ------
    InputError
        If the wall or the resolution cannot be read, or the picture would need more memory than there is.
    """
    from render.faults import InputError

    try:
        height, width = units.rectangle(wall)
    except ValueError as error:
        raise InputError([f'--wall = "{wall}": {error}']) from None
    if not 0.05 <= ppi <= 1200:
        raise InputError([f"--ppi = {ppi:g}: expected 0.05 to 1200 pixels per inch"])
    if not -(2**63) <= pour < 2**63:
        raise InputError([f"--pour = {pour}: expected a whole number of at most 18 digits"])
    _check_memory(height, width, ppi)
    return Site(height, width, ppi, pour)


def _check_memory(height: float, width: float, ppi: float) -> None:
    """Refuse a picture that would not fit, and say the largest resolution that does."""
    from render.faults import InputError
    from render.memory import free_bytes

    most = 0.8 * free_bytes() / BYTES_PER_PIXEL
    if max(height * width, 1.0) * ppi * ppi > most:
        fits = (most / (height * width)) ** 0.5
        raise InputError(
            [f"--ppi = {ppi:g}: {height * width * ppi * ppi / 1e6:.0f} megapixels need more memory than is free; "
             f"expected at most {fits:.3g} px/in for this wall"]
        )  # fmt: skip


def films(finish: Finish) -> dict[str, Any]:
    """Return (k, s) per mil of every layer that leaves a stratum."""
    found = {layer.name: layer.optics() for layer in finish.layers}
    return {name: optics for name, optics in found.items() if optics is not None}


def metals(finish: Finish) -> frozenset[str]:
    """Return the names of the layers that are metal."""
    laid = ((layer.name, getattr(layer, "material", None)) for layer in finish.layers)
    return frozenset(name for name, material in laid if material is not None and material.metallic)


def lit(
    built: Built,
    seen: composite.Seen,
    lamp: Lamp,
    recall: Recall | None = None,
    heed: Callable[[], None] = lambda: None,
    cast: Cast | None = None,
) -> Image.Image:
    """Return the picture of a wall under a lamp; ``heed`` is called now and then and may raise to call it off.

    ``cast`` gives what ``light.cast`` does, where another process works that out.
    """
    from render import light

    wall = built.wall
    pixels = light.shade(
        wall.height, seen.rgb, wall.sheen, built.site.ppi, lamp,
        recall=recall, heed=heed, metal=seen.metal, elsewhere=cast,
    )  # fmt: skip
    return Image.fromarray(pixels)


def _cast(wall: Wall, ppi: float, lamp: Lamp, recall: Recall | None, mate: Mate | None) -> Cast | None:
    """Let the mate work out the light that falls on a wall, where it is not known."""
    from render import light

    known = recall is not None and recall.lit(wall.height, light.setting(lamp, ppi)) is not None
    return None if mate is None or known else mate.begin(partial(light.cast, wall.height, ppi, lamp))


def preview(
    finish: Finish | str | Path,
    wall: str = DEFAULT_WALL,
    ppi: float = DEFAULT_PPI,
    pour: int = DEFAULT_POUR,
    light: str = DEFAULT_LIGHT,
    *,
    cache: Cache | None = None,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
    recall: Recall | None = None,
    mate: Mate | None = None,
) -> Preview:
    """Render a finish on a wall.

    Parameters
    ----------
    finish
        A finish, the path of its file, or the name of a shipped preset.
    wall
        Width x height, such as "12 ft x 8 ft".
    ppi
        Pixels per inch of wall.
    pour
        The number that fixes this instance of the finish.
    light
        The lamp in words, such as "window left 16 deg, 2700 K".
    cache, progress, stop, mate
        As ``pipeline.build``.
    recall
        Parts of the last picture; the result does not depend on it.

    Raises
    ------
    InputError
        If the finish, wall, resolution or lamp cannot be read.
    """
    from render.faults import InputError
    from render.light import parse_lamp

    began = time.perf_counter()
    finish = finish if isinstance(finish, Finish) else load(finish)
    site = site_for(wall, ppi, pour)
    try:
        lamp = parse_lamp(light)
    except ValueError as error:
        raise InputError([f'--light = "{light}": {error}']) from None
    built = build(finish, site, cache=cache, progress=progress, stop=stop, mate=mate)
    heed = partial(go_on, stop)
    heed()
    beside = mate if built.wall.height.size < threads.FEW_PIXELS else None  # from so many on threads share the work
    cast = _cast(built.wall, ppi, lamp, recall, beside)
    seen = composite.look(
        built.wall, finish.wall_colour, films(finish), lamp, recall, heed, metals=metals(finish), mate=beside
    )
    image = lit(built, seen, lamp, recall, heed, cast)
    return Preview(built, seen, image, lamp, light, time.perf_counter() - began)
