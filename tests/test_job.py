"""The job file: measuring rules, faults, options."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.faults import InputError
from render.finish import load as load_finish
from render.job import IN2_PER_M2, WallPlan, is_job, load, measured, read

FT2_PER_M2 = IN2_PER_M2 / 144
FINISH = """
name = "one coat"
[[layer]]
kind = "brushed_coat"
name = "coat"
material = "primer"
coverage = "80 %"
"""


def one_wall(opening: dict[str, Any], **wall: Any) -> WallPlan:
    """Return a wall of 5 m x 3 m with one opening, in m."""
    return WallPlan.model_validate({"width": "5 m", "height": "3 m", "opening": [opening], **wall})


def opening(width: str, height: str, **keys: Any) -> dict[str, Any]:
    """Return an opening with reveals 200 mm deep."""
    return {"width": width, "height": height, "reveal": "200 mm", **keys}


@pytest.mark.parametrize(
    ("size", "deducted", "added"),
    [
        (("1 m", "0.5 m"), 0.0, 0.0),
        (("1 m", "0.51 m"), 0.51, 0.0),
        (("1.5 m", "2 m"), 3.0, 0.0),
        (("1.505 m", "2 m"), 3.01, 0.2 * (2 * 2 + 1.505)),
    ],
    ids=["0.5 m2", "0.51 m2", "3.0 m2", "3.01 m2"],
)
def test_is1200_limits(size: tuple[str, str], deducted: float, added: float) -> None:
    """IS 1200 (Part 13):1994, 3.1.1 and 3.2.2 at the ends of its classes, in m²."""
    got = measured(one_wall(opening(*size)), "is1200")
    assert got.deducted == pytest.approx(deducted * FT2_PER_M2, rel=1e-9)
    assert got.added == pytest.approx(added * FT2_PER_M2, rel=1e-9)
    assert got.net == pytest.approx((15 - deducted + added) * FT2_PER_M2, rel=1e-9)


@pytest.mark.parametrize(
    ("keys", "deducted"),
    [
        ({"other_face": "same finish"}, 1.8),
        ({"other_face": "same finish", "deducted_on_other_face": True}, 0.0),
        ({"other_face": "other finish", "other_reveal": "300 mm"}, 1.8),
        ({"other_face": "other finish", "other_reveal": "100 mm"}, 0.0),
    ],
    ids=["same, here", "same, other face", "narrower here", "wider here"],
)
def test_is1200_one_face_only(keys: dict[str, Any], deducted: float) -> None:
    """A door of 1.8 m²: once where both faces have one finish, else on the face with the narrower reveal."""
    got = measured(one_wall(opening("0.9 m", "2 m", **keys)), "is1200")
    assert got.deducted == pytest.approx(deducted * FT2_PER_M2, abs=1e-9)
    assert got.added == 0.0


def test_small_openings_count_each_for_itself() -> None:
    """Four vents of 0.3 m² each are 1.2 m² together, and none of them is deducted."""
    assert measured(one_wall(opening("0.6 m", "0.5 m", count=4)), "is1200").deducted == 0.0


def test_as_drawn_deducts_and_adds_reveals() -> None:
    """Two 3 x 4 ft windows with 6 in reveals and sills in 12 x 8 ft: 96 - 24 + 2 x .5 x 14 = 86 ft²."""
    window = {"width": "3 ft", "height": "4 ft", "reveal": "6 in", "sill": True, "count": 2}
    wall = WallPlan.model_validate({"width": "12 ft", "height": "8 ft", "opening": [window]})
    got = measured(wall, "drawn")
    assert (got.gross, got.deducted, got.added, got.net) == pytest.approx((96, 24, 14, 86))


def test_a_door_has_no_sill() -> None:
    """A 3 x 7 ft door with 4 in jambs adds a third of (7 + 7 + 3) ft²."""
    door = {"width": "3 ft", "height": "7 ft", "reveal": "4 in"}
    wall = WallPlan.model_validate({"width": "12 ft", "height": "8 ft", "opening": [door]})
    assert measured(wall, "drawn").added == pytest.approx(17 / 3)


def test_solid_ignores_openings() -> None:
    """Measured solid, a wall is its gross area."""
    got = measured(one_wall(opening("2 m", "2 m")), "solid")
    assert (got.deducted, got.added, got.net) == (0.0, 0.0, got.gross)


def test_gable_and_slope() -> None:
    """A gable adds half its rise, a slope counts its mean height: 10 x 8 + 20 and 10 x 9."""
    gable = WallPlan.model_validate({"width": "10 ft", "height": "8 ft", "rise": "4 ft"})
    slope = WallPlan.model_validate({"width": "10 ft", "height": "8 ft", "height_right": "10 ft"})
    assert (gable.gross / 144, gable.top / 12) == pytest.approx((100, 12))
    assert (slope.gross / 144, slope.top / 12) == pytest.approx((90, 10))


@settings(max_examples=100, deadline=None)
@given(width=st.floats(1, 100), height=st.floats(1, 60), count=st.integers(0, 5), reveal=st.floats(0, 12))
def test_solid_is_never_less_than_the_wall_without_its_holes(
    width: float, height: float, count: int, reveal: float
) -> None:
    """For any wall: deducted stays within gross, as drawn equals gross less holes plus reveals, solid equals gross."""
    hole = {"width": f"{width / 10:.4f} ft", "height": f"{height / 10:.4f} ft", "reveal": f"{reveal:.3f} in"}
    sizes = {"width": f"{width:.4f} ft", "height": f"{height:.4f} ft"}
    openings = [{**hole, "count": count}] if count else []
    wall = WallPlan.model_validate({**sizes, "opening": openings})
    drawn, solid, rule = (measured(wall, name) for name in ("drawn", "solid", "is1200"))
    assert solid.net == solid.gross
    assert 0 <= rule.deducted <= drawn.deducted <= drawn.gross
    assert drawn.net == pytest.approx(drawn.gross - drawn.deducted + drawn.added)


def job_table(text: str) -> dict[str, Any]:
    """Return a job's table."""
    return tomllib.loads(text)


