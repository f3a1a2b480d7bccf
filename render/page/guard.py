"""What the page refuses: other hosts and origins, posts from other sites, oversize bodies; and the headers it sends.

The server listens on 127.0.0.1 alone, but any site open in the same browser can reach that address. A request must
therefore name this host (or a foreign name could be pointed here), and a post must come from this page.
"""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ADDRESS = "127.0.0.1"
MOST_BYTES = 1_000_000
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


def refusal(scope: Scope, port: int) -> tuple[int, str] | None:
    """Return the status and words with which a request is refused, or None if it may pass."""
    headers = Headers(scope=scope)
    here = f"{ADDRESS}:{port}"
    if headers.getlist("host") != [here]:
        return 421, f"this page answers only as http://{here}/"
    if headers.get("origin", f"http://{here}") != f"http://{here}":
        return 403, "requests from other pages are refused"
    if headers.get("sec-fetch-site", "none") not in ("none", "same-origin") and scope["method"] != "GET":
        return 403, "requests from other sites are refused"
    if scope["method"] not in ("GET", "HEAD", "POST"):
        return 405, "only GET and POST are answered"
    return _post_refusal(headers) if scope["method"] == "POST" else None


def _post_refusal(headers: Headers) -> tuple[int, str] | None:
    """Return why a post is refused: it must name its origin, be JSON, and state a size that a finish can have."""
    if "origin" not in headers:
        return 403, "a post without an origin is refused"
    if headers.get("content-type", "").split(";")[0].strip() != "application/json":
        return 415, "a post is JSON"
    size = headers.get("content-length", "0")
    if not size.isdigit() or int(size) > MOST_BYTES:
        return 413, f"a post is at most {MOST_BYTES} bytes"
    return None


class Guard:
    """ASGI middleware that lets only this page's own requests through, and sends the headers that keep it so."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        """Wrap an application that is reached under one port."""
        self._app = app
        self._port = port

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse or pass on one request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        answer = _with_headers(send)
        refused = refusal(scope, self._port)
        if refused is not None:
            await PlainTextResponse(refused[1], refused[0])(scope, receive, answer)
            return
        await self._app(scope, receive, answer)


def _with_headers(send: Send) -> Send:
    """Add the page's headers to every answer."""

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message).update(_HEADERS)
        await send(message)

    return sent


async def limited(request: Request) -> bytes | None:
    """Return a request's body, or None once it is larger than a finish can be: a chunked one states no size before."""
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > MOST_BYTES:
            return None
    return bytes(body)
