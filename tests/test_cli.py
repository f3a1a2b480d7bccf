"""The command, as a person types it."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from PIL import Image

from render import cli

SMALL = ["--wall", "12 in x 10 in", "--ppi", "12.5"]


class Ran(NamedTuple):
    """What a command said."""

    stdout: str
    stderr: str


def run(*words: str, cwd: Path, expect: int = 0) -> Ran:
    """Run the command in a folder and check its exit code; any other exception is a failure."""
    out, err, code = io.StringIO(), io.StringIO(), 0
    with contextlib.chdir(cwd), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        before, sys.argv = sys.argv, ["finishboard", *words]
        try:
            cli.main()
        except SystemExit as leaving:
            code = int(leaving.code or 0)
        finally:
            sys.argv = before
    assert code == expect, err.getvalue()
    return Ran(out.getvalue(), err.getvalue())


FINISH = """
name = "Trial wall"
[[layer]]
kind = "texture_coat"
name = "base"
material = "sanded wall coat"
spread = "165 ft2/gal"
thin = "20 %"
[[layer]]
kind = "plaster_coat"
name = "Überzug"
material = "lime topping"
style = "skip"
coverage = "70 %"
"""


@pytest.fixture
def trial(tmp_path: Path) -> Path:
    """A finish file in a folder of its own."""
    (tmp_path / "trial.toml").write_text(FINISH, encoding="utf-8")
    return tmp_path


def test_version_and_help(tmp_path: Path) -> None:
    """Version and help answer on stdout."""
    assert run("--version", cwd=tmp_path).stdout.startswith("finishboard 0.")
    for command in ("preview", "steps", "compare", "estimate", "presets", "show", "check"):
        assert command in run("--help", cwd=tmp_path).stdout


def test_presets_and_show(tmp_path: Path) -> None:
    """The shipped finishes are listed, as lines and as JSON; one is shown with its layers."""
    listed = json.loads(run("presets", "--json", cwd=tmp_path).stdout)
    assert {"old-cistern", "chalk-loft", "river-clay"} <= {one["preset"] for one in listed}
    assert "sea stain" in run("show", "old-cistern", cwd=tmp_path).stdout
    assert json.loads(run("show", "old-cistern", "--json", cwd=tmp_path).stdout)["layers"] >= 16


def test_preview_writes_and_answers(trial: Path) -> None:
    """``preview --json -o`` writes the sheet and prints one object with the promised keys."""
    got: dict[str, Any] = json.loads(run("preview", "trial.toml", *SMALL, "--json", "-o", "a.png", cwd=trial).stdout)
    assert got["finish"] == "Trial wall" and got["ppi"] == 12.5 and got["pour"] == 1
    assert got["wall"] == {"width_ft": 1.0, "height_ft": pytest.approx(10 / 12), "net_ft2": pytest.approx(10 / 12)}
    assert [line["name"] for line in got["layers"]] == ["base", "Überzug"]
    keys = {
        "name", "kind", "coverage_asked", "coverage_achieved", "visible_share", "mean_wet_mil", "product_gal",
        "mixed_gal", "water_gal", "removed_gal",
    }  # fmt: skip
    assert keys <= set(got["layers"][0])
    assert got["layers"][1]["coverage_achieved"] == pytest.approx(0.7, abs=0.005)
    for account in got["ledger"].values():
        assert {"added_gal", "on_wall_gal", "removed_gal", "run_off_gal"} == set(account)
    assert {"colours", "texture", "defects", "seconds", "version"} <= set(got)
    with Image.open(trial / "a.png") as picture:
        assert picture.width > picture.height
    assert sorted(os.listdir(trial)) == ["a.png", "trial.toml"]


def test_same_bytes_and_again_from_the_png(trial: Path) -> None:
    """Twice the same command gives the same bytes, and so does rendering the PNG again."""
    for name in ("a.png", "b.png"):
        run("preview", "trial.toml", *SMALL, "--pour", "5", "-o", name, cwd=trial)
    run("preview", "a.png", "-o", "c.png", cwd=trial)
    first = (trial / "a.png").read_bytes()
    assert first == (trial / "b.png").read_bytes() == (trial / "c.png").read_bytes()


def test_five_faults_nothing_written(trial: Path) -> None:
    """Five faults: five lines on stderr, exit code 2, nothing on stdout, nothing written."""
    bad = FINISH.replace('thin = "20 %"', 'thin = "20 %"\nnapp = "1 in"').replace("165 ft2/gal", "165 ft")
    bad = bad.replace("70 %", "140 %") + '[[layer]]\nkind = "plastr"\nname = "x"\n'
    (trial / "bad.toml").write_text('wall_colour = "beige"\n' + bad, encoding="utf-8")
    done = run("preview", "bad.toml", "-o", "bad.png", cwd=trial, expect=2)
    assert done.stdout == "" and len(done.stderr.strip().splitlines()) == 5
    assert all("bad.toml" in line for line in done.stderr.strip().splitlines())
    assert not (trial / "bad.png").exists()
    assert json.loads(run("check", "bad.toml", "--json", cwd=trial, expect=2).stdout)["ok"] is False


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--wall", "twelve by eight"], "--wall"),
        (["--ppi", "0.001"], "--ppi"),
        (["--wall", "100 ft x 30 ft", "--ppi", "150"], "megapixels"),
        (["--light", "moon"], "--light"),
        (["-o", "nowhere/a.png"], "no folder"),
        (["-o", "trial.toml"], "ends in .png"),
        (["-o", "theirs.png"], "not made by finishboard"),
        (["-o", "a.jpg"], "a.jpg: pictures are written as PNG; expected a name that ends in .png"),
        (["--map", "a.tif"], "ends in .png"),
        (["--ppi", "0"], "--ppi"),
    ],
)
def test_bad_options(trial: Path, words: list[str], says: str) -> None:
    """Each bad option is told in one line that names it."""
    (trial / "theirs.png").write_bytes(b"a picture of somebody else's")
    done = run("preview", "trial.toml", *words, cwd=trial, expect=2)
    assert says in done.stderr and len(done.stderr.splitlines()) == 1
    assert sorted(os.listdir(trial)) == ["theirs.png", "trial.toml"]
    assert (trial / "trial.toml").read_text(encoding="utf-8") == FINISH


def test_steps_and_compare(trial: Path) -> None:
    """The step board and the comparison are written; the comparison's figures as CSV and JSON."""
    run("steps", "trial.toml", *SMALL, "-o", "s.png", cwd=trial)
    done = run(
        "compare", "trial.toml", "--vary", "Überzug.coverage=40,80", *SMALL, "--json", "--csv", "c.csv", "-o", "c.png",
        cwd=trial,
    )  # fmt: skip
    assert [cell["changed"] for cell in json.loads(done.stdout)["cells"]] == [
        ["Überzug: coverage 40 %"],
        ["Überzug: coverage 80 %"],
    ]
    assert (trial / "c.csv").read_text(encoding="utf-8").count("\n") == 3
    for name in ("s.png", "c.png"):
        with Image.open(trial / name) as picture:
            picture.verify()


