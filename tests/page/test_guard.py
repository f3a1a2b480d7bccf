"""What the page refuses, each case against the application itself."""

from __future__ import annotations

import re
import socket

import pytest

from render.commands.serve import _listen
from render.faults import InputError
from render.page.app import STATIC
from render.page.guard import MOST_BYTES


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost:{}", "127.0.0.1", "127.0.0.1:80", "127.0.0.1:{}.evil.example"]
)
def test_other_hosts_are_refused(client, host):
    """A request under any other name (as after DNS rebinding) gets nothing, not even the page."""
    named = {"Host": host.format(client.port)}
    assert client.ask("GET", "/", named).status == 421
    assert client.post("/layers", {}, named).status == 421
    assert client.ask("GET", "/").status == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:1", "https://127.0.0.1:{}", None])
def test_other_origins_are_refused(client, origin):
    """A post from another origin, or without one, is refused; the page's own passes the guard."""
    assert client.post("/layers", {}, {"Origin": origin and origin.format(client.port)}).status == 403
    assert client.post("/layers", {}).status == 422


def test_cross_site_posts_are_refused(client):
    """What the browser marks as cross-site is refused, and so is a form's content type."""
    for site in ("cross-site", "same-site"):
        assert client.post("/layers", {}, {"Sec-Fetch-Site": site}).status == 403
    for form in ("application/x-www-form-urlencoded", "text/plain", "multipart/form-data"):
        assert client.post("/layers", {}, {"Content-Type": form}).status == 415


def test_oversize_bodies_are_refused(client):
    """A body over the limit is refused by its stated size, and as it comes when it states none."""
    large = b'{"toml": "' + b"#" * MOST_BYTES + b'"}'
    assert client.post("/layers", large).status == 413
    headers = {"Content-Type": "application/json", "Origin": client.here, "Transfer-Encoding": "chunked"}
    half = len(large) // 2
    assert client.ask("POST", "/layers", headers, iter([large[:half], large[half:]])).status == 413
    fits = b'{"toml": "' + b"#" * (MOST_BYTES - 12) + b'"}'
    assert len(fits) == MOST_BYTES
    assert client.post("/layers", fits).status == 200


@pytest.mark.parametrize(
    "path",
    ["/../app.py", "/..%2fapp.py", "/%2e%2e/app.py", "/fonts/../../seeds.py", "/fonts/..%2f..%2fseeds.py", "/app.py",
     "//etc/passwd", "/etc/passwd", "/fonts/OFL.txt", "/static/page.js"],
)  # fmt: skip
def test_paths_outside_the_folder_are_not_found(client, path):
    """Only the page's own files have an address."""
    assert client.ask("GET", path).status == 404


def test_other_methods_are_refused(client):
    """Only reading and posting are answered; reading a post's address does no work."""
    assert client.ask("PUT", "/layers").status == 405
    assert client.ask("OPTIONS", "/layers").status == 405
    assert client.ask("GET", "/picture").status == 405


def test_every_answer_carries_the_policy(client):
    """Also refusals say that nothing from elsewhere may run, be framed or be read."""
    for answer in (
        client.ask("GET", "/"),
        client.ask("GET", "/nothing"),
        client.ask("GET", "/", {"Host": "evil.example"}),
    ):
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "access-control-allow-origin" not in answer.headers


def test_the_page_needs_nothing_from_elsewhere(client):
    """No file of the page names another address, so that it works without a network."""
    for file in STATIC.iterdir():
        text = file.read_text(encoding="utf-8").replace('xmlns="http://www.w3.org/2000/svg"', "")
        assert not re.search(r"https?:|//[a-z]+\.|@import", text), file.name
        assert not re.search(r"(inner|outer|Adjacent)HTML|document\.write|eval\(|new Function", text), file.name
        for address in re.findall(r'(?:src|href)="(/[^"]*)"|url\("(/[^"]*)"\)|from "\./([^"]*)"', text):
            assert client.ask("GET", "/" + "".join(address).lstrip("/")).status == 200, address


@pytest.mark.parametrize("body", [b"", b"{", b"[1", b"NaN", b'{"finish": Infinity}', b"[" * 60_000, b"\xff"])
def test_broken_json_is_the_senders_fault(client, body):
    """What is not JSON is refused in words, never with a traceback."""
    answer = client.post("/layers", body)
    assert answer.status == 422
    assert answer.json()["faults"]


def test_it_listens_on_this_computer_alone():
    """The socket is bound to 127.0.0.1; this computer's other addresses do not answer."""
    with _listen(0) as listening:
        address, port = listening.getsockname()
        assert address == "127.0.0.1"
        with pytest.raises(InputError, match=f"--port = {port}"):
            _listen(port)
        with socket.socket() as probe:
            assert probe.connect_ex(("127.0.0.2", port)) != 0


def test_text_of_a_finish_stays_text(client):
    """Markup in a finish's words comes back as the same letters, as JSON."""
    name = "<img src=x onerror=alert(1)>"
    answer = client.post("/layers", {"finish": {"name": name, "summary": "<script>"}})
    assert answer.headers["content-type"].startswith("application/json")
    assert answer.json()["name"] == name
