"""What the page's addresses answer."""

from __future__ import annotations

import io
import json
import socket
import struct
import threading
import time
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from render import finish as finishes
from render import keepsake, layers
from render.layers.base import Layer
from render.layers.brushed_coat import BrushedCoat
from render.page.easel import Easel, Order, resolution
from render.picture import preview
from render.pipeline import Stopped

LIGHT = "window left 16 deg"
WALL = "4 in x 3 in"


@pytest.fixture(scope="module")
def table(finish_text):
    """The finish as the page holds it."""
    return tomllib.loads(finish_text)


def order(table, **more):
    """What the page posts for a picture."""
    return {
        "finish": table,
        "wall": WALL,
        "pour": 3,
        "light": LIGHT,
        "tab": "one",
        "number": 1,
        "quality": "draft",
        **more,
    }


def unpacked(answer):
    """Figures and picture of an answer."""
    size = struct.unpack(">I", answer.body[:4])[0]
    return json.loads(answer.body[4 : 4 + size]), Image.open(io.BytesIO(answer.body[4 + size :]))


def test_a_picture_comes_with_its_figures(client, table):
    """Picture and shares are those of the library's own preview; the shares of all that is seen sum to one."""
    figures, image = unpacked(client.post("/picture", order(table, tab="figures", quality="settled")))
    expected = preview(finishes.read(table), WALL, figures["ppi"], 3, LIGHT)
    assert image.size == expected.image.size
    other = preview(finishes.read(table), WALL, figures["ppi"], 4, LIGHT)
    same, unlike = (np.abs(np.asarray(image, float) - np.asarray(one.image, float)).mean() for one in (expected, other))
    assert same < 3 < 2 * same + 3 < unlike  # what JPEG loses is little beside another pour
    assert [one["name"] for one in figures["layers"]] == ["base", "wash", "umber spatter"]
    seen = [one["visible_share"] for one in figures["layers"]]
    assert seen == [line.visible_share for line in expected.layers]
    assert sum(seen) + figures["bare_share"] == pytest.approx(1, abs=1e-5)
    assert figures["cost_per_ft2"] > 0


def test_resolutions_follow_the_wall():
    """4 ft x 4 ft is drafted at 12.5 px/in and settles at 25; four times the area has half as many."""
    assert resolution("4 ft x 4 ft", "draft") == 12.5
    assert resolution("4 ft x 4 ft", "settled") == 25
    assert resolution("8 ft x 8 ft", "draft") == 6.25
    assert resolution("2 in x 2 in", "settled") == 100


def test_every_fault_is_told_at_once(client, table):
    """Wrong finish, wall and lamp come back as words with status 422."""
    wrong = {
        **table,
        "layer": [{**table["layer"][0], "spread": "6 parsecs"}, {**table["layer"][1], "coverage": "900 %"}],
    }
    answer = client.post("/picture", order(wrong, tab="faults"))
    assert answer.status == 422
    faults = "\n".join(answer.json()["faults"])
    assert "spread" in faults and "coverage" in faults and '"base"' in faults
    for more in ({"wall": "big"}, {"light": "moon"}, {"pour": "x"}, {"pour": True}, {"quality": "best"}, {"finish": []},
                 {"wall": "9" * 500}, {"wall": "4000 ft x 0.001 in"}, {"tab": 3}):  # fmt: skip
        answer = client.post("/picture", order(table, **{"tab": "faults", **more}))
        assert answer.status == 422, more
        assert answer.json()["faults"]


def test_what_is_overtaken_is_called_off(client, table):
    """An older request of the same tab is dropped; another tab's is not."""
    assert client.post("/picture", order(table, tab="a", number=9)).status == 200
    assert client.post("/picture", order(table, tab="a", number=8)).status == 409
    assert client.post("/picture", order(table, tab="b", number=8)).status == 200


def test_stale_work_stops_between_layers(table, monkeypatch):
    """Work under way says where it is, and ends at the next layer once its tab asks for something newer."""
    easel = Easel()
    started, go_on = threading.Event(), threading.Event()
    laid: list[str] = []
    plain = BrushedCoat.apply

    def slow(self: Layer, wall, streams):
        laid.append(self.name)
        started.set()
        assert go_on.wait(20)
        return plain(self, wall, streams)

    monkeypatch.setattr(BrushedCoat, "apply", slow)
    both = {**table, "layer": [*table["layer"], {**table["layer"][1], "name": "second wash"}]}
    old = Order(both, WALL, 1, LIGHT, "tab", 1, "draft")
    stopped: list[bool] = []

    def work() -> None:
        with pytest.raises(Stopped):
            easel.draw(old)
        stopped.append(True)

    thread = threading.Thread(target=work)
    thread.start()
    assert started.wait(20)
    assert easel.laying("tab") == {"number": 2, "of": 4, "name": "wash"}
    easel.announce(replace(old, number=2))
    go_on.set()
    thread.join(20)
    assert stopped == [True]
    assert laid == ["wash"]


