"""Requests that are wrong in one thing each, in groups, and what they must meet with."""

from __future__ import annotations

import re
import socket
import ssl
import time
from collections.abc import Iterator
from contextlib import suppress

from tests.screen.probe_caller import HOST, PATIENCE_S, Answer, Door, call, read_answer, request

CODE = "Q-471"
"""Of the learner; met nowhere by chance."""
LARGEST_UPLOAD = 200_000_000

Found = Iterator[tuple[str, bool, object]]
"""Name, whether it passed, and what came back."""


def refused_all(cases: dict[str, Answer]) -> Found:
    for name, answer in cases.items():
        yield name, answer.refused and not leaks(answer), answer


def leaks(answer: Answer) -> bool:
    """Whether a refusal holds anything of the page, of a learner, of a file or of the program's inside."""
    told = answer.body.decode("utf-8", "replace")
    return any(part in told for part in (CODE, "<main", "root:", "Traceback", "File \"", "import ", "/site-packages/"))


def host(door: Door) -> Found:
    """Another name that was made to point here, with all else right."""
    yield "localhost is ours too", door.get("/", door.headers(Host=f"localhost:{door.port}")).status == 200, ""
    others = {
        "other name": f"gym.example:{door.port}",
        "other name before ours": f"{door.host}.gym.example",
        "user before ours": f"user@{door.host}",
        "other port": f"{HOST}:{door.port + 1}",
        "no port": HOST,
        "dot after it": f"{HOST}.:{door.port}",
        "address of another card": f"192.0.2.7:{door.port}",
        "zero address": f"0.0.0.0:{door.port}",
        "IPv6": f"[::1]:{door.port}",
        "empty": "",
    }
    yield from refused_all({name: door.get("/", door.headers(Host=host)) for name, host in others.items()})
    twice = [("Host", door.host), *door.headers(Host="gym.example")]
    yield from refused_all(
        {
            "missing": door.get("/", door.headers(without="Host")),
            "twice": door.get("/", twice),
            "other in the address": door.get("http://gym.example/", door.headers()),
            "wrong for an action": door.do("hide", door.headers(Host="gym.example")),
        }
    )


def origin(door: Door) -> Found:
    """A change asked for by another page, with the right cookie."""
    yield "our own page may", door.do("hide").status == 204 and door.do("hide").status == 204, ""
    before = door.view()
    others = {
        "other page": "http://gym.example",
        "null": "null",
        "other port": f"http://{HOST}:{door.port + 1}",
        "https": f"https://{door.host}",
        "ours with more": f"{door.origin}.gym.example",
        "ours with a path": f"{door.origin}/",
        "in capitals": door.origin.upper(),
        "empty": "",
        "a file": "file://",
    }
    yield from refused_all({name: door.do("hide", door.headers(Origin=origin)) for name, origin in others.items()})
    yield from refused_all(
        {
            "missing": door.do("hide", door.headers(without="Origin")),
            "twice": door.do("hide", [*door.headers(), ("Origin", "http://gym.example")]),
            "other page reads events": door.get("/events", door.headers(Origin="http://gym.example")),
            "cross-site by the browser's word": door.get("/", [*door.headers(), ("Sec-Fetch-Site", "cross-site")]),
            "same-site by the browser's word": door.do("hide", [*door.headers(), ("Sec-Fetch-Site", "same-site")]),
            "recording from another page": door.post("/recording", b"RIFF", door.headers(Origin="null")),
        }
    )
    yield "nothing was changed", door.view() == before, ""


def form(door: Door) -> Found:
    """What a form of another page can send, even where its Origin were believed."""
    bare, before = door.headers(without="X-Cuekit"), door.view()
    kinds = ("application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain", "application/json")
    body = b'{"action":"hide","values":{}}'
    yield from refused_all({kind: door.post("/do", body, [*bare, ("Content-Type", kind)]) for kind in kinds})
    yield from refused_all({"recording": door.post("/recording", b"RIFF", [*bare, ("Content-Type", kinds[1])])})
    yield "nothing was changed", door.view() == before, ""


def traversal(door: Door) -> Found:
    """Addresses that would be a path, in every encoding there is."""
    ways = {
        "plain": "/../../../etc/passwd",
        "slash encoded": "/..%2f..%2f..%2fetc%2fpasswd",
        "dots encoded": "/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
        "all encoded": "/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "encoded twice": "/%252e%252e%252fetc%252fpasswd",
        "backslash": "/..\\..\\windows\\win.ini",
        "backslash encoded": "/..%5c..%5cwindows%5cwin.ini",
        "overlong": "/%c0%ae%c0%ae/%c0%ae%c0%ae/etc/passwd",
        "full width": "/%ef%bc%8e%ef%bc%8e%ef%bc%8fetc/passwd",
        "absolute": "//etc/passwd",
        "absolute encoded": "/%2fetc%2fpasswd",
        "with a zero": "/page.js%00/../../etc/passwd",
        "file address": "file:///etc/passwd",
        "semicolons": "/..;/..;/etc/passwd",
        "from a file of ours": "/page.js/../../server.py",
        "module beside": "/../server.py",
        "paper": "/paper/..%2f..%2fdata%2frecords.db",
        "paper with dots": "/paper/../../server.py",
        "records": "/records.db",
        "not ASCII": "/\xff\xfe",
    }
    yield from refused_all({name: door.get(way) for name, way in ways.items()})


