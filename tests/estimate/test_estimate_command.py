"""The ``estimate`` and ``record`` commands: tables, CSV, JSON and clear faults."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from render.commands.estimate import estimate
from render.commands.job import record
from render.faults import InputError

FINISH = """
name = "=two coats"
[material.mud]
class = "plaster"
spread = "80-100 ft2/gal"
containers = [{ size = "1 gal", price = 40 }]
[[layer]]
kind = "brushed_coat"
name = "first"
material = "mud"
thin = "10 %"
[[layer]]
kind = "brushed_coat"
name = "=second"
material = "mud"
"""
JOB = """
name = "[bold]Markup[/bold] & co"
[work]
start = 2027-03-01
[[option]]
name = "A"
finish = "own.toml"
[[option]]
name = "B"
finish = "own.toml"
change = { "first.coverage" = "50 %" }
[[room]]
name = "Hall"
[[room.wall]]
name = "north"
width = "20 ft"
height = "8 ft"
"""


@pytest.fixture()
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a finish and a job, and an empty book of records."""
    (tmp_path / "own.toml").write_text(FINISH)
    (tmp_path / "job.toml").write_text(JOB)
    monkeypatch.setenv("FINISHBOARD_DATA", str(tmp_path / "data"))
    return tmp_path


def test_a_finish_as_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """12 x 8 ft at 80-100 ft²/gal: .96 to 1.2 gal; two coats 2.4 gal high, with 10 % waste 2.64: three cans."""
    estimate(str(folder / "own.toml"), wall="12 ft x 8 ft", as_json=True)
    got = json.loads(capsys.readouterr().out)
    assert got["net_ft2"] == pytest.approx(96)
    assert got["layers"][0]["product_gal"] == pytest.approx({"low": 0.96, "likely": 96 / 90, "high": 1.2})
    mud = got["materials"][0]
    assert mud["with_waste_gal"]["high"] == pytest.approx(2.64)
    assert [(one["label"], one["count"]) for one in mud["containers"]] == [("1 gal", 3)]
    assert (got["waste"], got["material_cost"]) == (0.1, 120)


