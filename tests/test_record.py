"""Records: what was used is kept whatever happens, and moves later spreads by a stated, robust rule."""

from __future__ import annotations

import json
import math
import sqlite3
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render import record
from render.commands.job import used_records
from render.faults import InputError
from render.finish import Finish
from render.job import read
from render.layers.base import Coat
from render.materials import Material
from render.record import CLIP, PRIOR, Used, correction


def used(ratio: float, area: float = 100.0, **keys: str) -> Used:
    """Return a record of 10 gal expected and ``ratio`` times as much used."""
    names = {"job": "j", "layer": "top", "material": "plaster", "tool": "trowel", **keys}
    return Used(names["job"], names["layer"], names["material"], names["tool"], area, 10.0, 10.0 * ratio)


def factor(*ratios: float, area: float = 100.0) -> float:
    """Return the factor on the spread after jobs with these ratios."""
    got = correction("plaster", "trowel", [used(one, area) for one in ratios])
    assert got is not None
    return got.factor


@pytest.fixture()
def file(tmp_path: Path) -> Path:
    """A place for records that does not exist yet."""
    return tmp_path / "data" / "record.sqlite3"


def test_kept_and_read_back(file: Path) -> None:
    """What was written is read back, in order, with its number."""
    assert record.all_used(file) == []
    assert record.add([used(1.1), used(0.9, layer="base")], file) == [1, 2]
    assert [(one.id, one.layer, one.ratio) for one in record.all_used(file)] == [
        (1, "top", pytest.approx(1.1)),
        (2, "base", pytest.approx(0.9)),
    ]


def test_undo_takes_back_and_erases_nothing(file: Path) -> None:
    """The last standing record goes first; all rows stay in the file; nothing left is a clear error."""
    record.add([used(1.1), used(1.2), used(1.3)], file)
    assert record.undo(file=file).ratio == pytest.approx(1.3)
    assert record.undo(1, file).ratio == pytest.approx(1.1)
    assert [one.id for one in record.all_used(file)] == [2]
    assert [one.id for one in record.all_used(file, undone=True)] == [1, 3]
    with pytest.raises(InputError, match="no standing record 1"):
        record.undo(1, file)
    record.undo(file=file)
    with pytest.raises(InputError, match="nothing to undo"):
        record.undo(file=file)
    with sqlite3.connect(file) as link:
        assert link.execute("SELECT count(*) FROM used").fetchone() == (3,)
    link.close()


def test_one_job_by_hand() -> None:
    """One job of 100 ft² that took a tenth more: weight 1/2, factor exp(-.5 ln 1.1 / 2.5) = .98112."""
    assert factor(1.1) == pytest.approx(math.exp(-0.5 * math.log(1.1) / 2.5), rel=1e-12)
    assert factor(1.1) == pytest.approx(0.98112, abs=1e-5)


def test_three_jobs_by_hand() -> None:
    """Jobs at 1.1, 1.2 and 3: the median of them and two at 1 is 1.1; 3 is drawn in to 1.1 x 1.25 = 1.375."""
    logs = [math.log(1.1), math.log(1.2), math.log(1.375)]
    got = correction("plaster", "trowel", [used(1.1), used(1.2), used(3.0)])
    assert got is not None
    assert got.factor == pytest.approx(math.exp(-0.5 * sum(logs) / (2 + 1.5)), rel=1e-12)
    assert (got.jobs, got.weight, got.drawn_in) == (3, pytest.approx(1.5), 1)
    assert "3 records" in got.words()
    assert "8 % less far" in got.words() and "1 of them far off" in got.words()


def test_many_alike_jobs_carry_the_day() -> None:
    """Fifty rooms that took a fifth more bring the spread to within 2 % of a fifth less."""
    assert factor(*[1.2] * 50, area=400.0) == pytest.approx(1 / 1.2, rel=0.02)


