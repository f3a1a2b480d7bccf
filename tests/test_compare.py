"""Comparisons: only the change differs."""

from __future__ import annotations

import itertools
import threading
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from test_contract import example

from render import compare as comparing
from render import layers
from render.faults import InputError
from render.finish import read, set_key
from render.pipeline import Cache, build
from render.sheets import comparison
from render.sheets.comparison import sheet
from tests_support import SMALL, base, plaster, small_finish, table

HOW = {"wall": "12 in x 10 in", "ppi": 12.5, "pour": 7, "light": "window left 16 deg"}


def cells_of(*ways: str) -> list[comparing.Cell]:
    """The cells of a comparison of the small finish."""
    finish = small_finish()
    return comparing.compare(finish, [comparing.parse_way(way, finish) for way in ways], **HOW)


def test_coverage_moves_the_visible_share_monotonically() -> None:
    """More plaster asked, more plaster seen, and the base's wall is the same object in every cell."""
    cells = cells_of("top plaster.coverage=20,40,60,80,100")
    seen = [cell.layers[1].visible_share for cell in cells]
    assert seen == sorted(seen) and seen[-1] - seen[0] > 0.5


def test_cells_share_the_layers_before_the_change() -> None:
    """Before the change the walls are bit-equal: they are the same arrays."""
    finish = small_finish()
    cache = Cache()
    ways = [comparing.parse_way("top plaster.coverage=40,80", finish)]
    cells = comparing.compare(finish, ways, cache=cache, **HOW)
    walls = [build(cell.setting.finish, cell.site, cache=cache, keep_walls=True).walls for cell in cells]
    assert walls[0][0] is walls[1][0] and walls[0][1] is not walls[1][1]


def test_two_ways_make_a_grid_in_order() -> None:
    """The last way changes fastest; labels say what changed, with the unit of the present value."""
    cells = cells_of("top plaster.coverage=40,80", "pour=1,2,3")
    assert [cell.setting.labels for cell in cells][:4] == [
        ("top plaster: coverage 40 %", "pour 1"),
        ("top plaster: coverage 40 %", "pour 2"),
        ("top plaster: coverage 40 %", "pour 3"),
        ("top plaster: coverage 80 %", "pour 1"),
    ]
    assert [cell.setting.pour for cell in cells] == [1, 2, 3, 1, 2, 3]
    assert sheet(cells, "t", 3).width > 3 * 300


def test_units_and_brackets() -> None:
    """A bare number takes the unit that stands there; commas in brackets do not split."""
    finish = small_finish()
    assert comparing.parse_way("base.thin=lab(62, 4, 18),2", finish).values == ("lab(62, 4, 18)", "2")
    changed = comparing.changed(finish, comparing.parse_way("top plaster.spread=60,70-80", finish), "70-80")
    assert changed.layers[1].spread.likely == 75.0  # type: ignore[attr-defined]


def test_lamps_and_finishes_compare() -> None:
    """Light and whole finishes are ways too; a lamp changes no wall."""
    cells = cells_of("light=even; window left 16 deg, 2700 K")
    assert np.asarray(cells[0].image).tobytes() != np.asarray(cells[1].image).tobytes()
    assert [line.visible_share for line in cells[0].layers] == [line.visible_share for line in cells[1].layers]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("top plaster.coverage", "expected LAYER.KEY=VALUE"),
        ("top plaster.covrage=60", "did you mean 'coverage'"),
        ("top plastr.coverage=60", "did you mean 'top plaster'"),
        ("coverage=60", "LAYER.KEY before"),
        ("top plaster.coverage=", "expected LAYER.KEY=VALUE"),
        ("top plaster.coverage=60,140", "0 to 100 %"),
        ("pour=one", "whole number"),
        ("light=moon", "window"),
    ],
)
def test_bad_ways(text: str, says: str) -> None:
    """What cannot be read is told with what is expected."""
    with pytest.raises(InputError, match=says):
        cells_of(text)


def test_too_many_cells() -> None:
    """More than 64 cells are refused before any is rendered."""
    finish = small_finish()
    ways = [comparing.parse_way("pour=" + ",".join(map(str, range(13))), finish)] * 2
    with pytest.raises(InputError, match="at most 64"):
        comparing.compare(finish, ways, **HOW)


def test_cost_by_hand() -> None:
    """5 gal at 165 is 33 a gallon; a gallon covers 165 ft²: .2 for the base; the plaster's 66 ft² at 38 a gallon."""
    finish = read(table(base(), plaster()))
    assert comparing.cost_per_ft2(finish) == pytest.approx(33 / 165 + 38 / 66, rel=1e-9)


def test_a_material_without_a_price_is_named_and_not_free() -> None:
    """The base alone is paid for, 33 / 165; the plaster is named on the sheet, in the table and in the figures."""
    own = {"my lime": {"class": "plaster", "colour": "#e2d6bd"}}
    finish = read({**table(base(), plaster(material="my lime")), "material": own})
    assert comparing.cost_per_ft2(finish) == pytest.approx(33 / 165, rel=1e-9)
    assert comparing.unpriced(finish) == ("my lime",)
    assert comparing.unpriced(small_finish()) == ()
    cell = comparing.compare(finish, [comparing.parse_way("pour=1", finish)], **HOW)[0]
    assert cell.to_dict()["without_a_price"] == ["my lime"]
    assert comparing.table([cell])[0]["without a price"] == "my lime"
    told = comparison._figures(cell, "imperial", "$")
    assert told.endswith("materials $0.20 per ft² without my lime")
    assert "materials 2.15 EUR per m² without" in comparison._figures(cell, "metric", "EUR")  # .2 / .092903


