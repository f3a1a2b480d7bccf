"""The page's application: a few addresses that answer JSON, a picture, or a file to save. No state but the easel's.

What is on the table (finish, wall, pour, lamp, kept looks) lives in the browser and comes with every request; a killed
server loses nothing, and two tabs share nothing.
"""

from __future__ import annotations

import json
import struct
import threading
import traceback
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import anyio.to_thread
import tomli_w
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from render import __version__
from render import finish as finishes
from render.faults import InputError
from render.page import answers
from render.page.easel import Easel, Order, jpeg, ordered
from render.page.guard import MOST_BYTES, Guard, limited
from render.pipeline import Stopped

STATIC = Path(__file__).resolve().parent / "static"
_FONTS = STATIC.parent.parent / "data" / "fonts"
_TYPES = {
    ".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8",
    ".ttf": "font/ttf", ".svg": "image/svg+xml",
}  # fmt: skip
_MOST_OPTIONS = 12
_THREADS = 6  # answers at a time: a newer one must get in to call off an older

Gone = Callable[[], bool]
Work = Callable[[Any, Gone], Response]


def _files() -> dict[str, tuple[Path, str]]:
    """Return everything that can be fetched, by address: no address is ever made into a path."""
    found = {f"/{path.name}": path for path in STATIC.iterdir() if path.suffix in _TYPES}
    found |= {f"/fonts/{path.name}": path for path in _FONTS.glob("*.ttf")}
    found["/"] = found.pop("/index.html")
    return {address: (path, _TYPES[path.suffix]) for address, path in found.items()}


async def _fetch(request: Request, path: Path, kind: str) -> Response:
    return Response(path.read_bytes(), media_type=kind)


async def _alive(_request: Request) -> Response:
    return PlainTextResponse("finishboard")


