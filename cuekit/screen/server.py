"""The page served on this computer only, and the browser opened on it.

The server moves bytes; what an action means is the conductor's business. Its limits keep a careless or
hostile caller from stopping the page: few connections, a head that must come soon, small bodies.
"""

from __future__ import annotations

import asyncio
import ipaddress
import json
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import Any, Protocol

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route
from uvicorn.protocols.http.h11_impl import H11Protocol

from cuekit.errors import CuekitError
from cuekit.screen.feed import Feed
from cuekit.screen.guard import HEADERS, OPENING, PAPER_POLICY, POLICY, Guard, new_code, new_secret
from cuekit.screen.uploads import TooLargeError, spool
from cuekit.screen.view import Value

HOST = "127.0.0.1"
HEAD_S = 5.0
"""So long may a caller take for the head of its first request, s."""
MOST_CONNECTIONS = 300
MOST_BODY_BYTES = 10_000
"""Of an action."""

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


class Conductor(Protocol):
    """What the server needs of the lesson behind it. All but `view` may take long and block."""

    feed: Feed

    def view(self) -> object:
        """What is shown now, as plain values."""
        ...

    def do(self, action: str, values: tuple[Value, ...]) -> None:
        """Take an action; raises CuekitError where it cannot be taken."""
        ...

    def take_in(self, recording: Path) -> None:
        """Score a recording; raises CuekitError where it cannot be."""
        ...

    def paper(self, name: str) -> str:
        """A page to print, as HTML; raises CuekitError where there is none."""
        ...

    def press(self, key: str) -> None:
        """Take the action of a key of the remote control: "main", "back" or "stop"."""
        ...

    def remote_words(self) -> dict[str, str]:
        """What stands on those keys now."""
        ...


@dataclass(frozen=True)
class Served:
    """A page that is being served.

    Attributes:
        address: what the browser is opened with; good for once.
        port: on this computer.
        guard: who was refused.
        again: a new address to open it with.
        stop: ends it.
        wait: returns when it has ended.
    """

    address: str
    port: int
    guard: Guard
    again: Callable[[], str]
    stop: Callable[[], None]
    wait: Callable[[], None]


def serve(conductor: Conductor, folder: Path) -> Served:
    """Serve the page on a free port of this computer, in a thread of its own.

    Args:
        conductor: the lesson.
        folder: private, for recordings that are dropped.
    """
    listening = _listening(HOST)
    port, secret = listening.getsockname()[1], new_secret()
    guard = Guard(screen_app(conductor, folder), port, secret)
    return _served(guard, listening, conductor.feed, f"http://{HOST}:{port}{OPENING}", secret)


def serve_remote(conductor: Conductor, address: str) -> Served:
    """Serve the keys for a phone on the same network; nothing of a learner is on them.

    Args:
        conductor: the lesson.
        address: of this computer in that network.

    Raises:
        CuekitError: it is not an address of this computer.
    """
    try:
        listening = _listening(str(ipaddress.ip_address(address)))  # never a name: nobody is asked for it
    except (OSError, ValueError):
        raise CuekitError(
            f"no remote control at {address[:40]!r}: give an address of this computer, like 192.168.1.20"
        ) from None
    port, secret = listening.getsockname()[1], new_code()
    guard = Guard(remote_app(conductor), port, secret, names=(address,))
    return _served(guard, listening, conductor.feed, f"http://{address}:{port}{OPENING}", secret)


def _listening(address: str) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.bind((address, 0))
        listening.listen(128)  # who comes before the server is up waits, and is not refused
    except OSError:
        listening.close()
        raise
    return listening


def _served(guard: Guard, listening: socket.socket, feed: Feed, opening: str, secret: str) -> Served:
    """Start to serve."""
    config = uvicorn.Config(
        guard,
        http=partial(_Careful, guard),
        ws="none",
        lifespan="off",
        proxy_headers=False,
        log_config=None,
        log_level="critical",  # what a stranger sends is counted, and says nothing in the terminal
        access_log=False,
        server_header=False,
        timeout_keep_alive=15,
        timeout_graceful_shutdown=1,
        h11_max_incomplete_event_size=16_384,
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=lambda: asyncio.run(server.serve([listening])), daemon=True)
    thread.start()

    def stop() -> None:
        feed.close()
        server.should_exit = True

    def again() -> str:
        fresh = new_secret()
        guard.open_to(fresh)
        return opening + fresh

    return Served(opening + secret, listening.getsockname()[1], guard, again, stop, thread.join)