def test_the_heading_names_what_is_compared() -> None:
    """One finish, two or three by name, more by their number; not the finish that was only asked from."""
    other = ["river-clay", "chalk-loft", "sea-fret", "tea-bowl"]

    def told(number: int) -> str:
        finish = small_finish()
        way = comparing.parse_way("finish=" + ";".join(other[:number]), finish)
        cells = [SimpleNamespace(setting=one) for one in comparing.settings(finish, [way], 1, "even")]
        assert next(one.setting.labels for one in cells) == ("River clay",)
        return comparison.heading(cells, finish.name)  # type: ignore[arg-type]

    assert [told(n) for n in (1, 2, 3, 4)] == [
        "River clay, compared", "River clay and Chalk loft, compared", "River clay, Chalk loft and Sea fret, compared",
        "4 finishes compared",
    ]  # fmt: skip


def test_table_has_a_row_for_each_cell() -> None:
    """The flat table carries the shares, LRV and cost."""
    rows = comparing.table(cells_of("top plaster.coverage=40,80"))
    assert len(rows) == 2 and {"changed 1", "top plaster seen", "LRV", "materials cost per ft2"} <= set(rows[0])
    assert SMALL["wall"] == HOW["wall"]


def test_a_cluster_gives_the_same_bytes() -> None:
    """Two local Dask workers render the same cells as this process."""
    distributed = pytest.importorskip("distributed", reason="the optional extra 'cluster' is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as cluster:
        finish = small_finish()
        ways = [comparing.parse_way("top plaster.coverage=40,80", finish)]
        there = comparing.compare(finish, ways, scheduler=cluster.scheduler_address, **HOW)
        here = comparing.compare(finish, ways, **HOW)
    assert [cell.image.tobytes() for cell in there] == [cell.image.tobytes() for cell in here]
    assert [cell.to_dict() for cell in there] == [cell.to_dict() for cell in here]


@pytest.mark.parametrize("cores", [2, 3])
def test_sixty_four_cells_use_every_core(monkeypatch: pytest.MonkeyPatch, cores: int) -> None:
    """After the first cell, which lays what all share, as many are in hand at once as there are cores; in order."""
    together, real = threading.Barrier(cores, timeout=20.0), comparing._cell
    lone = itertools.count()

    def cell(setting: comparing.Setting, *rest: Any) -> Any:
        number = setting.pour
        if 0 < number <= cores * (63 // cores):
            together.wait()  # breaks, and fails, if the others never come
        elif number == 0:
            assert next(lone) == 0
        return SimpleNamespace(setting=setting) if number else real(setting, *rest)

    monkeypatch.setenv("FINISHBOARD_THREADS", str(cores))
    monkeypatch.setattr(comparing, "_cell", cell)
    finish = small_finish()
    way = comparing.parse_way("pour=" + ",".join(map(str, range(64))), finish)
    cells = comparing.compare(finish, [way], **HOW)
    assert [one.setting.pour for one in cells] == list(range(64))


def test_the_number_of_cores_changes_no_byte(monkeypatch: pytest.MonkeyPatch) -> None:
    """One, two or three at a time: the same pictures and figures."""
    made = []
    for cores in ("1", "2", "3"):
        monkeypatch.setenv("FINISHBOARD_THREADS", cores)
        made.append([(cell.image.tobytes(), cell.to_dict()) for cell in cells_of("top plaster.coverage=40,60,80,90")])
    assert made[0] == made[1] == made[2]


def test_no_scheduler_there() -> None:
    """A scheduler that does not answer is told in one line."""
    pytest.importorskip("distributed", reason="the optional extra 'cluster' is not installed")
    finish = small_finish()
    with pytest.raises(InputError, match="no Dask scheduler"):
        comparing.compare(finish, [comparing.parse_way("pour=1,2", finish)], scheduler="tcp://127.0.0.1:9", **HOW)


def test_less_coverage_takes_less_material() -> None:
    """Half the coverage takes half the plaster and leaves it as thick where it lies, unless the file says otherwise."""
    cells = cells_of("top plaster.coverage=35,70")
    half, whole = (cell.layers[1] for cell in cells)
    assert half.mixed_gal == pytest.approx(whole.mixed_gal / 2, rel=1e-9)
    assert cells[0].cost < cells[1].cost


@pytest.mark.parametrize("kind", sorted(layers.kinds()))
def test_setting_a_coverage_to_its_own_value_changes_nothing(kind: str) -> None:
    """Whatever the kind, a coverage set to what it was asks for the same volumes."""
    entry = example(kind)
    model = layers.kinds()[kind]
    if "coverage" not in model.model_fields:
        pytest.skip("has no coverage")
    before = model.model_validate(entry)
    again = dict(entry)
    set_key(again, "coverage", model.model_fields["coverage"].default)
    assert model.model_validate(again).amounts(100.0) == before.amounts(100.0)