def _body(raw: bytes) -> Any:
    """Read a request's JSON.

    Raises
    ------
    InputError
        If it is not JSON as the standard has it.
    """
    try:
        return json.loads(raw, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise InputError(["the request is not JSON"]) from None


def _no_constant(name: str) -> Any:
    raise ValueError(name)


def _answered(work: Work, raw: bytes, gone: Gone) -> Response:
    """Do the work of a post and turn its errors into words."""
    try:
        return work(_body(raw), gone)
    except InputError as error:
        return JSONResponse({"faults": error.faults}, 422)
    except Stopped:
        return JSONResponse({"overtaken": True}, 409)
    except MemoryError:
        return JSONResponse({"faults": ["not enough memory for this picture; try a smaller wall"]}, 422)
    except Exception:  # whatever it is, the page stays usable, and the terminal has the particulars
        traceback.print_exc()
        return JSONResponse({"faults": ["the program met a fault of its own; take back the last change"]}, 500)


def _posted(work: Work, limiter: anyio.CapacityLimiter) -> Callable[[Request], Any]:
    """Return an endpoint that does its work in a thread, so that the page stays answered meanwhile."""

    async def endpoint(request: Request) -> Response:
        raw = await limited(request)
        if raw is None:
            return PlainTextResponse(f"a post is at most {MOST_BYTES} bytes", 413)
        gone = threading.Event()
        async with anyio.create_task_group() as group:
            group.start_soon(_watch, request, gone)
            answer = await anyio.to_thread.run_sync(_answered, work, raw, gone.is_set, limiter=limiter)
            group.cancel_scope.cancel()
        return answer

    return endpoint


async def _watch(request: Request, gone: threading.Event) -> None:
    """Note when nobody waits for the answer any more: the tab was closed, or asked for something else."""
    while (await request.receive())["type"] != "http.disconnect":
        pass
    gone.set()


class _Table:
    """What the posts do. ``opening`` is what a new sitting starts with."""

    def __init__(self, easel: Easel, opening: dict[str, Any]) -> None:
        self.easel = easel
        self.opening = opening

    def begin(self, _given: Any, _gone: Gone) -> Response:
        """Answer what a page needs once: what to open, what ships, the shelf."""
        return JSONResponse(
            {
                "version": __version__,
                "opening": self.opening,
                "shipped": answers.shipped(),
                "shelf": answers.shelf(),
                "colourants": answers.colourants(),
                "starters": answers.starters(),
            }
        )

    def layers(self, given: Any, _gone: Gone) -> Response:
        """Answer the layer list of a finish: given as a table, as the text of a file, or by a shipped name."""
        return JSONResponse(answers.layer_list(_finish(given)))

    def picture(self, given: Any, gone: Gone) -> Response:
        """Answer figures and picture: four bytes with the length of the JSON, the JSON, the JPEG."""
        order = ordered(given)
        self.easel.announce(order)
        got = self.easel.draw(order, gone)
        words = json.dumps({**answers.figures(got), "number": order.number, "quality": order.quality}).encode()
        packed = struct.pack(">I", len(words)) + words + jpeg(got.image, order.quality)
        return Response(packed, media_type="application/octet-stream")

    def progress(self, given: Any, _gone: Gone) -> Response:
        """Answer which layer is being laid for a tab."""
        tab = given.get("tab") if isinstance(given, dict) else None
        return JSONResponse(self.easel.laying(tab if isinstance(tab, str) else ""))

    def finish_file(self, given: Any, _gone: Gone) -> Response:
        """Answer a finish as a TOML file, checked before."""
        return Response(tomli_w.dumps(dict(_finish(given).source)), media_type="text/plain; charset=utf-8")

    def sheet(self, given: Any, gone: Gone) -> Response:
        """Answer the preview sheet as PNG."""
        return Response(self.easel.sheet(ordered(given), gone), media_type="image/png")

    def comparison(self, given: Any, gone: Gone) -> Response:
        """Answer kept looks side by side as PNG."""
        options = given.get("options") if isinstance(given, dict) else None
        if not isinstance(options, list) or not 1 <= len(options) <= _MOST_OPTIONS:
            raise InputError([f"options: expected 1 to {_MOST_OPTIONS} kept looks"])
        return Response(self.easel.comparison([_option(one) for one in options], gone), media_type="image/png")


def _option(given: Any) -> tuple[str, Order]:
    order = ordered(given)
    label = given.get("label", "")
    return (label if isinstance(label, str) else "")[:80], order


def _finish(given: Any) -> finishes.Finish:
    """Return the finish that a request gives in one of three ways.

    Raises
    ------
    InputError
        With every fault.
    """
    if isinstance(given, dict):
        where = given.get("where", "")
        where = where[:80] if isinstance(where, str) and where else "finish"
        if isinstance(given.get("shipped"), str) and given["shipped"] in finishes.shipped_names():
            return finishes.load(given["shipped"])
        if isinstance(given.get("toml"), str):
            return finishes.read(finishes.parse(given["toml"], where), where)
        if isinstance(given.get("finish"), dict):
            return finishes.read(given["finish"], where)
    raise InputError(["expected a finish: its table, the text of its file, or the name of one that ships"])


def build_app(port: int, opening: dict[str, Any], easel: Easel | None = None) -> Guard:
    """Return the page's application.

    Parameters
    ----------
    port
        The port it is reached under; requests that name another are refused.
    opening
        What a new sitting starts with: ``finish`` (a table), ``wall``, ``pour``, ``light``.
    easel
        What draws; a new one unless given.
    """
    table = _Table(easel or Easel(), opening)
    limiter = anyio.CapacityLimiter(_THREADS)
    works = {
        "/begin": table.begin, "/layers": table.layers, "/picture": table.picture, "/finish-file": table.finish_file,
        "/sheet": table.sheet, "/comparison": table.comparison, "/progress": table.progress,
    }  # fmt: skip
    routes = [Route(address, _posted(work, limiter), methods=["POST"]) for address, work in works.items()]
    routes += [Route(address, partial(_fetch, path=path, kind=kind)) for address, (path, kind) in _files().items()]
    routes.append(Route("/alive", _alive))
    return Guard(Starlette(routes=routes), port)