@settings(max_examples=200, deadline=None)
@given(ratios=st.lists(st.floats(0.5, 2.0), min_size=0, max_size=12), odd=st.floats(0.05, 20.0))
def test_a_single_odd_job_does_not_swing_it(ratios: list[float], odd: float) -> None:
    """However far off one more job of any size is, it moves the spread by less than the clip allows."""
    before = factor(*ratios) if ratios else 1.0
    after = factor(*ratios, odd)
    weight = 0.5 * len(ratios)
    most = (2 * CLIP * 0.5 + 2 * math.log(2) * weight) / (PRIOR + weight + 0.5) if ratios else CLIP * 0.5 / 2.5
    assert abs(math.log(after / before)) <= most + 1e-12


def test_an_odd_first_job_moves_the_spread_under_five_per_cent() -> None:
    """One job that took ten times as much, the very first: the spread falls by less than 5 %."""
    assert 0.95 < factor(10.0, area=100.0) < 1.0


def test_a_sample_board_weighs_less_than_a_room() -> None:
    """4 ft² say a little, 400 ft² more, in the same direction."""
    assert 1.0 > factor(1.2, area=4.0) > factor(1.2, area=400.0)


def test_only_the_same_material_and_tool(file: Path) -> None:
    """Another tool or another material has its own history."""
    rows = [used(1.2), used(1.2, tool="hawk"), used(1.2, material="clay")]
    got = correction("plaster", "trowel", rows)
    assert got is not None
    assert got.jobs == 1
    assert correction("paint", "trowel", rows) is None


def test_a_corrected_finish_takes_more() -> None:
    """A layer whose material and tool took more gets a smaller spread; one with another tool keeps its own."""

    class Trowelled(Coat):
        kind: str = "test_trowelled"
        tool: str = "trowel"

    plaster = Material.model_validate({"name": "plaster", "class": "plaster", "spread": "60-80 ft2/gal"})
    one = Trowelled.model_validate({"name": "one", "material": plaster})
    other = Trowelled.model_validate({"name": "other", "material": plaster, "tool": "hawk"})
    finish = Finish("two", (one, other))
    found = record.corrections_for(finish.layers, [used(1.25), used(1.25)])
    new = record.corrected(finish, found)
    by = found[("plaster", "trowel")].factor
    assert by < 1
    assert new.layers[0].amounts(700.0).product.likely == pytest.approx(10.0 / by)
    assert new.layers[1].amounts(700.0).product.likely == pytest.approx(10.0)
    assert finish.layers[0].amounts(700.0).product.likely == pytest.approx(10.0)


@pytest.mark.parametrize("ratio", [0.0, -1.0, math.nan, math.inf, 21.0, 0.04])
def test_nonsense_is_refused_and_nothing_written(file: Path, ratio: float) -> None:
    """A volume that is no volume, or twenty times off, writes nothing, not even the good row beside it."""
    with pytest.raises(InputError):
        record.add([used(1.0), used(ratio)], file)
    assert record.all_used(file) == []


def test_a_file_that_is_no_database_is_a_clear_error(file: Path) -> None:
    """Another file in its place is left as it is."""
    file.parent.mkdir(parents=True)
    file.write_bytes(b"not a database at all" * 100)
    with pytest.raises(InputError, match="cannot be used"):
        record.add([used(1.0)], file)
    assert file.read_bytes().startswith(b"not a database")


def test_a_newer_file_is_left_alone(file: Path) -> None:
    """A file of a later format is not written to."""
    record.add([used(1.0)], file)
    link = sqlite3.connect(file)
    link.execute("PRAGMA user_version = 99")
    link.close()
    with pytest.raises(InputError, match="newer"):
        record.add([used(1.0)], file)


def test_the_data_folder_can_be_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """FINISHBOARD_DATA says where the file is."""
    monkeypatch.setenv("FINISHBOARD_DATA", str(tmp_path))
    assert record.path() == tmp_path / "record.sqlite3"
    monkeypatch.delenv("FINISHBOARD_DATA")
    assert record.folder().name == "finishboard"


