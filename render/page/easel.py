"""Draws pictures for the page: keeps walls between requests and drops work that nobody waits for any more."""

from __future__ import annotations

import io
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from threading import Lock
from typing import Any, Literal

from PIL import Image

from render import colour, compare, finish, keepsake, memory, picture, units
from render.compare import Cell, Setting
from render.faults import InputError
from render.finish import Finish
from render.mate import Mate
from render.picture import Preview
from render.pipeline import Cache, Stopped
from render.recall import Recall

Quality = Literal["draft", "settled", "fine"]
# Pixels of a picture and the most px/in: a draft of 4 ft x 4 ft has 12.5 px/in, the picture at rest 25.
_PIXELS: dict[Quality, tuple[float, float]] = {
    "draft": (360_000.0, 50.0), "settled": (1_440_000.0, 100.0), "fine": (5_760_000.0, 100.0),
}  # fmt: skip
_MOST_BYTES = 2.4e9  # of walls and drawings: three or four changes of a 4 ft board of twenty layers
_MOST_TABS = 200
_LONGEST_IN = 2400.0
_MOST_LETTERS = 200


@dataclass(frozen=True)
class Order:
    """What a tab asks to see: a finish's table on a wall, in a light. ``number`` counts up within a tab."""

    table: Mapping[str, Any]
    wall: str
    pour: int
    light: str
    tab: str = ""
    number: int = 0
    quality: Quality = "settled"

    def read(self) -> Finish:
        """Return the finish.

        Raises
        ------
        InputError
            With all its faults.
        """
        return finish.read(self.table)


def ordered(given: Any) -> Order:
    """Read an order from a request.

    Raises
    ------
    InputError
        With every key that is missing or of the wrong kind.
    """
    if not isinstance(given, dict):
        raise InputError(["expected an object"])
    wanted = {"finish": dict, "wall": str, "pour": int, "light": str}
    faults = [f"{key}: expected {kind.__name__}" for key, kind in wanted.items() if type(given.get(key)) is not kind]
    tab, number, quality = given.get("tab", ""), given.get("number", 0), given.get("quality", "settled")
    if not isinstance(tab, str) or len(tab) > _MOST_LETTERS or type(number) is not int:
        faults.append("tab, number: expected short text and a whole number")
    if quality not in _PIXELS:
        faults.append(f"quality: expected one of {', '.join(_PIXELS)}")
    if not faults and max(len(given["wall"]), len(given["light"])) > _MOST_LETTERS:
        faults.append(f"wall, light: expected at most {_MOST_LETTERS} letters")
    if faults:
        raise InputError(faults)
    return Order(given["finish"], given["wall"], given["pour"], given["light"], tab, number, quality)


def resolution(wall: str, quality: Quality) -> float:
    """Return px/in for a wall in words, so that every wall is drawn with about as many pixels.

    Raises
    ------
    InputError
        If the wall cannot be read.
    """
    try:
        height, width = units.rectangle(wall)
    except ValueError as error:
        raise InputError([f'wall = "{wall}": {error}']) from None
    if min(height, width) < 1.0 or max(height, width) > _LONGEST_IN or max(height, width) > 50 * min(height, width):
        raise InputError([f'wall = "{wall}": expected sides of 1 in to 200 ft, one at most 50 times the other'])
    pixels, most = _PIXELS[quality]
    return float(f"{min(most, (pixels / (height * width)) ** 0.5):.6g}")


