"""The gallery: two pictures of each finish, small enough, and a page that shows them by family."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.commands import gallery
from render.faults import InputError
from render.finish import load
from render.picture import DEFAULT_LIGHT

NAME = "chalk-loft"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A gallery of one finish, drafted."""
    folder = tmp_path_factory.mktemp("book") / "gallery"
    gallery.gallery([NAME], folder, 1, "", True)
    return folder


def test_board_and_close_up_are_square_jpegs(made: Path) -> None:
    """Each finish has a board and a close-up, both square; the draft's board is 4 ft at 12.5 px/in, less than 1200."""
    for kind, wide in (("board", 600), ("close", 300)):
        with Image.open(made / f"{NAME}-{kind}.jpg") as image:
            assert image.format == "JPEG"
            assert image.size == (wide, wide)


def test_the_close_up_is_the_middle_of_two_feet() -> None:
    """A close-up shows 12 in at 50 px/in."""
    assert gallery.CLOSE_IN * gallery._CLOSE_PPI == gallery._CLOSE_PX


def test_the_page_names_every_layer_and_picture(made: Path) -> None:
    """The page is Markdown with the family, both pictures, the words of the finish and each layer."""
    text = (made / "README.md").read_text(encoding="utf-8")
    finish = load(NAME)
    assert f"## {finish.family.capitalize()}" in text
    assert text.index(f"### {finish.name}") > text.index("## ")
    for part in (finish.summary, finish.use, finish.watch, f"{NAME}-board.jpg", f"{NAME}-close.jpg", DEFAULT_LIGHT):
        assert part in text
    assert all(f"**{layer.name}**: {layer.words()}" in text for layer in finish.layers)


def test_pictures_fit_their_room() -> None:
    """Noise, which packs worst, is packed harder until it fits; a flat picture keeps its size and best quality."""
    noise = Image.fromarray(np.random.default_rng(1).integers(0, 255, (700, 700, 3), np.uint8))
    loose, tight = gallery._packed(noise, 600, 10**7), gallery._packed(noise, 600, 200_000)
    assert len(tight) < len(loose)
    with Image.open(BytesIO(tight)) as image:
        assert image.size == (600, 600)


def test_it_makes_its_own_again_and_nobody_else_s(made: Path, tmp_path: Path) -> None:
    """A gallery may be made again; a picture or page of somebody else's under its names is an error, and stays."""
    gallery._ready(made, [NAME])
    (tmp_path / f"{NAME}-board.jpg").write_bytes(b"a holiday")
    (tmp_path / "README.md").write_text("my notes", encoding="utf-8")
    with pytest.raises(InputError) as error:
        gallery._ready(tmp_path, [NAME])
    assert len(error.value.faults) == 2
    assert (tmp_path / "README.md").read_text(encoding="utf-8") == "my notes"