def screen_app(conductor: Conductor, folder: Path) -> Starlette:
    """The routes; to be put behind a `Guard`."""

    async def events(_: Request) -> Response:
        lines = conductor.feed.read("view", lambda: run_in_threadpool(conductor.view))
        return StreamingResponse(lines, media_type="text/event-stream")

    async def do(request: Request) -> Response:
        action, values = _action(await _body(request))
        await run_in_threadpool(conductor.do, action, values)
        return Response(status_code=204)

    async def recording(request: Request) -> Response:
        announced = request.headers.get("content-length", "")
        path = await spool(request.stream(), int(announced) if announced.isdecimal() else None, folder)
        try:
            await run_in_threadpool(conductor.take_in, path)
        finally:
            path.unlink(missing_ok=True)
        return Response(status_code=204)

    async def paper(request: Request) -> Response:
        page = await run_in_threadpool(conductor.paper, request.path_params["name"])
        return Response(page, media_type="text/html", headers={"content-security-policy": PAPER_POLICY})

    routes = [
        Route("/events", events),
        Route("/do", do, methods=["POST"]),
        Route("/recording", recording, methods=["POST"]),
        Route("/paper/{name:str}", paper),
        *(Route(path, _static(name)) for path, name in static_files().items()),
    ]
    return Starlette(routes=routes, exception_handlers=_REFUSALS)


def remote_app(conductor: Conductor) -> Starlette:
    """The keys for a phone; to be put behind a `Guard`."""

    async def press(request: Request) -> Response:
        action, _ = _action(await _body(request))
        await run_in_threadpool(conductor.press, action)
        return JSONResponse(await run_in_threadpool(conductor.remote_words))

    async def words(_: Request) -> Response:
        return JSONResponse(await run_in_threadpool(conductor.remote_words))

    shipped = static_files("remote").items()
    routes = [
        Route("/do", press, methods=["POST"]),
        Route("/words", words),
        *(Route(path, _static(name, "remote")) for path, name in shipped),
    ]
    return Starlette(routes=routes, exception_handlers=_REFUSALS)


def static_files(folder: str = "static") -> dict[str, str]:
    """File by address: a fixed table, so that no address ever becomes a path."""
    names = sorted(path.name for path in files("cuekit.screen").joinpath(folder).iterdir())
    shipped = {f"/{name}": name for name in names if Path(name).suffix in _TYPES}
    return {"/": "index.html"} | {path: name for path, name in shipped.items() if name != "index.html"}


def _static(name: str, folder: str = "static") -> Callable[[Request], Any]:
    content = files("cuekit.screen").joinpath(folder, name).read_bytes()
    kind = _TYPES[Path(name).suffix]

    async def answer(_: Request) -> Response:
        return Response(content, media_type=kind)

    return answer


async def _body(request: Request) -> bytes:
    """A small body."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BODY_BYTES:
            raise TooLargeError("too much was sent: reload the page")
    return bytes(body)


def _action(body: bytes) -> tuple[str, tuple[Value, ...]]:
    """The action and its values, both short plain texts.

    Raises:
        CuekitError: it is no action.
    """
    try:
        told = json.loads(body)
        action, values = told["action"], told.get("values", {})
        pairs = tuple(Value(name, value) for name, value in values.items())
        if not isinstance(action, str) or not all(isinstance(one.value, str) for one in pairs):
            raise TypeError("texts only")
        json.dumps(told, ensure_ascii=False).encode()  # fails where half a letter was sent
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise CuekitError("that is no action of this page: reload it") from None
    return action, pairs


async def _refused(_: Request, error: Exception) -> Response:
    status = 413 if isinstance(error, TooLargeError) else 422
    return JSONResponse({"message": str(error)}, status_code=status)


async def _gone(_: Request, __: Exception) -> Response:
    return Response(status_code=400)


async def _mistaken(_: Request, mistake: Exception) -> Response:
    """The lesson goes on, whatever was wrong in one request."""
    told = f"a mistake in cuekit itself ({type(mistake).__name__})"
    return JSONResponse({"message": told}, status_code=500)


_REFUSALS: Any = {CuekitError: _refused, ClientDisconnect: _gone, Exception: _mistaken}


_NO_MORE = ((b"content-length", b"0"), (b"connection", b"close"))


class _Careful(H11Protocol):
    """HTTP whose callers must say soon what they want, and are not endlessly many."""

    def __init__(self, guard: Guard, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._guard = guard

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A caller is there."""
        super().connection_made(transport)
        if len(self.connections) > MOST_CONNECTIONS:
            transport.abort()
            return
        self.loop.call_later(HEAD_S, self._hang_up)

    def _hang_up(self) -> None:
        """Let a caller go that has asked for nothing yet."""
        if self.cycle is None and not self.transport.is_closing():
            self.transport.abort()

    def send_400_response(self, msg: str) -> None:
        """Refuse what is no HTTP as carefully as all else, once nothing else is being said."""
        self._guard.refused["no request of the web"] += 1
        if self.cycle is None or self.cycle.response_complete:
            headers = (*HEADERS, (b"content-security-policy", POLICY.encode("ascii")), *_NO_MORE)
            lines = (name + b": " + value for name, value in headers)
            self.transport.write(b"\r\n".join((b"HTTP/1.1 400 Bad Request", *lines, b"", b"")))
        self.transport.close()
