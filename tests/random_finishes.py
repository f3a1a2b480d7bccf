"""Random valid finishes of any layer kinds."""

from __future__ import annotations

import random
from typing import Any, Literal, get_args, get_origin

from render import layers
from render.finish import Finish, read
from render.layers.base import Coat, Laid, Liquid, Wash

_COATS = {"size": "release size"}
_MATERIALS = ("sanded wall coat", "lime topping", "crackle plaster", "clay topping", "limewash", "wall paint")


def _choice(annotation: Any, rng: random.Random) -> Any:
    """Return one of a key's words, if it takes words."""
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is Literal:
            return rng.choice(get_args(part))
    return None


def random_layer(kind: str, name: str, rng: random.Random) -> dict[str, Any]:
    """Return a valid layer of a kind with random words, coverage, spread and thinning."""
    model = layers.kinds()[kind]
    given: dict[str, Any] = {"kind": kind, "name": name}
    if issubclass(model, Wash):
        names = rng.sample(["raw umber", "burnt umber", "yellow iron oxide", "phthalo green"], rng.randint(1, 3))
        given |= {"material": "glaze medium", "colourants": {one: f"{rng.randint(1, 12)}/4 tsp" for one in names}}
    elif issubclass(model, Coat):
        given |= {"material": _COATS.get(kind) or rng.choice(_MATERIALS)}
    elif issubclass(model, Laid):
        given |= {"material": "clear sealer"}
    elif issubclass(model, Liquid):
        material = "isopropyl alcohol" if kind == "alcohol" else "water"
        given |= {"material": material, "dose": f"{rng.uniform(0.01, 0.6):.3f} fl oz/ft2"}
    if issubclass(model, Laid):
        low = rng.choice([25, 60, 160, 400, 1500, 8000])
        given |= {"spread": f"{low}-{low * rng.choice([1, 1.2])} ft2/gal", "thin": f"{rng.choice([0, 0, 10, 40])} %"}
        given |= {"coverage": f"{rng.choice([0, 2, 11, 37.5, 50, 78, 99, 100])} %"}
    for key, field in model.model_fields.items():
        word = _choice(field.annotation, rng) if key != "kind" else None
        if word is not None and rng.random() < 0.7:
            given[key] = word
    return given


def random_finish(rng: random.Random, most: int = 40) -> Finish:
    """Return a valid finish of one to ``most`` layers, each of a random kind."""
    kinds = list(layers.kinds())
    chosen = [rng.choice(kinds) for _ in range(rng.randint(1, most))]
    return read({"name": "random", "layer": [random_layer(k, f"{i} {k}", rng) for i, k in enumerate(chosen)]}, "random")