class Easel:
    """Pictures on order. Drafts and finished pictures keep their walls apart, so that neither pushes out the other."""

    def __init__(self, share_of_memory: float = 0.4, mate: Mate | None = None) -> None:
        """Keep walls and drawings in at most that share of the memory that is free now; a mate may draw ahead.

        The room is soon full, and what goes makes place for what comes: fresh memory costs as much time as drawing.
        """
        room = min(share_of_memory * memory.free_bytes(), _MOST_BYTES)
        self._walls = {"draft": Cache(int(0.15 * room), int(0.15 * room)),
                       "settled": Cache(int(0.4 * room), int(0.3 * room))}  # fmt: skip
        self._recall: dict[str, Recall] = {"draft": Recall(), "settled": Recall()}
        self._latest: OrderedDict[str, int] = OrderedDict()
        self._laying: dict[str, tuple[int, int, str]] = {}
        self._lock = Lock()
        self._mate = mate

    def announce(self, order: Order) -> None:
        """Note that a tab asks for something newer: what it asked for before is called off."""
        with self._lock:
            self._latest[order.tab] = max(order.number, self._latest.pop(order.tab, order.number))
            while len(self._latest) > _MOST_TABS:
                self._latest.popitem(last=False)

    def overtaken(self, order: Order) -> bool:
        """Return whether the tab has asked for something newer since."""
        return self._latest.get(order.tab, order.number) > order.number

    def draw(self, order: Order, gone: Callable[[], bool] = lambda: False) -> Preview:
        """Return the picture that was ordered; ``gone`` tells that nobody waits for it any more.

        Raises
        ------
        InputError
            If the finish, the wall or the light cannot be read.
        Stopped
            If the tab asked for something newer meanwhile, or is gone.
        """

        def stop() -> bool:
            return gone() or self.overtaken(order)

        if stop():
            raise Stopped
        cache = self._walls["draft" if order.quality == "draft" else "settled"]
        recall = self._recall.get(order.quality)
        ppi = resolution(order.wall, order.quality)
        return picture.preview(
            order.read(), order.wall, ppi, order.pour, order.light, cache=cache,
            stop=stop, recall=recall, progress=partial(self._note, order.tab), mate=self._mate,
        )  # fmt: skip

    def _note(self, tab: str, number: int, total: int, name: str) -> None:
        self._laying[tab] = (number + 1, total, name)
        while len(self._laying) > _MOST_TABS:
            self._laying.pop(next(iter(self._laying)), None)

    def laying(self, tab: str) -> dict[str, Any]:
        """Return which layer is being laid for a tab, or was last: its number, of how many, and its name."""
        number, total, name = self._laying.get(tab, (0, 0, ""))
        return {"number": number, "of": total, "name": name}

    def sheet(self, order: Order, gone: Callable[[], bool] = lambda: False) -> bytes:
        """Return the preview sheet as PNG, which renders again."""
        from render.estimate.words import units_of
        from render.sheets.preview_sheet import sheet

        got = self.draw(order, gone)
        out = io.BytesIO()
        keepsake.save(sheet(got, units_of(order.wall)), out, got, order.wall)
        return out.getvalue()

    def comparison(self, options: list[tuple[str, Order]], gone: Callable[[], bool] = lambda: False) -> bytes:
        """Return one PNG with the options side by side, each under its label."""
        from render.estimate.words import units_of
        from render.files import png_mark
        from render.sheets.comparison import sheet

        cells = [self._cell(label, order, gone) for label, order in options]
        page = sheet(cells, "Kept looks", min(3, len(cells)), units_of(options[0][1].wall))
        out = io.BytesIO()
        page.save(out, "PNG", pnginfo=png_mark(cells[0].setting.finish.name))
        return out.getvalue()

    def _cell(self, label: str, order: Order, gone: Callable[[], bool]) -> Cell:
        read, got = order.read(), self.draw(order, gone)
        setting = Setting(read, order.pour, order.light, (label,))
        cost = compare.cost_per_ft2(read)
        return Cell(setting, got.built.site, got.image, got.layers, got.bare_share, lrv(got), cost)


def lrv(got: Preview) -> float:
    """Return the light reflectance value of a picture's surface, 0 to 100."""
    return float(colour.lrv(got.seen.sample.mean(axis=0, dtype="float64")))


def jpeg(image: Image.Image, quality: Quality) -> bytes:
    """Return a picture for the browser: the draft fast, the picture at rest with full colour resolution."""
    out = io.BytesIO()
    image.save(out, "JPEG", quality=85 if quality == "draft" else 92, subsampling=2 if quality == "draft" else 0)
    return out.getvalue()