def size(door: Door) -> Found:
    """More than a caller may send, said so or not."""
    long_head = [*door.headers(), *((f"X-{n}", "a" * 1000) for n in range(64))]
    own = door.headers()
    chunked = [*own, ("Transfer-Encoding", "chunked")]
    action = b'{"action":"hide","values":{"a":"%s"}}' % (b"a" * 20_000)
    yield from refused_all(
        {
            "head": door.get("/", long_head),
            "one header": door.get("/", [*own, ("X-Long", "a" * 64_000)]),
            "address": door.get("/" + "a" * 5_000),
            "action": door.post("/do", action),
            "action in chunks": call(door.port, request("POST", "/do", chunked, _chunks(action))),
            "action whose length is a lie": call(door.port, request("POST", "/do", [*own, ("Content-Length", "9")], action)),
        }
    )
    announced = request("POST", "/recording", [*own, ("Content-Length", str(LARGEST_UPLOAD + 1))])
    began_s = time.monotonic()
    answer = call(door.port, announced)
    yield "announced recording is refused unread", answer.status == 413 and time.monotonic() - began_s < 2.0, answer
    answer = _endless(door, chunked)
    yield "endless recording in chunks", answer.status in (0, 413), answer
    short = [*own, ("Content-Length", "1000")]
    yield from refused_all(
        {
            "recording that breaks off": call(door.port, request("POST", "/recording", short, b"RIFF"), ends=True),
            "empty recording": door.post("/recording", b""),
            "two lengths": call(door.port, request("POST", "/do", [*own, ("Content-Length", "2"), ("Content-Length", "9")], b"{}")),
            "length below nothing": call(door.port, request("POST", "/do", [*own, ("Content-Length", "-2")], b"{}")),
            "bad chunk": call(door.port, request("POST", "/do", chunked, b"zz\r\n{}\r\n0\r\n\r\n")),
        }
    )
    answer = call(door.port, request("POST", "/do", [*chunked, ("Content-Length", "2")], _chunks(b"{}") + b"GET /smuggled"))
    yield "length and chunks at once", answer.refused, answer


def _chunks(body: bytes) -> bytes:
    return b"%x\r\n%s\r\n0\r\n\r\n" % (len(body), body)


