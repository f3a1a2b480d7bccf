"""The client sheet and the site sheet: what they say, that marks stay text, and that they print."""

from __future__ import annotations

import html.parser
import io
import re
import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pypdf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from render.commands.job import sheets
from render.estimate.cautions import DEFER
from render.estimate.job_estimate import JobEstimate, job_estimate
from render.faults import InputError
from render.job import read
from render.pipeline import Cache
from render.sheets import client, content, site, web
from render.sheets import paper as p
from render.sheets.lettering import PROMISE

NAME = "<script>alert(1)</script> Zoë & Søn, Łódź"
FINISH = """
name = "Two washes"
summary = "Two quiet washes."
watch = "Keep a wet edge."
[material.mud]
class = "plaster"
colour = "#c9b49a"
spread = "90 ft2/gal"
dries = "12-24 h"
containers = [{ size = "1 gal", price = 40 }]
[[layer]]
kind = "brushed_coat"
name = "first wash"
material = "mud"
thin = "20 %"
note = "Thin it well."
[[layer]]
kind = "sand"
name = "rub down"
"""
JOB = f"""
name = "Mill Row"
[client]
name = "{NAME}"
[maker]
name = "Alder & Daughter"
[site]
address = "3 Mill Row"
year_built = 1930
[work]
start = 2027-03-01
[[option]]
name = "A"
finish = "washes.toml"
[[option]]
name = "B"
finish = "washes.toml"
title = "Half covered"
change = {{ "first wash.coverage" = "50 %" }}
"""
ROOM = """
[[room]]
name = "{name}"
[[room.wall]]
name = "north"
width = "12 ft"
height = "8 ft"
"""
PAPERS = {"letter": (612, 792), "a4": (595.28, 841.89)}


def estimate_of(folder: Path, job: str) -> JobEstimate:
    """Return the estimate of a job whose finish lies in a folder."""
    (folder / "washes.toml").write_text(FINISH)
    return job_estimate(read(tomllib.loads(job), "job.toml", folder))


def quiet(*_words: Any) -> None:
    """Tell nothing."""


def made(got: JobEstimate) -> tuple[content.ClientSheet, content.SiteSheet]:
    """Return both sheets with small pictures."""
    cache, day = Cache(), date(2027, 2, 1)
    one = content.client_sheet(got, "2 ft x 2 ft", 6.0, quiet, cache, 144, day)
    return one, content.site_sheet(got, got.offers[0], quiet, cache, "1 ft x 1 ft", 6.0, 72, day)


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[content.ClientSheet, content.SiteSheet]:
    """The sheets of a small job with two options."""
    return made(estimate_of(tmp_path_factory.mktemp("job"), JOB + ROOM.format(name="Hall")))


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> tuple[content.ClientSheet, content.SiteSheet]:
    """The sheets of a job with sixty rooms of long names."""
    rooms = "".join(ROOM.format(name=f"Room {n} with a name that goes on along the corridor") for n in range(60))
    return made(estimate_of(tmp_path_factory.mktemp("many"), JOB + rooms))


def words(pdf: bytes) -> str:
    """Return the text of a PDF, with single spaces."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


class Page(html.parser.HTMLParser):
    """Collects what a browser would show, fetch and run."""

    def __init__(self, text: str) -> None:
        """Read a page."""
        super().__init__()
        self.tags: list[str] = []
        self.fetched: list[str] = []
        self.shown: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note tags and addresses."""
        self.tags.append(tag)
        self.fetched += [value or "" for name, value in attrs if name in ("src", "href", "srcset", "action")]

    def handle_data(self, data: str) -> None:
        """Note text."""
        self.shown.append(data)

    @property
    def text(self) -> str:
        """All text with single spaces."""
        return " ".join(" ".join(self.shown).split())


def fonts(pdf: bytes) -> dict[str, bool]:
    """Return every font of a PDF, and whether its letters are in the file."""
    found = {}
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            one = font.get_object()
            descriptor = one.get("/FontDescriptor")
            found[str(one["/BaseFont"])] = descriptor is not None and "/FontFile2" in descriptor.get_object()
    return found


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_pages_have_the_paper_and_own_letters(both: Any, paper: Any) -> None:
    """The client sheet lies, the site sheet stands; every font is embedded; no picture is left out."""
    wide, tall = client.pdf(both[0], paper), site.pdf(both[1], paper)
    short, long = PAPERS[paper]
    for pdf, size in ((wide, (long, short)), (tall, (short, long))):
        reader = pypdf.PdfReader(io.BytesIO(pdf))
        for page in reader.pages:
            assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.01)
        assert fonts(pdf)
        assert all(fonts(pdf).values())
    assert len(pypdf.PdfReader(io.BytesIO(wide)).pages[0].images) == 2
    assert sum(len(page.images) for page in pypdf.PdfReader(io.BytesIO(tall)).pages) == 2


