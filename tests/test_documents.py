"""What README and DEVELOPERS say is true: their examples run."""

from __future__ import annotations

import importlib.util
import re
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

from render import cli, layers
from render.finish import read

ROOT = Path(__file__).resolve().parent.parent


def blocks(document: str, language: str) -> list[str]:
    """The code blocks of a document in a language."""
    return re.findall(rf"```{language}\n(.*?)```", (ROOT / document).read_text(encoding="utf-8"), re.DOTALL)


def loaded(name: str, text: str, folder: Path) -> ModuleType:
    """A module made of some text."""
    path = folder / f"{name}.py"
    path.write_text(text, encoding="utf-8")
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # pydantic looks the annotations up there
    spec.loader.exec_module(module)
    return module


def test_the_example_layer_kind_and_its_test_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The new kind that DEVELOPERS.md shows works, and the test that it shows passes."""
    kind, its_test = (text for text in blocks("DEVELOPERS.md", "python") if "leck" in text)
    fleck = loaded("fleck_example", kind, tmp_path).Fleck
    every = {**layers.kinds(), "fleck": fleck}
    monkeypatch.setattr(layers, "kinds", lambda: every)
    loaded("fleck_example_test", its_test, tmp_path).test_flakes_cover_the_share_asked()


def test_the_example_finish_is_valid() -> None:
    """The finish that README shows has no fault."""
    (text,) = blocks("README.md", "toml")
    kinds = [one.kind for one in read(tomllib.loads(text)).layers]
    assert kinds == ["texture_coat", "plaster_coat", "glaze", "wipe_back"]


def test_every_command_shown_exists() -> None:
    """README shows no command that is not there."""
    import typer.main

    known = set(typer.main.get_command(cli.app).commands)  # type: ignore[attr-defined]
    shown = {match for text in blocks("README.md", "bash") for match in re.findall(r"^finishboard (\w+)", text, re.M)}
    assert len(shown) > 8 and shown <= known


def test_the_job_is_told_first() -> None:
    """README opens with the job in one paragraph; pictures it shows are there."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text.split("\n\n")[1].startswith("A decorative wall finisher")
    for picture in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text):
        assert (ROOT / picture).is_file(), picture