ROOM = '[[room]]\nname = "Hall"\n[[room.wall]]\nname = "north"\nwidth = "10 ft"\nheight = "8 ft"\n'


def test_every_fault_is_told_at_once_with_its_place(tmp_path: Path) -> None:
    """Five faults of one file: five lines, each with file, place, key, value and what is expected."""
    text = """
currency = "$"
mesure = "drawn"
[rates]
hour = -3
waste = "ten"
[[option]]
name = "A"
finish = "one.toml"
[[room]]
name = "Hall"
[[room.wall]]
name = "north"
width = "10 ft2"
height = "8 ft"
[[room.wall.opening]]
width = "3 ft"
"""
    with pytest.raises(InputError) as caught:
        read(job_table(text), "job.toml", tmp_path)
    faults = caught.value.faults
    assert len(faults) == 5
    assert any("unknown key 'mesure'; did you mean 'measure'?" in one for one in faults)
    assert any("job.toml: [rates]: hour = -3" in one for one in faults)
    assert any('job.toml: [rates]: waste = "ten"' in one and "share" in one for one in faults)
    assert any('job.toml: room "Hall", wall "north": width = "10 ft2"' in one for one in faults)
    assert any('job.toml: room "Hall", wall "north", opening 1: height is missing' in one for one in faults)


def test_openings_larger_than_the_wall_are_a_fault(tmp_path: Path) -> None:
    """Nobody can deduct more than there is, and no window is wider than its wall."""
    big = ROOM + '[[room.wall.opening]]\nwidth = "9 ft"\nheight = "8 ft"\ncount = 2\n'
    wide = ROOM + '[[room.wall.opening]]\nwidth = "11 ft"\nheight = "1 ft"\n'
    for text, words in ((big, "larger than the wall"), (wide, "wider or taller")):
        with pytest.raises(InputError, match=words):
            read(job_table(text), "job.toml", tmp_path)


def test_options_walls_and_changes(tmp_path: Path) -> None:
    """A wall's own finish wins over the option's, for one option or for all; changes touch the option's finish."""
    (tmp_path / "one.toml").write_text(FINISH)
    (tmp_path / "two.toml").write_text(FINISH.replace("one coat", "two"))
    text = """
[[option]]
name = "A"
finish = "one.toml"
[[option]]
name = "B"
finish = "one.toml"
change = { "coat.coverage" = "40 %" }
[[room]]
name = "Hall"
[[room.wall]]
name = "north"
width = "10 ft"
height = "8 ft"
[[room.wall]]
name = "south"
width = "10 ft"
height = "8 ft"
finish = { B = "two.toml" }
"""
    job = read(job_table(text), "job.toml", tmp_path)
    a, b = job.offers
    assert [one.finish.name for one in a.walls] == ["one coat", "one coat"]
    assert [one.finish.name for one in b.walls] == ["one coat", "two"]
    assert (a.walls[0].finish.layers[0].asked, b.walls[0].finish.layers[0].asked) == (0.8, 0.4)
    assert (a.area(), b.area(b.finishes[0])) == pytest.approx((160, 80))
    assert job.accepted is a