def test_the_client_pdf_says_what_is_needed(both: Any) -> None:
    """Names with marks and accents as text, both options, price, range, LRV, shares, walls, promises, lines to sign."""
    told = words(client.pdf(both[0], "letter"))
    card = both[0].cards[1]
    needed = [
        NAME, "3 Mill Row", "Alder & Daughter", "1 February 2027", "OPTION A", "Half covered", card.price,
        card.per_area,
        card.price_range, "LRV", "What one sees", "96.0 ft²", PROMISE, "What we promise", "What nobody can promise",
        "Option B", "Sample approved", "Place and date", "1 Mar", DEFER,
    ]  # fmt: skip
    assert [one for one in needed if one not in told] == []


def test_the_site_pdf_says_what_is_needed(both: Any) -> None:
    """Steps in order with material, thinning, spread, batches, drying; purchase; days; cautions with source."""
    told = words(site.pdf(both[1], "a4"))
    needed = [
        "first wash", "20 % water", "90 ft²/gal", "Let it dry 12–24 h", "Thin it well.", "Keep a wet edge.",
        "1 gal 22 fl oz mud + 30 fl oz water", "2 × 1 gal", "Mon 1 Mar 2027", "set up and mask", "sanding block",
        "29 CFR 1926.1153", "40 CFR 745 subpart E", DEFER, "US gallons",
    ]  # fmt: skip
    assert [one for one in needed if one not in told] == []
    assert told.index("1 first wash") < told.index("2 rub down")


def test_what_governs_stands_once_on_a_page(both: Any) -> None:
    """Beneath the options and above the lines to sign, and not again in the foot."""
    pages = pypdf.PdfReader(io.BytesIO(client.pdf(both[0], "letter"))).pages
    assert [page.extract_text().count(PROMISE) for page in pages] == [1, 1]
    assert content.LRV_NOTE in " ".join(pages[0].extract_text().split())


def test_the_last_coat_dries_before_the_room_is_used(both: Any) -> None:
    """What follows a coat is the next step; what follows the last is the room's use."""
    from render.finish import load

    told = [one for one in content._after(load("old-cistern")) if one.startswith("Let it dry")]
    assert told[-1] == "Let it dry 2–4 h before the room is used."
    assert all(one.endswith("before the next step.") for one in told[:-1])


def test_the_site_sheet_begins_its_steps_on_the_first_page(both: Any) -> None:
    """Head, cautions and the first step share a page where there is room for them."""
    first = pypdf.PdfReader(io.BytesIO(site.pdf(both[1], "letter"))).pages[0].extract_text()
    assert "first wash" in first


def test_shares_and_colours_are_those_of_the_picture(both: Any) -> None:
    """What one sees adds up to the whole wall, and half the coverage shows more of the wall beneath."""
    full, half = (card.shown[0] for card in both[0].cards)
    for shown in (full, half):
        assert sum(one.share for one in shown.shares) == pytest.approx(1.0, abs=0.006)
        assert all(0 <= float(one.lrv) <= 100 and re.fullmatch("#[0-9a-f]{6}", one.code) for one in shown.colours)
    beneath = [{one.words: one.share for one in shown.shares}.get("the wall beneath", 0.0) for shown in (full, half)]
    assert beneath[1] > beneath[0] + 0.3


def test_html_is_one_file_that_runs_nothing(both: Any) -> None:
    """No script, no link, nothing fetched but what is inside; marks in the client's name are shown as text."""
    for text, pictures in ((web.client(both[0]), 2), (web.site(both[1]), 2)):
        page = Page(text)
        assert not {"script", "link", "iframe", "object", "form"} & set(page.tags)
        assert len(page.fetched) == pictures
        assert all(one.startswith("data:image/jpeg;base64,") for one in page.fetched)
        assert not re.search(r"url\((?!data:font/woff)", text)
        assert text.count("@font-face") == 4
        assert "finishboard" in text[:400]
    assert NAME in Page(web.client(both[0])).text