def test_no_picture_under_a_wrong_name(trial: Path) -> None:
    """The step board and the comparison, too, are PNG and are named so; large letters are as good."""
    for words in (["steps", "trial.toml"], ["compare", "trial.toml", "--vary", "pour=1,2"]):
        assert "ends in .png" in run(*words, "-o", "a.jpg", cwd=trial, expect=2).stderr
    run("preview", "trial.toml", *SMALL, "-o", "A.PNG", cwd=trial)
    assert sorted(os.listdir(trial)) == ["A.PNG", "trial.toml"]


def test_help_tells_the_defaults_that_hold(tmp_path: Path) -> None:
    """What ``preview --help`` calls the defaults are those of a picture."""
    from render import picture

    words = " ".join(run("preview", "--help", cwd=tmp_path).stdout.split())
    for value in (picture.DEFAULT_WALL, f"{picture.DEFAULT_PPI:g}", f"{picture.DEFAULT_POUR}", picture.DEFAULT_LIGHT):
        assert f"[default: ({value}, or the PNG's)]" in words
    assert f"[default: ({picture.DEFAULT_LIGHT})]" in " ".join(run("steps", "--help", cwd=tmp_path).stdout.split())


def test_unwritable_folder(trial: Path) -> None:
    """A folder that cannot be written to is told before the work, to root without its privilege too."""
    locked = trial / "locked"
    locked.mkdir(mode=0o500)
    words = [sys.executable, "-m", "render", "preview", "trial.toml", "-o", "locked/a.png"]
    if os.geteuid() == 0:
        if not shutil.which("setpriv"):
            pytest.skip("root may write anywhere, and nothing here takes that from it")
        words = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-all", *words]
    got = subprocess.run(words, cwd=trial, capture_output=True, text=True, check=False)
    assert (got.returncode, got.stdout) == (2, "")
    assert got.stderr == "locked/a.png: the folder cannot be written to\n"
    assert not list(locked.iterdir())