def _endless(door: Door, headers: list[tuple[str, str]]) -> Answer:
    """Chunks until nobody takes them any more, a little more than may come."""
    piece = bytes(1_000_000)
    chunk = b"%x\r\n%s\r\n" % (len(piece), piece)
    with socket.create_connection((HOST, door.port), timeout=60) as caller:
        caller.sendall(request("POST", "/recording", headers))
        try:
            for _ in range(LARGEST_UPLOAD // len(piece) + 20):
                caller.sendall(chunk)
        except OSError:
            caller.settimeout(PATIENCE_S)  # the program let go, and may have said why
        return read_answer(caller)


def malformed(door: Door) -> Found:
    """No JSON, no action, no HTTP."""
    bodies = {
        "no JSON": b"{",
        "nothing": b"",
        "a list": b"[]",
        "a number": b"1e400",
        "not UTF-8": b"\xff\xfe\x00",
        "very deep": b"[" * 5_000,
        "very long number": b'{"action":"hide","values":{"a":' + b"9" * 6_000 + b"}}",
        "no action": b'{"values":{}}',
        "action is a list": b'{"action":[],"values":{}}',
        "values are a text": b'{"action":"hide","values":"x"}',
        "value is a number": b'{"action":"choose","values":{"code":1}}',
        "unknown action": b'{"action":"delete","values":{}}',
        "inside of Python": b'{"action":"_class__","values":{}}',
        "values it does not have": b'{"action":"go","values":{"self":"x"}}',
        "code of nobody": b'{"action":"choose","values":{"code":"../../x"}}',
        "half a character": b'{"action":"choose","values":{"code":"\\ud800"}}',
        "tempo that is none": b'{"action":"set","values":{"tempo_bpm":"nan"}}',
        "field with a name of Python": b'{"action":"set","values":{"__dict__":"x"}}',
    }
    before = door.view()
    for name, body in bodies.items():
        answer = door.post("/do", body)
        yield name, 400 <= answer.status < 500 and answer.body and not leaks(answer), answer
    yield "nothing was changed", unspoken(door.view()) == unspoken(before), ""
    answer = door.post("/recording", b"\x00\x01 no sound at all " * 1_000)
    yield "recording that is no sound", answer.status < 500 and not leaks(answer), answer
    events = door.get("/events", [*door.headers(), ("Last-Event-ID", "\x01" * 50 + "-1"), ("Accept", "no/thing")])
    yield "events asked for strangely", events.status in (200, 400), events
    sent = {
        "garbage": bytes(range(256)) * 20 + b"\r\n\r\n",
        "HTTP/2": b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        "HTTP/0.9": b"GET /\r\n\r\n",
        "no version": b"GET / \r\nHost: x\r\n\r\n",
        "zero in a header": request("GET", "/", [*door.headers(), ("X", "a\x00b")]),
        "folded header": request("GET", "/", [*door.headers(), ("X", "a\r\n b"), ("Host", "gym.example")]),
        "name with a space": request("GET", "/", [*door.headers(), ("X y", "1")]),
        "TLS": _tls_hello(),
    }
    yield from refused_all({name: call(door.port, one) for name, one in sent.items()})


def unspoken(view: dict) -> dict:
    """A view without its note, which a refusal may leave."""
    return view | {"message": ""}


def _tls_hello() -> bytes:
    out = ssl.MemoryBIO()
    hello = ssl.create_default_context().wrap_bio(ssl.MemoryBIO(), out, server_hostname="localhost")
    with suppress(ssl.SSLWantReadError):
        hello.do_handshake()
    return out.read()


def methods(door: Door) -> Found:
    """Ways to ask that the page has not, and a change of protocol."""
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "BREW"):
        answer = door.get("/do" if method != "CONNECT" else door.host, method=method)
        yield method, answer.refused and not leaks(answer) and not answer.header("access-control-allow-origin"), answer
    preflight = [*door.headers(Origin="http://gym.example"), ("Access-Control-Request-Method", "POST")]
    yield from refused_all({"asked beforehand by another page": door.get("/do", preflight, method="OPTIONS")})
    yield from refused_all({"GET of an action": door.get("/do"), "POST of the page": door.post("/", b"{}")})
    upgrade = [("Connection", "Upgrade"), ("Upgrade", "websocket"), ("Sec-WebSocket-Version", "13"), ("Sec-WebSocket-Key", "AAAAAAAAAAAAAAAAAAAAAA==")]
    for name, headers in (("ours", door.headers()), ("other page", door.headers(Origin="http://gym.example"))):
        answer = door.get("/events", [*headers, *upgrade])
        yield f"web socket, {name}", answer.status != 101, answer
    answer = door.get("/", [*door.headers(), ("Connection", "Upgrade"), ("Upgrade", "h2c"), ("HTTP2-Settings", "AAMAAABkAAQAAP__")])
    yield "another protocol", answer.status != 101, answer


def headers(door: Door) -> Found:
    """Every answer keeps a browser careful."""
    answers = {
        "page": door.get("/"),
        "script": door.get("/page.js"),
        "events": door.get("/events"),
        "printed page": door.get("/paper/family"),
        "taken": door.do("hide"),
        "taken again": door.do("hide"),
        "not there": door.get("/nothing"),
        "no printed page": door.get("/paper/nothing"),
        "stranger": door.get("/", [("Host", door.host)]),
        "wrong host": door.get("/", door.headers(Host="gym.example")),
        "refused action": door.do("nothing"),
        "too large": door.post("/do", bytes(20_000)),
        "method": door.get("/", method="PUT"),
        "no HTTP": call(door.port, b"GARBAGE\r\n\r\n"),
    }
    for name, answer in answers.items():
        yield name, answer.status and not _careless(answer), _careless(answer)
    policy = answers["page"].header("content-security-policy")
    yield "page runs no script but its own", "unsafe" not in policy and "script-src 'self'" in policy, policy
    policy = answers["printed page"].header("content-security-policy")
    yield "printed page runs no script", "default-src 'none'" in policy and "script-src" not in policy, policy


def _careless(answer: Answer) -> list[str]:
    """What is missing or too much in the headers."""
    wanted = {
        "x-content-type-options": "nosniff",
        "referrer-policy": "no-referrer",
        "cache-control": "no-store",
    }
    wrong = [name for name, value in wanted.items() if answer.header(name) != value]
    policy = answer.header("content-security-policy")
    wrong += [f"policy: {part}" for part in ("default-src", "frame-ancestors 'none'") if part not in policy]
    never = re.compile("access-control-.*|server|x-powered-by|etag|last-modified")
    return wrong + [name for name, _ in answer.headers if never.fullmatch(name)]