def test_html_says_what_the_pdf_says(both: Any) -> None:
    """Promise, prices, promises, cautions and steps stand in the HTML too."""
    told = Page(web.client(both[0])).text
    assert [
        one for one in (PROMISE, both[0].cards[0].price, *content.PROMISED, *content.NOT_PROMISED) if one not in told
    ] == []
    told = Page(web.site(both[1])).text
    assert [
        one for one in ("first wash", "29 CFR 1926.1153", "2 × 1 gal", "Let it dry 12–24 h") if one not in told
    ] == []


def test_every_room_of_a_large_job_is_there(many: Any) -> None:
    """Sixty rooms: none is lost between the pages, the head of the table is repeated, the sum is on the last."""
    for paper in ("letter", "a4"):
        reader = pypdf.PdfReader(io.BytesIO(client.pdf(many[0], paper)))
        told = words(client.pdf(many[0], paper))
        assert [n for n in range(60) if f"Room {n} with" not in told] == []
        assert sum("Net area" in page.extract_text() for page in reader.pages) >= 2
        assert "5,760.0 ft²" in told
        crew = words(site.pdf(many[1], paper))
        assert [n for n in range(60) if f"Room {n} with" not in crew] == []
        assert "60 rooms: up to 8 ft" in crew


def test_a_metric_job_hands_over_metric_sheets(tmp_path: Path) -> None:
    """Areas, films, spreads, volumes, tools, sample and scale bar in metres and litres; cans as they are sold."""
    got = estimate_of(tmp_path, 'units = "metric"\n' + JOB + ROOM.format(name="Hall"))
    one, two = made(got)
    told = " ".join(words(pdf) for pdf in (client.pdf(one, "a4"), site.pdf(two, "a4")))
    told += " ".join(Page(page).text for page in (web.client(one), web.site(two)))
    assert "8.9 m²" in told and "2.21 m²/L" in told and "0.30 m" in told  # 96 ft², 90 ft²/gal
    bare = re.sub(r"× 1 gal \(3\.79 L\)|6 ft² \(0\.56 m²\)", "", told)  # the law's own six square feet
    assert re.findall(r"\bft²|\bft2?\b|\bgal\b|\bfl oz|\btb?sp|\d in\b|\bmil\b", bare) == []


def test_the_client_reads_which_wall_has_another_finish(tmp_path: Path) -> None:
    """One of two walls has a finish of its own: it stands behind the wall, and whose colours are told is said."""
    (tmp_path / "other.toml").write_text(FINISH.replace("Two washes", "Third wash"))
    wall = '[[room.wall]]\nname = "south"\nwidth = "6 ft"\nheight = "8 ft"\nfinish = "other.toml"\n'
    sheet = made(estimate_of(tmp_path, JOB + ROOM.format(name="Hall") + wall))[0]
    assert sheet.rooms[0][1] == "north, south (A: Third wash, B: Third wash)"
    assert "What one sees of Two washes" in words(client.pdf(sheet, "letter"))
    assert "What one sees of Two washes" in Page(web.client(sheet)).text


def test_a_recipe_of_many_things_is_a_list() -> None:
    """Two things stand in a line; more beneath each other, then how many buckets they fill."""
    few, many = {"mud": 1.0, "water": 0.25}, {"medium": 1.0, "umber": 1 / 256, "water": 0.25}
    assert content._recipe(few, 1, "imperial") == "1 gal mud + 32 fl oz water"
    assert content._recipe(few, 2, "metric") == "3.79 L mud + 946 ml water, in 2 buckets poured into each other"
    assert content._recipe(many, 2, "imperial").splitlines() == [
        "1 gal medium", "1 tbsp umber", "32 fl oz water", "in 2 buckets poured into each other",
    ]  # fmt: skip
    made = site._recipe(content._recipe(many, 1, "imperial"), 200.0)
    assert made.wrap(200.0, 500.0)[1] < 3 * 1.32 * 7.8  # three things in two columns take two lines


def test_numbers_are_tied_to_their_units_in_html_and_pdf(both: Any) -> None:
    """Share and spread cannot be parted at the end of a line."""
    assert "20\u00a0% water" in web.site(both[1]) and "90\u00a0ft²/gal" in web.site(both[1])
    assert p.text("20 % water", p.style(p.TEXT, 8)).frags[0].text == "20\u00a0% water"