def _laying(child: subprocess.Popen[str]) -> bool:
    """Whether a child has begun to lay layers: the simulation's library is in its memory."""
    return "_nd_image" in Path(f"/proc/{child.pid}/maps").read_text(encoding="utf-8")


def _listen_to_interrupts() -> None:
    """Undo what a shell does to programs in its background: there they ignore Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def test_interrupt_leaves_nothing(trial: Path) -> None:
    """Ctrl-C in mid-render: exit code 1, one line, the old file as it was, nothing beside it."""
    if not Path("/proc/self/maps").exists():
        pytest.skip("needs /proc to see when the work has begun")
    run("preview", "trial.toml", *SMALL, "-o", "a.png", cwd=trial)
    before = (trial / "a.png").read_bytes()
    words = [sys.executable, "-m", "render", "preview", "trial.toml", "--wall", "6 ft x 6 ft", "--ppi", "30"]
    with subprocess.Popen(
        [*words, "-o", "a.png"],
        cwd=trial,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=_listen_to_interrupts,  # noqa: PLW1509  # no other thread forks here
    ) as child:
        while not _laying(child):
            time.sleep(0.02)
        time.sleep(0.5)
        child.send_signal(signal.SIGINT)
        said = child.communicate(timeout=180)[1]
    assert child.returncode == 1 and "stopped" in said and "Traceback" not in said
    assert (trial / "a.png").read_bytes() == before
    assert sorted(os.listdir(trial)) == ["a.png", "trial.toml"]


def test_kinds_follow_from_the_models(tmp_path: Path) -> None:
    """Every layer kind is listed; one kind's keys come with what they take, their default and their help."""
    from render import layers

    assert set(json.loads(run("kinds", "--json", cwd=tmp_path).stdout)) == set(layers.kinds())
    keys = json.loads(run("kinds", "plaster_coat", "--json", cwd=tmp_path).stdout)["keys"]
    assert keys["coverage"]["default"] == "100 %" and "0 to 100 %" in keys["coverage"]["takes"]
    assert keys["style"]["takes"] == "full | skip | torn | tapped"
    assert keys["spread"]["default"] == "the material's" and keys["name"]["default"] == "plaster coat"
    assert "did you mean 'plaster_coat'" in run("kinds", "plaster_cot", cwd=tmp_path, expect=2).stderr


def test_kinds_are_told_in_whole_sentences(tmp_path: Path) -> None:
    """What a kind is ends with a full stop, and shows nothing of how it is written in the source."""
    for line in json.loads(run("kinds", "--json", cwd=tmp_path).stdout).values():
        assert line.endswith(".") and "`" not in line and "\n" not in line


def test_a_material_can_be_written_from_what_is_listed(tmp_path: Path) -> None:
    """The keys of a material are listed; a material with every listed default is one that only names its class."""
    from render.materials import read

    keys = json.loads(run("kinds", "material", "--json", cwd=tmp_path).stdout)["keys"]
    assert [key for key, about in keys.items() if "default" not in about] == ["class"]
    assert {"colour", "hides", "spread", "absorbency", "grain", "dries", "containers"} <= set(keys)
    listed = {key: about["default"] for key, about in keys.items() if about.get("default", "none") != "none"}
    got, faults = read({"mine": {"class": "plaster", **listed}}, "test")
    assert not faults and got == read({"mine": {"class": "plaster"}}, "test")[0]