_KILLER = """
import json, os, random, signal, sys, time
from pathlib import Path
from render import record
from render.record import Used
file, pick = Path(sys.argv[1]), random.Random(8)
confirmed = []
for turn in range(50):
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(out)
        while True:
            for number in record.add([Used(f"job {turn}", "top", "plaster", "trowel", 90.0, 10.0, 11.0)], file):
                os.write(into, b"%d\\n" % number)
    os.close(into)
    time.sleep(pick.uniform(0.0, 0.1))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(out, "rb") as pipe:
        confirmed += [int(line) for line in pipe.read().splitlines()]
print(json.dumps(confirmed))
"""


@pytest.mark.skipif(not hasattr(__import__("os"), "fork"), reason="needs fork and SIGKILL")
def test_fifty_kills_leave_every_confirmed_record(file: Path) -> None:
    """A writer killed fifty times at random moments: the file is sound, and every confirmed record is in it."""
    done = subprocess.run([sys.executable, "-c", _KILLER, str(file)], capture_output=True, text=True, check=True)
    confirmed = json.loads(done.stdout)
    assert len(confirmed) >= 20
    assert set(confirmed) <= {one.id for one in record.all_used(file)}
    link = sqlite3.connect(file)
    assert link.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    link.close()
    assert record.add([used(1.0)], file)[0] > max(confirmed)


JOB = """
[[option]]
name = "A"
finish = "own.toml"
[[room]]
name = "Hall"
[[room.wall]]
width = "20 ft"
height = "8 ft"
"""
FINISH = """
name = "own"
[material.mud]
class = "plaster"
spread = "80 ft2/gal"
[[layer]]
kind = "brushed_coat"
name = "first"
material = "mud"
[[layer]]
kind = "brushed_coat"
name = "second"
material = "mud"
spread = "40 ft2/gal"
"""


def test_used_by_layer_and_by_material(tmp_path: Path) -> None:
    """160 ft²: 2 and 4 gal, with 10 % waste 2.2 and 4.4. A layer takes its own; a material is shared 1 : 2."""
    (tmp_path / "own.toml").write_text(FINISH)
    job = read(tomllib.loads(JOB), "job.toml", tmp_path)
    (one,) = used_records(job, job.accepted, ["second = 5 gal"])
    assert (one.layer, one.used_gal) == ("second", 5.0)
    assert (one.expected_gal, one.area_ft2) == pytest.approx((4.4, 160.0))
    both = used_records(job, job.accepted, ["mud=9 gal"])
    assert [(row.layer, row.used_gal) for row in both] == [("first", pytest.approx(3)), ("second", pytest.approx(6))]


def test_every_wrong_word_is_told(tmp_path: Path) -> None:
    """No equals sign, no unit, a length, an unknown layer, nothing: five lines."""
    (tmp_path / "own.toml").write_text(FINISH)
    job = read(tomllib.loads(JOB), "job.toml", tmp_path)
    wrong = ["second 5 gal", "second=5", "second=5 ft", "secnd=5 gal", "second=0 gal"]
    with pytest.raises(InputError) as caught:
        used_records(job, job.accepted, wrong)
    assert len(caught.value.faults) == 5
    assert "did you mean 'second'" in caught.value.faults[3]


def test_a_correction_is_told_plainly() -> None:
    """Half as much again on 100 ft², drawn in to 1.25: exp(-.5 ln 1.25 / 2.5) = .956, so 4 % less far."""
    got = correction("plaster", "trowel", [used(1.5)])
    assert got is not None
    assert got.words() == (
        "plaster with trowel is reckoned to go 4 % less far than stated, learnt from 1 record, "
        "far off and so not counted in full"
    )
    assert "goes as far as stated" in str(correction("plaster", "trowel", [used(1.0)]).words())  # type: ignore[union-attr]