def test_no_heading_is_left_behind(both: Any) -> None:
    """However many steps come before: the heading of the days stands on the page on which the days begin."""
    for count in range(1, 12):
        part = replace(both[1].parts[0], steps=both[1].parts[0].steps[:1] * count)
        made = pypdf.PdfReader(io.BytesIO(site.pdf(replace(both[1], parts=(part,)), "a4")))
        pages = [page.extract_text() for page in made.pages]
        assert [page for page in pages if "Days" in page and "set up and mask" not in page] == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_times_stand_whole(both: Any, paper: Any) -> None:
    """Every time of the days, from and to, stands in one line of the PDF."""
    times = [time for _, time, *_ in both[1].days if time]
    made = pypdf.PdfReader(io.BytesIO(site.pdf(both[1], paper)))
    lines = [line for page in made.pages for line in page.extract_text().splitlines()]
    assert times
    assert [time for time in times if not any(time in line for line in lines)] == []


def test_what_goes_far_has_no_spread_to_check(tmp_path: Path) -> None:
    """Two drops on a wall: the crew reads what they take, not a spread of 4,000 ft²/gal."""
    (tmp_path / "washes.toml").write_text(FINISH.replace('thin = "20 %"', 'thin = "20 %"\nspread = "4000 ft2/gal"'))
    got = job_estimate(read(tomllib.loads(JOB + ROOM.format(name="Hall")), "job.toml", tmp_path))
    facts = dict(made(got)[1].parts[0].steps[0].facts)
    assert "Spread" not in facts and "Wet film, mean" not in facts and facts["Takes"].endswith("fl oz")


def test_the_same_sheet_gives_the_same_bytes(both: Any) -> None:
    """Nothing in the files depends on when they were made."""
    for make in (lambda: client.pdf(both[0], "letter"), lambda: site.pdf(both[1], "a4"), lambda: web.client(both[0])):
        assert make() == make()


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=200), count=st.integers(1, 7))
def test_any_name_and_number_of_options_can_be_set(both: Any, name: str, count: int) -> None:
    """Whatever the letters and however many options: both sheets are made, and the HTML shows the name as it is."""
    cards = tuple(replace(both[0].cards[0], letter=f"{n}", title=name, note=name * 3) for n in range(count))
    sheet = replace(both[0], title=name, client=(name,), cards=cards)
    assert client.pdf(sheet, "a4").startswith(b"%PDF")
    step = replace(both[1].parts[0].steps[0], name=name[:80], note=name * 2)
    part = replace(both[1].parts[0], finish=name, steps=(step,))
    assert site.pdf(replace(both[1], title=name, parts=(part,)), "letter").startswith(b"%PDF")
    assert " ".join(name.split()) in Page(web.client(sheet, fonts=False)).text


def test_a_schedule_is_grouped_by_place_and_work(both: Any) -> None:
    """One row for each run of the same work in one room, times to five minutes."""
    rows = both[1].days
    assert rows[0] == ("Mon 1 Mar 2027", "08:15–09:45", "Hall", "set up and mask")
    assert rows[1][2:] == ("Hall: north", "first wash")
    assert all(re.fullmatch(r"\d\d:\d[05]–\d\d:\d[05]", one[1]) for one in rows)


def test_the_command_writes_four_files_and_nothing_of_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Four files are written and may be written again; somebody else's file in the way stops it before any work."""
    monkeypatch.setenv("FINISHBOARD_DATA", str(tmp_path / "data"))
    (tmp_path / "washes.toml").write_text(FINISH)
    (tmp_path / "job.toml").write_text(JOB + ROOM.format(name="Hall"))
    out = tmp_path / "out"
    for _ in range(2):
        sheets(str(tmp_path / "job.toml"), out=out, ppi=2.0, sample="1 ft x 1 ft")
    names = ["mill-row-client.html", "mill-row-client.pdf", "mill-row-site.html", "mill-row-site.pdf"]
    assert sorted(path.name for path in out.iterdir()) == names
    assert capsys.readouterr().out == ""
    (out / names[1]).write_bytes(b"%PDF-1.4 a letter of somebody else")
    with pytest.raises(InputError, match="was not made by finishboard"):
        sheets(str(tmp_path / "job.toml"), out=out, ppi=2.0, sample="1 ft x 1 ft")
    assert (out / names[1]).read_bytes().endswith(b"somebody else")


def test_wrong_wishes_are_all_told(tmp_path: Path) -> None:
    """Paper, resolution, sample and sheet: four faults at once, and nothing is written."""
    with pytest.raises(InputError) as caught:
        sheets("job-two-rooms", out=tmp_path / "none", paper="a5", ppi=0.0, sample="4 ft", only="both")
    assert len(caught.value.faults) == 4
    assert not (tmp_path / "none").exists()