def test_a_finish_as_a_table(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The table names the waste and says that gallons are US ones; nothing else is on stdout."""
    estimate(str(folder / "own.toml"), wall="12 ft x 8 ft", waste="15 %")
    out, err = capsys.readouterr()
    for words in ("=second", "3 × 1 gal", "$120.00", "15 % waste", "US gallons of 231 in³"):
        assert words in out
    assert err == ""


def test_metric(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same in litres and square metres, without a word about gallons."""
    estimate(str(folder / "own.toml"), wall="3 m x 2 m", units="metric")
    out = capsys.readouterr().out
    assert "6.0 m²" in out
    assert re.search(r"2\.72 \([\d.–]+\)\s+L", out)  # 6 m² = 64.583 ft² at 90 ft²/gal = .71759 gal = 2.7164 L
    assert "US gallons" not in out


IMPERIAL = re.compile(r"\bft²|\bft2?\b|\bgal\b|\bfl oz|\btb?sp|\d in\b(?! \d)|\bmil\b")
OLD = JOB.replace("[work]", "[site]\nyear_built = 1930\n[protection]\nprice_per_ft2 = 0.28\n[work]")


def metric_words(text: str) -> list[str]:
    """Return the words of the old measures in a text, but for the containers as they are sold, with their litres."""
    return IMPERIAL.findall(re.sub(r"\d+ ×\s+[\d.]+\s+gal\s+\([\d.]+\s+L\)", "", text))


def test_a_metric_job_has_no_word_of_feet_or_gallons(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Tables, details, price, cautions and records of a metric job: metres and litres."""
    (folder / "old.toml").write_text('units = "metric"\n' + OLD)
    estimate(str(folder / "old.toml"))
    out = " ".join(capsys.readouterr().out.split())
    # 160 ft² are 14.9 m²; .28 a square foot is 3.01 a square metre
    assert "14.9 m²" in out and "3.01 per m²" in out and "× 1 gal (3.79 L)" in out
    assert metric_words(out) == []
    record(str(folder / "old.toml"), used=["first=10 L"])
    record(show=True, units="metric")
    record(undo=True, units="metric")
    told = capsys.readouterr()
    assert "took 10.00 L" in told.out and metric_words(told.out + told.err.split("kept in")[0]) == []


def test_a_narrow_window_breaks_numbers_but_loses_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 80 letters no cell ends in dots."""
    monkeypatch.setattr("render.commands.estimate._width", lambda: 80)
    estimate(str(folder / "job.toml"))
    out = capsys.readouterr().out
    assert "…" not in out and max(map(len, out.splitlines())) <= 80


def test_units_may_be_asked_for_and_follow_the_wall(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--units turns all of a job; a wall in metres is answered in metres; prices are in what the user says."""
    (folder / "old.toml").write_text(OLD)
    estimate(str(folder / "old.toml"), units="metric")
    assert metric_words(" ".join(capsys.readouterr().out.split())) == []
    estimate(str(folder / "own.toml"), wall="3 m x 2 m", currency="EUR")
    out = capsys.readouterr().out
    assert "6.0 m²" in out and "80.00 EUR" in out and "$" not in out
    estimate(str(folder / "own.toml"), wall="3 m x 2 m", as_csv=True)
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    first = next(row for row in rows if (row["item"], row["detail"]) == ("first", "product"))
    assert (first["unit"], float(first["likely"])) == ("L", pytest.approx(2.7164, abs=1e-4))


def test_csv_is_harmless_in_a_spreadsheet(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A layer called "=second" is text, and every row has the columns of the head."""
    estimate(str(folder / "own.toml"), wall="12 ft x 8 ft", as_csv=True)
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    names = {row["item"] for row in rows}
    assert "'=second" in names
    assert not any(cell.startswith("=") for row in rows for cell in row.values())
    first = next(row for row in rows if (row["item"], row["detail"]) == ("first", "product"))
    assert float(first["high"]) == pytest.approx(1.2)


def test_a_job_in_all_three_forms(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Option B has half the first coat; table, JSON and CSV tell the same total."""
    estimate(str(folder / "job.toml"), as_json=True)
    got = json.loads(capsys.readouterr().out)
    a, b = got["options"]
    first = [one["finishes"][0]["layers"][0]["product_gal"]["likely"] for one in (a, b)]
    assert first == pytest.approx([160 / 90, 80 / 90])
    assert got["measured_by"].startswith("openings deducted as drawn")
    estimate(str(folder / "job.toml"), as_csv=True)
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    totals = [float(row["likely"]) for row in rows if row["group"] == "price: total"]
    assert totals == [one["price"]["total"]["likely"] for one in (a, b)]
    estimate(str(folder / "job.toml"))
    out = capsys.readouterr().out
    assert "[bold]Markup[/bold] & co" in out
    assert all(f"${total:,.2f}" in out for total in totals)


def test_recorded_use_changes_the_next_estimate(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """More used than expected: the next estimate takes more and says why; as written, and after undo, as before."""
    name = str(folder / "job.toml")

    def product(**more: bool) -> float:
        estimate(name, as_json=True, **more)
        got = json.loads(capsys.readouterr().out)
        return float(got["options"][0]["finishes"][0]["layers"][0]["product_gal"]["likely"])

    before = product()
    record(name, used=["first=3 gal"])
    assert "record 1:" in capsys.readouterr().err
    assert product() > before
    assert product(as_written=True) == before
    estimate(name)
    said = " ".join(capsys.readouterr().out.split())
    assert "mud with block brush is reckoned to go" in said and "less far than stated" in said
    record(show=True, as_json=True)
    listed = json.loads(capsys.readouterr().out)
    assert (len(listed["records"]), listed["spreads"][0]["records"]) == (1, 1)
    record(undo=True)
    assert "taken back: record 1" in capsys.readouterr().err
    assert product() == before


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"wall": "12 ft"}, "--wall"),
        ({"waste": "ten"}, "--waste"),
        ({"waste": "900 %"}, "--waste"),
        ({"buy": "most"}, "--buy"),
        ({"units": "cubits"}, "--units"),
    ],
)
def test_wrong_options_are_named(folder: Path, keys: dict[str, str], words: str) -> None:
    """A wrong option is an error that names it."""
    with pytest.raises(InputError, match=words):
        estimate(str(folder / "own.toml"), **keys)


def test_a_job_states_its_own_walls(folder: Path) -> None:
    """--wall and --waste do not go with a job."""
    with pytest.raises(InputError) as caught:
        estimate(str(folder / "job.toml"), wall="12 ft x 8 ft", waste="5 %")
    assert len(caught.value.faults) == 2


def test_record_needs_one_task(folder: Path) -> None:
    """Nothing asked, two things asked, or no job: a clear error."""
    for keys in ({}, {"undo": True, "show": True}, {"used": ["first=1 gal"]}):
        with pytest.raises(InputError, match="record:"):
            record(**keys)
