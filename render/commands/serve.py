"""``serve``: the local page to sit at with the client."""

from __future__ import annotations

import os
import socket
import threading
import webbrowser
from typing import Annotated, Any

import typer

from render.commands import options as o

Port = Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this computer; 0 takes a free one.")]
Browser = Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")]
MaybeFinish = Annotated[str, typer.Argument(metavar="[FINISH]", help="What to begin with: a file or a shipped name.")]


def serve(
    finish: MaybeFinish = "",
    wall: o.WallOption = "4 ft x 4 ft",
    pour: o.PourOption = 1,
    light: o.LightOption = "",
    port: Port = 8417,
    browser: Browser = True,
) -> None:
    """Open a page on this computer: the wall, its layer list as the control, and kept looks side by side."""
    import uvicorn

    from render import threads
    from render.mate import Mate
    from render.page.app import build_app
    from render.page.easel import Easel

    opening = _opening(finish, wall, pour, light)
    listening = _listen(port)
    port = listening.getsockname()[1]
    address = f"http://127.0.0.1:{port}/"
    print(address, flush=True)
    o.say("open this address in a browser on this computer; Ctrl+C ends it")
    if browser:
        threading.Timer(0.6, webbrowser.open, [address]).start()
    mate = Mate() if threads.count() > 1 else None
    page = build_app(port, opening, Easel(mate=mate))
    with listening:
        config = uvicorn.Config(page, log_level="critical", access_log=False, timeout_graceful_shutdown=1)
        uvicorn.Server(config).run([listening])


def _opening(finish: str, wall: str, pour: int, light: str) -> dict[str, Any]:
    """Return what a new sitting starts with; wrong input is told before anything listens."""
    from render.finish import load, shipped_names
    from render.light import parse_lamp
    from render.picture import DEFAULT_LIGHT, DEFAULT_PPI, site_for

    light = light or DEFAULT_LIGHT
    site_for(wall, DEFAULT_PPI / 10, pour)
    try:
        parse_lamp(light)
    except ValueError as error:
        from render.faults import InputError

        raise InputError([f'--light = "{light}": {error}']) from None
    name = finish or next(iter(shipped_names()), "")
    table = dict(load(name).source) if name else {"name": "Bare wall"}
    return {"finish": table, "wall": wall, "pour": pour, "light": light}


def _listen(port: int) -> socket.socket:
    """Return a socket that listens on this computer alone.

    Raises
    ------
    InputError
        If the port is taken.
    """
    from render.faults import InputError
    from render.page.guard import ADDRESS

    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":  # elsewhere the option lets a second program take the port
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((ADDRESS, port))
        listening.listen()
    except OSError as error:
        listening.close()
        raise InputError([f"--port = {port}: cannot be used ({error.strerror}); expected a free one, or 0"]) from None
    return listening