def test_faults_of_options(tmp_path: Path) -> None:
    """Unknown finish, unknown layer in a change, unknown option of a wall, unknown accepted option: all told."""
    (tmp_path / "one.toml").write_text(FINISH)
    text = """
accepted = "C"
[[option]]
name = "A"
finish = "one.toml"
change = { "coats.coverage" = "40 %" }
[[option]]
name = "B"
finish = "no-such-finish"
[[room]]
name = "Hall"
[[room.wall]]
width = "10 ft"
height = "8 ft"
finish = { D = "one.toml" }
"""
    with pytest.raises(InputError) as caught:
        read(job_table(text), "job.toml", tmp_path)
    told = "\n".join(caught.value.faults)
    for words in ("no layer \"coats\"; did you mean 'coat'?", "no such finish", 'no option "D"', 'accepted = "C"'):
        assert words in told


def test_own_prices_change_a_shipped_material(tmp_path: Path) -> None:
    """A job that states other sizes keeps the material's other properties; a negative price is a fault."""
    (tmp_path / "one.toml").write_text(FINISH)
    text = (
        '[[option]]\nname = "A"\nfinish = "one.toml"\n[material.primer]\ncontainers = [{ size = "2 gal", price = P }]\n'
    )
    job = read(job_table(text.replace("P", "31.5") + ROOM), "job.toml", tmp_path)
    assert job.shelf["primer"].containers[0].price == 31.5
    assert job.shelf["primer"].group == "paint"
    with pytest.raises(InputError, match='material "primer"'):
        read(job_table(text.replace("P", "-1") + ROOM), "job.toml", tmp_path)


def test_a_job_is_told_from_a_finish(tmp_path: Path) -> None:
    """A file with rooms is a job; a finish, a missing file and a name are not."""
    (tmp_path / "one.toml").write_text(FINISH)
    (tmp_path / "job.toml").write_text(ROOM)
    assert is_job(tmp_path / "job.toml")
    assert not any(is_job(one) for one in (tmp_path / "one.toml", tmp_path / "none.toml", "old-cistern"))
    with pytest.raises(InputError, match="no such job file"):
        load(tmp_path / "none.toml")


def test_a_finish_given_for_a_job_is_said_in_one_line(tmp_path: Path) -> None:
    """A finish file and a shipped finish are no jobs, and a job is no finish: one line each, no list of keys."""
    hall, job = tmp_path / "hall.toml", tmp_path / "mine.toml"
    hall.write_text(FINISH)
    job.write_text('[client]\nname = "Ada"\n')
    for name, words in ((hall, "hall.toml is a finish, not a job"), ("old-cistern", "old-cistern is a finish, not")):
        with pytest.raises(InputError) as caught:
            load(name)
        assert len(caught.value.faults) == 1
        assert caught.value.faults[0].startswith(words)
    for name, words in ((job, "mine.toml is a job, not a finish"), ("job-two-rooms", "job-two-rooms is a job, not")):
        with pytest.raises(InputError) as caught:
            load_finish(name)
        assert len(caught.value.faults) == 1
        assert caught.value.faults[0].startswith(words)


def test_missing_tables_are_named_without_a_hole(tmp_path: Path) -> None:
    """A job without rooms, and a room without walls, say which table is missing and where."""
    for text, words in (
        ('[client]\nname = "Ada"\n', "mine.toml: [[room]] is missing"),
        ('[[room]]\nname = "Hall"\n', 'mine.toml: room "Hall": [[room.wall]] is missing'),
    ):
        with pytest.raises(InputError) as caught:
            read(tomllib.loads(text), "mine.toml", tmp_path)
        assert caught.value.faults == [words]


def test_check_reads_a_job_as_a_job(tmp_path: Path) -> None:
    """``check`` tells a job's own faults, and finds none in the shipped demo."""
    from render.commands.finishes import check

    check(["job-two-rooms"])
    bad = tmp_path / "mine.toml"
    bad.write_text('measure = "drawn"\n[rates]\nhour = -3\n[[room]]\nname = "Hall"\n')
    with pytest.raises(InputError) as caught:
        check([str(bad)])
    assert any("mine.toml: [rates]: hour = -3" in one for one in caught.value.faults)
