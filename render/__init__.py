"""finishboard: procedural previews of layered decorative wall finishes.

``render.preview(finish, wall="4 ft x 4 ft", ppi=25, pour=7)`` gives the picture, the layer list and the films.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from render.picture import Preview, preview

__all__ = ["Preview", "__version__", "preview"]


def __getattr__(name: str) -> Any:
    """Load the renderer when it is first used, so that the command starts at once."""
    if name in ("preview", "Preview"):
        import importlib

        module = importlib.import_module("render.picture")
        globals()["preview"], globals()["Preview"] = module.preview, module.Preview
        return globals()[name]
    raise AttributeError(f"module 'render' has no attribute {name!r}")
