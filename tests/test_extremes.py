"""Odd walls, odd numbers: a plain result or a plain message."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from render.faults import InputError
from render.finish import load, read, shipped_names
from render.picture import preview, site_for
from render.pipeline import Site, build
from render.sheets.preview_sheet import sheet
from tests_support import base, plaster, small_finish, table


@pytest.mark.parametrize("name", ["old-cistern", "river-clay", "chalk-loft"])
def test_a_wall_of_one_inch(name: str) -> None:
    """A wall of one inch renders and its accounts close."""
    got = preview(name, "1 in x 1 in", 12.5)
    assert got.image.size == (13, 13)
    for account in got.ledger.values():
        closing = account["on_wall_gal"] + account["removed_gal"] + account["run_off_gal"]
        assert account["added_gal"] == pytest.approx(closing, rel=1e-6, abs=1e-12)
    sheet(got)


def test_a_large_wall_at_a_low_resolution() -> None:
    """100 ft x 30 ft at half a pixel per inch renders; coverage holds."""
    got = preview(small_finish(), "100 ft x 30 ft", 0.5)
    assert got.image.size == (600, 180)
    assert got.layers[1].achieved == pytest.approx(0.7, abs=0.005)


@pytest.mark.parametrize("ppi", [0.5, 1.0])
def test_a_crackle_coat_on_a_large_wall(ppi: float) -> None:
    """100 ft x 30 ft crackles at a low resolution; a share of it stands open, and the film is the volume's."""
    crackle = {"kind": "crackle_coat", "name": "crackle", "material": "crackle plaster", "spread": "85 ft2/gal"}
    built = build(read(table(base(), crackle)), Site(360.0, 1200.0, ppi))
    assert built.wall.cracks.shape == (360 * ppi, 1200 * ppi)
    assert 0.01 < built.wall.cracks.mean(dtype=np.float64) < 0.1 and np.isfinite(built.wall.height).all()
    assert built.wall.ledger["crackle"].added == pytest.approx(built.done[1].amounts.mixed.likely, rel=1e-6)


def test_less_than_a_pixel() -> None:
    """A wall smaller than a pixel is one pixel."""
    assert preview(small_finish(), "1 in x 1 in", 0.1).image.size == (1, 1)


def test_no_layers() -> None:
    """A finish without layers is the wall as it was: one even colour, nothing used, nothing covered."""
    got = preview(read({"name": "Nothing", "layer": []}), "6 in x 4 in", 10)
    assert got.image.size == (60, 40) and np.ptp(np.asarray(got.image), axis=(0, 1)).max() == 0
    assert not got.layers
    assert not got.ledger and got.bare_share == 1.0
    sheet(got)


@pytest.mark.parametrize("share", ["0 %", "100 %"])
def test_coverage_none_and_all(share: str) -> None:
    """Nothing asked leaves nothing; all asked covers every pixel."""
    got = preview(read(table(base(coverage=share), plaster(coverage=share))), "12 in x 12 in", 12.5)
    assert [line.achieved for line in got.layers] == [0.0 if share == "0 %" else 1.0] * 2
    if share == "0 %":
        assert got.bare_share == 1.0 and not got.film("base").any()


def test_a_coat_an_inch_thick() -> None:
    """Spread so low that the coat is an inch thick: the film is that thick and the picture is finite."""
    thick = plaster(spread="1.6041666666666667 ft2/gal", coverage="100 %", thin="0 %", style="full")
    got = preview(read(table(thick)), "12 in x 12 in", 12.5)
    assert got.film("top plaster").mean(dtype=np.float64) == pytest.approx(1000.0, rel=1e-6)
    assert np.asarray(got.image).std() < 100


def test_five_hundred_layers() -> None:
    """500 layers are read and run; 501 are refused."""
    thin = [base(name=f"coat {n}", spread="2000 ft2/gal") for n in range(500)]
    built = build(read(table(*thin)), Site(2.0, 2.0, 6.0))
    assert len(built.done) == 500 and np.isfinite(built.wall.height).all()
    with pytest.raises(InputError, match="at most 500"):
        read(table(*thin, base(name="one more")))


def test_too_large_is_refused_with_the_largest_that_fits(monkeypatch: pytest.MonkeyPatch) -> None:
    """When memory would not do, the largest resolution that fits is told, and it does fit."""
    from render import memory

    monkeypatch.setattr(memory, "free_bytes", lambda: 500_000_000)
    with pytest.raises(InputError, match=r"expected at most (\S+) px/in") as error:
        site_for("40 ft x 10 ft", 25.0, 1)
    fits = float(str(error.value).split("at most ")[1].split()[0])
    assert 0 < site_for("40 ft x 10 ft", fits * 0.99, 1).ppi < 25


def test_names_in_other_letters() -> None:
    """Names in any alphabet are names."""
    names = ["Grundschicht ä", "основа", "底塗り", "طبقة", "e\u0301"]
    finish = read(table(*[base(name=name, spread="900 ft2/gal") for name in names], name="Größe – 厚塗り"))
    got = preview(finish, "4 in x 4 in", 10)
    assert [line.name for line in got.layers] == names
    sheet(got)


def test_every_shipped_finish_at_an_odd_resolution() -> None:
    """7.3 px/in on a wall of odd size works for every shipped finish."""
    for name in shipped_names():
        got = build(load(name), Site(17.3, 9.1, 7.3, -4))
        assert np.isfinite(got.wall.height).all(), name


FULL = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (3000, 3000))  # the system ends any file here
sys.argv = ["finishboard", "preview", "chalk-loft", "--wall", "8 in x 8 in", "--ppi", "12.5", "-o", "a.png"]
from render.cli import main
main()
"""


def test_a_disk_that_fills_up_in_mid_writing(tmp_path: Path) -> None:
    """When the system takes no more bytes: exit code 1, one line, the old picture as it was, nothing beside it."""
    pytest.importorskip("resource")
    old = b"\x89PNG old picture by finishboard"
    (tmp_path / "a.png").write_bytes(old)
    got = subprocess.run([sys.executable, "-c", FULL], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert got.returncode == 1 and "Traceback" not in got.stderr
    assert got.stderr.strip().splitlines()[-1].endswith("File too large")
    assert (tmp_path / "a.png").read_bytes() == old
    assert os.listdir(tmp_path) == ["a.png"]