def test_work_stops_when_nobody_waits_for_it(client, table, monkeypatch):
    """A closed connection calls its picture off: the layers after the one under way are not laid."""
    started, closed = threading.Event(), threading.Event()
    laid: list[str] = []
    plain = BrushedCoat.apply

    def slow(self: Layer, wall, streams):
        laid.append(self.name)
        started.set()
        assert closed.wait(20)
        time.sleep(0.5)  # the server learns of it meanwhile
        return plain(self, wall, streams)

    monkeypatch.setattr(BrushedCoat, "apply", slow)
    washes = [{**table["layer"][1], "name": f"wash {n}"} for n in range(2)]
    body = json.dumps(order({**table, "layer": washes}, tab="gone")).encode()
    head = f"POST /picture HTTP/1.1\r\nHost: 127.0.0.1:{client.port}\r\nOrigin: {client.here}\r\n"
    head += f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    with socket.create_connection(("127.0.0.1", client.port)) as connection:
        connection.sendall(head.encode() + body)
        assert started.wait(20)
    closed.set()
    time.sleep(1.5)
    assert laid == ["wash 0"]


def test_a_new_colour_lays_no_layer_again(table, monkeypatch):
    """Colours of paints and colourants, and the lamp, change the picture without any physics."""
    easel = Easel()
    laid: list[str] = []
    for kind in {type(one) for one in finishes.read(table).layers}:
        plain = kind.apply

        def counted(self, wall, streams, plain=plain):
            laid.append(self.name)
            return plain(self, wall, streams)

        monkeypatch.setattr(kind, "apply", counted)
    first = Order(table, WALL, 1, LIGHT, "tab", 1, "draft")
    before = easel.draw(first)
    assert laid == ["base", "wash", "umber spatter"]
    shelf = tomllib.loads((finishes.presets.folder() / "materials.toml").read_text(encoding="utf-8"))
    green = {**table, "material": {"limewash": {**shelf["limewash"], "colour": "#3f6b4a"}}}
    after = easel.draw(replace(first, table=green))
    lit = easel.draw(replace(first, light="overhead 25 deg, 2700 K"))
    assert laid == ["base", "wash", "umber spatter"]
    assert np.any(np.asarray(before.image) != np.asarray(after.image))
    assert np.any(np.asarray(before.image) != np.asarray(lit.image))
    last = {**table, "layer": [*table["layer"][:2], {**table["layer"][2], "spread": "500 ft2/gal"}]}
    easel.draw(replace(first, table=last))
    assert laid[3:] == ["umber spatter"]


def test_a_saved_finish_gives_the_same_picture(client, table):
    """The finish file reads back as the table that was on the page."""
    answer = client.post("/finish-file", {"finish": table})
    again = tomllib.loads(answer.body.decode())
    assert again == table
    assert finishes.read(again) == finishes.read(table)


def test_a_saved_picture_renders_again(client, table, tmp_path):
    """The PNG carries finish, wall, pour and lamp."""
    answer = client.post("/sheet", order(table, tab="sheet"))
    assert answer.headers["content-type"] == "image/png"
    path = tmp_path / "sheet.png"
    path.write_bytes(answer.body)
    kept = keepsake.open_again(path)
    assert kept.finish == finishes.read(table)
    assert (kept.wall, kept.pour, kept.light) == (WALL, 3, LIGHT)


def test_a_comparison_has_every_kept_look(client, table):
    """Three looks in a row are about three times as wide as one."""
    one = client.post("/comparison", {"options": [order(table, tab="c", label="A")]})
    three = client.post("/comparison", {"options": [order(table, tab="c", pour=n, label=str(n)) for n in (1, 2, 3)]})
    widths = [Image.open(io.BytesIO(answer.body)).width for answer in (one, three)]
    assert 2.5 < widths[1] / widths[0] < 3.1
    for options in ([], "x", [1], [order(table)] * 13, [{**order(table), "wall": 3}]):
        assert client.post("/comparison", {"options": options}).status == 422


def test_a_finish_can_be_opened_in_three_ways(client, table, finish_text):
    """As a table, as a file's text, and by a shipped name; a file's faults name the file."""
    names = [row["name"] for row in client.post("/layers", {"finish": table}).json()["layers"]]
    assert [row["name"] for row in client.post("/layers", {"toml": finish_text}).json()["layers"]] == names
    shipped = finishes.shipped_names()[0]
    assert client.post("/layers", {"shipped": shipped}).json()["name"] == finishes.load(shipped).name
    answer = client.post("/layers", {"toml": "name = 3", "where": "mine.toml"})
    assert answer.status == 422 and answer.json()["faults"][0].startswith("mine.toml: name")
    assert client.post("/layers", {"shipped": "../materials"}).status == 422


def test_beginning_lists_what_ships(client):
    """A new page learns what to open, every shipped finish, the shelf and the colourants."""
    begun = client.post("/begin", {}).json()
    assert begun["opening"] == {"finish": {"name": "Bare wall"}}
    assert [one["id"] for one in begun["shipped"]] == finishes.shipped_names()
    assert begun["shelf"]["limewash"]["class"] == "limewash"
    assert begun["colourants"]["raw umber"].startswith("#")


def test_every_kind_can_be_added_as_it_is_offered(client):
    """The page offers each layer kind, and what it then adds to a list can be read and drawn."""
    starters = client.post("/begin", {}).json()["starters"]
    assert sorted(one["kind"] for one in starters) == sorted(layers.kinds())
    base = {"kind": "texture_coat", "name": "under it", "material": "sanded wall coat"}
    for one in starters:
        entry = {**one["entry"], "name": one["kind"]}
        answer = client.post("/picture", order({"layer": [base, entry]}, wall="4 in x 4 in", tab=one["kind"]))
        assert answer.status == 200, (one["kind"], answer.body)
        assert one["about"].endswith(".") and one["group"]
