"""Calls by hand: bytes to a port and what comes back, so that a caller can be as wrong as it likes."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import cuekit

HOST = "127.0.0.1"
SOON_S = 1.0
"""A page that goes on answers within this."""
PATIENCE_S = 15.0
_LOST = (ConnectionError, TimeoutError)

Headers = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Answer:
    """What came back; status 0 where the caller was hung up on without a word."""

    status: int
    headers: tuple[tuple[str, str], ...] = ()
    body: bytes = b""

    def header(self, name: str) -> str:
        """The value of a header; empty where there is none."""
        return dict(self.headers).get(name, "")

    @property
    def refused(self) -> bool:
        """Whether nothing was had: hung up on, or told that it was the caller's mistake."""
        return self.status == 0 or 400 <= self.status < 500


def request(method: str, target: str, headers: Headers, body: bytes = b"") -> bytes:
    """A request as bytes; nothing is added to it."""
    lines = [f"{method} {target} HTTP/1.1", *(f"{name}: {value}" for name, value in headers)]
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body


def call(port: int, sent: bytes, *, host: str = HOST, wait_s: float = PATIENCE_S, ends: bool = False) -> Answer:
    """Send bytes and read one answer; `ends` closes the sending side after them."""
    with socket.create_connection((host, port), timeout=wait_s) as caller:
        with suppress(*_LOST):  # it may be answered and closed before all was sent
            caller.sendall(sent)
        if ends:
            caller.shutdown(socket.SHUT_WR)
        return read_answer(caller)


def read_answer(caller: socket.socket) -> Answer:
    """One answer; of an endless one its first event only."""
    came = b""
    while b"\r\n\r\n" not in came:
        chunk = _received(caller)
        if not chunk:
            return Answer(0, (), came)
        came += chunk
    head, _, body = came.partition(b"\r\n\r\n")
    first, *rest = head.decode("latin-1").split("\r\n")
    headers = tuple((name.lower(), value.strip()) for name, _, value in (line.partition(":") for line in rest))
    answer = Answer(int(first.split()[1]), headers)
    length = answer.header("content-length")
    while _more(answer, body, int(length) if length else None) and (chunk := _received(caller)):
        body += chunk
    chunked = answer.header("transfer-encoding") == "chunked"
    return Answer(answer.status, headers, _joined(body) if chunked else body)


def _joined(chunks: bytes) -> bytes:
    """What came in chunks; one that is not whole is left out."""
    body = b""
    while chunks:
        size, _, rest = chunks.partition(b"\r\n")
        length = int(size, 16)
        if len(rest) < length:
            break
        body, chunks = body + rest[:length], rest[length + 2 :]
    return body


def _more(answer: Answer, body: bytes, length: int | None) -> bool:
    if answer.status in (204, 304):
        return False
    if answer.header("content-type").startswith("text/event-stream"):
        return b"\n\n\r\n" not in body  # the end of an event, at the end of a chunk
    return length is None or len(body) < length


def _received(caller: socket.socket) -> bytes:
    try:
        return caller.recv(65_536)
    except _LOST:
        return b""


@dataclass(eq=False)
class Door:
    """The page of a program that runs, and how a right caller asks it.

    Attributes:
        port: where it is.
        given: the cookie as it was given for the secret, with its attributes.
    """

    port: int
    given: str

    @property
    def cookie(self) -> str:
        """As a browser sends it back."""
        return self.given.partition(";")[0]

    @property
    def host(self) -> str:
        """As a right caller addresses it."""
        return f"{HOST}:{self.port}"

    @property
    def origin(self) -> str:
        """Of its own page."""
        return f"http://{self.host}"

    def headers(self, without: str = "", **other: str) -> list[tuple[str, str]]:
        """Those of the page itself, one left out or some with other values; `_` in a name is `-`."""
        right = {"Host": self.host, "Cookie": self.cookie, "Origin": self.origin, "X-Cuekit": "1"}
        right |= {name.replace("_", "-"): value for name, value in other.items()}
        return [pair for pair in right.items() if pair[0] != without]

    def get(self, target: str = "/", headers: Headers | None = None, method: str = "GET") -> Answer:
        """Ask for something."""
        return call(self.port, request(method, target, self.headers() if headers is None else headers))

    def post(self, target: str, body: bytes, headers: Headers | None = None) -> Answer:
        """Send something, with its length."""
        told = [*(self.headers() if headers is None else headers), ("Content-Length", str(len(body)))]
        return call(self.port, request("POST", target, told, body))

    def do(self, action: str, headers: Headers | None = None, **values: str) -> Answer:
        """Take an action."""
        return self.post("/do", json.dumps({"action": action, "values": values}).encode(), headers)

    def view(self) -> dict:
        """What the page shows."""
        body = self.get("/events").body.decode()
        return json.loads(next(line for line in body.split("\n") if line.startswith("data: "))[6:])

    def answers(self) -> bool:
        """Whether the page still answers, and soon."""
        began_s = time.monotonic()
        answer = self.get("/")
        return answer.status == 200 and b"<main" in answer.body and time.monotonic() - began_s < SOON_S


@dataclass(eq=False)
class Program:
    """`cuekit screen` as a process.

    Attributes:
        process: see there.
        address: the opening address it told.
        started_s: from the command until the address was told, s.
        temporary: folder for what it keeps while it runs.
        told: all that it said, once it has ended.
    """

    process: subprocess.Popen
    address: str
    started_s: float
    temporary: Path
    told: str = field(default="")

    @property
    def port(self) -> int:
        """Where it is."""
        return int(self.address.split(":")[2].split("/")[0])

    @property
    def secret(self) -> str:
        """Good for one opening."""
        return self.address.rpartition("/")[2]

    def stop(self) -> str:
        """End it by Ctrl-C; all that it said."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        try:
            out, _ = self.process.communicate(timeout=20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            out, _ = self.process.communicate()
        self.told += out
        return self.told


@contextmanager
def program(folder: Path, *options: str, **environment: str) -> Iterator[Program]:
    """Run the screen without a browser on records in `folder`; ended on leaving."""
    temporary = folder / "temporary"
    temporary.mkdir(exist_ok=True)
    found = {"PYTHONPATH": str(Path(cuekit.__file__).parents[1]), "TMPDIR": str(temporary)}
    found |= {"XDG_STATE_HOME": str(folder / "state"), "XDG_DATA_HOME": str(folder / "share")}
    arguments = ["--data", str(folder / "data"), "--takes", str(folder / "takes"), *options]
    began_s = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-m", "cuekit", "screen", "--no-browser", *arguments],
        env=os.environ | found | environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    said = []
    while not (said and "http://" in said[-1]):
        line = process.stdout.readline()
        if not line:
            raise AssertionError(f"the screen did not start: {''.join(said)}")
        said.append(line)
    address = next(word for word in said[-1].split() if word.startswith("http://"))
    running = Program(process, address, time.monotonic() - began_s, temporary, "".join(said))
    try:
        yield running
    finally:
        running.stop()


def opened(running: Program) -> Door:
    """Come in by the address the program told."""
    secret = f"/open/{running.secret}"
    answer = call(running.port, request("GET", secret, [("Host", f"{HOST}:{running.port}")]))
    return Door(running.port, answer.header("set-cookie"))
