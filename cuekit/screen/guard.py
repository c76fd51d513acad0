"""Who may talk to the page: this browser on this computer, and nobody else.

Asked before anything is read: the Host must be our own (another name that was made to point here is
refused), a change needs our own Origin and a header that no form of another page can send, and all but
the opening address needs the cookie that the secret in that address was exchanged for. Everything
refused is counted by reason; nothing of the request is written anywhere.

Sources: OWASP cheat sheets on cross-site request forgery and on HTTP headers; the WHATWG Fetch standard
for which requests another page can send.
"""

from __future__ import annotations

import secrets
from collections import Counter
from collections.abc import Awaitable, Callable, MutableMapping, Sequence
from http.cookies import CookieError, SimpleCookie
from typing import Any

COOKIE = "cuekit_screen"
HEADER = "x-cuekit"
OPENING = "/open/"
"""Before the secret in the address the browser is opened with, once."""

MOST_TRIES = 10
"""Wrong secrets until none is taken any more."""
_TYPED = "abcdefghjkmnpqrstuvwxyz23456789"
"""Letters and digits that are not taken for each other."""
LONGEST_PATH = 200
MOST_HEADER_BYTES = 16_384

POLICY = (
    "default-src 'self'; img-src 'self' data:; style-src 'self'; script-src 'self'; connect-src 'self'; "
    "object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
PAPER_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
"""Of the printable pages, which carry their style in themselves and nothing else."""

HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cache-control", b"no-store"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]


class Guard:
    """Stands before an app.

    Parameters:
        app: what is guarded.
        port: the one it is served at, which is part of every right Host and Origin.
        secret: exchanged for the cookie by the opening address, once.
        names: of this computer, as a right caller addresses it.

    Attributes:
        refused: how often, by reason.
    """

    def __init__(
        self, app: App, port: int, secret: str, names: Sequence[str] = ("127.0.0.1", "localhost")
    ) -> None:
        self._app = app
        self._hosts = {f"{name}:{port}" for name in names}
        self._secret, self._cookie = secret, secrets.token_urlsafe(32)
        self._tries = MOST_TRIES
        self.refused: Counter[str] = Counter()

    def open_to(self, secret: str) -> None:
        """Let the page be opened once more, by a new secret; a browser that is in stays in."""
        self._secret, self._tries = secret, MOST_TRIES

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, open, or pass on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # there are no web sockets here
            self.refused["web socket"] += 1
            await send({"type": "websocket.close", "code": 1008})
            return
        why, status = self._why_not(scope)
        if why:
            self.refused[why] += 1
            await _answer(send, status, why)
        elif scope["path"].startswith(OPENING):
            await self._open(scope, send)
        else:
            await self._app(scope, receive, _with_headers(send))

    def _why_not(self, scope: Scope) -> tuple[str, int]:
        """Why a request is refused, and its status; "" where it is not."""
        headers = [(name.decode("latin-1"), value.decode("latin-1")) for name, value in scope["headers"]]
        if sum(len(name) + len(value) for name, value in headers) > MOST_HEADER_BYTES:
            return "head too large", 431
        hosts = [value for name, value in headers if name == "host"]
        if len(hosts) != 1 or hosts[0] not in self._hosts:
            return "not addressed to this program", 403
        if len(scope.get("raw_path") or b"") > LONGEST_PATH or scope.get("query_string"):
            return "no such address", 404
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return "method not known", 405
        origins = [value for name, value in headers if name == "origin"]
        if any(origin not in {f"http://{host}" for host in self._hosts} for origin in origins):
            return "from another page", 403
        sites = [value for name, value in headers if name == "sec-fetch-site"]
        if any(site not in ("same-origin", "none") for site in sites):
            return "from another page", 403
        if scope["path"].startswith(OPENING):
            return ("", 0) if scope["method"] == "GET" else ("method not known", 405)
        if not self._known(headers):
            return "open this page with cuekit screen", 403
        if scope["method"] == "POST" and not (origins and any(name == HEADER for name, _ in headers)):
            return "not sent by the page", 403
        return "", 0

    def _known(self, headers: list[tuple[str, str]]) -> bool:
        """Whether the cookie is right."""
        for name, value in headers:
            if name != "cookie":
                continue
            try:
                cookie = SimpleCookie(value).get(COOKIE)
            except CookieError:
                continue
            if cookie is not None and _same(cookie.value, self._cookie):
                return True
        return False

    async def _open(self, scope: Scope, send: Send) -> None:
        """Exchange the secret for the cookie; it is good for one time only."""
        given, secret = scope["path"].removeprefix(OPENING), self._secret
        if not secret or not self._tries or not _same(given, secret):
            self.refused["secret"] += 1
            self._tries = max(0, self._tries - 1)
            await _answer(send, 403, "this address was used before: open the page anew from the program")
            return
        self._secret = ""
        cookie = f"{COOKIE}={self._cookie}; HttpOnly; SameSite=Strict; Path=/"
        headers = [(b"location", b"/"), (b"set-cookie", cookie.encode("ascii"))]
        await _answer(send, 303, "", headers)


def new_secret() -> str:
    """192 bits for the opening address."""
    return secrets.token_urlsafe(24)


def new_code() -> str:
    """40 bits that can be typed on a phone; after `MOST_TRIES` wrong ones none is taken."""
    return "-".join("".join(secrets.choice(_TYPED) for _ in range(4)) for _ in range(2))


def _same(given: str, wanted: str) -> bool:
    """Whether two secrets are equal, in a time that tells nothing."""
    return secrets.compare_digest(given.encode("utf-8", "replace"), wanted.encode("utf-8"))


def _with_headers(send: Send) -> Send:
    """Every answer with the headers that keep a browser careful."""

    async def sending(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            given = list(message.get("headers", []))
            names = {name.lower() for name, _ in given}
            given += [(name, value) for name, value in HEADERS if name not in names]
            if b"content-security-policy" not in names:
                given.append((b"content-security-policy", POLICY.encode("ascii")))
            message = {**message, "headers": given}
        await send(message)

    return sending


async def _answer(
    send: Send, status: int, words: str, headers: list[tuple[bytes, bytes]] | None = None
) -> None:
    body = words.encode("utf-8")
    told = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    told += [*(headers or []), *HEADERS, (b"content-security-policy", POLICY.encode("ascii"))]
    if status >= 400:
        told.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": told})
    await send({"type": "http.response.body", "body": body})
