"""Attacks on the gym screen of a program that runs, each one small; after each group the page must go on.

What each must meet with is the table "Local screen" of the team's page on reliability. `run_probes` gives a
row for each attack, so that a test and the reliability report tell the same.
"""

from __future__ import annotations

import json
import re
import socket
import tempfile
import time
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import Amendment
from cuekit.records.bout_record import BoutRecord, Conditions, Numbers
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.records.learner import Learner
from cuekit.records.store_waiting import open_store
from tests.screen.probe_caller import (
    HOST,
    PATIENCE_S,
    Answer,
    Door,
    Program,
    opened,
    program,
    read_answer,
    request,
)
from tests.screen.probe_requests import (
    CODE,
    Found,
    form,
    headers,
    host,
    leaks,
    malformed,
    methods,
    origin,
    refused_all,
    size,
    traversal,
    unspoken,
)

OTHER = "Z-99"
"""A learner who is not on the screen."""
EVIL = "<script>alert(1)</script>\"'&<img src=x onerror=alert(2)>"
HALF_OPEN, STREAMS = 200, 100
HUNG_UP_S = 12.0
"""Half-open callers are gone by then."""


@dataclass(frozen=True)
class Probe:
    """An attack and whether it met with what it must.

    Attributes:
        name: group and attack.
        passed: see there.
        told: what came back, where it did not pass.
    """

    name: str
    passed: bool
    told: str = ""


def run_probes() -> list[Probe]:
    """All of them, against a program of its own with invented records."""
    found: list[Probe] = []
    with tempfile.TemporaryDirectory(prefix="cuekit-probes-") as name:
        folder = Path(name)
        _records(folder / "data")
        with program(folder) as running:
            door = opened(running)
            found += _rows("token", token(running, door))
            door.do("choose", code=CODE)
            for group in (host, origin, form, traversal, size, malformed, methods, headers, kept, escaped, many):
                found += _rows(group.__name__, group(door))
                found.append(Probe(f"{group.__name__}: the page goes on", door.answers()))
            found += _rows("reach", _reach(door))
            left = [path.name for path in running.temporary.rglob("dropped-*")]
            found.append(Probe("size: nothing of a refused recording is left", not left, str(left)))
            found += _rows("told", _told(running, door))
    return found


def _rows(group: str, found: Found) -> list[Probe]:
    return [Probe(f"{group}: {name}", bool(passed), "" if passed else str(told)[:300]) for name, passed, told in found]


def _records(folder: Path) -> None:
    """A learner whose every free text is an attack, with a bout and a goal."""
    at = datetime(2026, 3, 2, 12, tzinfo=UTC)
    level = (CueLevel.C4,)
    with open_store(folder) as store:
        store.add(Learner(OTHER, skill="gallop"))
        store.add(BoutRecord(OTHER, at, Conditions("gallop"), Numbers(footfalls=20)))
        store.add(Learner(CODE, skill="gallop", words=EVIL, restrictions=EVIL))
        store.add(Goal(CODE, "gallop", Measure.LONGEST_RUN, 6, Criterion(), date(2026, 3, 1), level, eye_needed=False, note=EVIL))
        conditions = Conditions("gallop", cue_level=CueLevel.C4, step=EVIL)
        bouts = [BoutRecord(CODE, at, conditions, Numbers(footfalls=20, longest_run=8), note=EVIL) for _ in range(2)]
        kept = [store.bout(store.add(bout).number) for bout in bouts]
        store.add(Amendment(kept[1].id, at, "", "", "void", EVIL), code=CODE)


def token(running: Program, door: Door) -> Found:
    """Without the secret, or with one that was used."""
    bare = [("Host", door.host), ("Origin", door.origin), ("X-Cuekit", "1")]
    yield "the right secret opens the page, once", door.answers(), door
    told = door.given
    yield "cookie is HttpOnly, strict and long", all(one in told for one in ("; HttpOnly", "; SameSite=Strict")), told
    yield "cookie is another secret", len(door.cookie) > 40 and running.secret not in door.cookie, told
    yield from refused_all(
        {
            "used": door.get(f"/open/{running.secret}", bare[:1]),
            "wrong": door.get("/open/" + "A" * len(running.secret), bare[:1]),
            "empty": door.get("/open/", bare[:1]),
            "no cookie: page": door.get("/", bare[:1]),
            "no cookie: events": door.get("/events", bare[:1]),
            "no cookie: paper": door.get("/paper/family", bare[:1]),
            "no cookie: action": door.do("hide", bare),
            "no cookie: recording": door.post("/recording", b"RIFF", bare),
            "wrong cookie": door.get("/", [*bare, ("Cookie", "cuekit_screen=" + "A" * 43)]),
            "empty cookie": door.get("/", [*bare, ("Cookie", "cuekit_screen=")]),
            "half the cookie": door.get("/", [*bare, ("Cookie", door.cookie[:-10])]),
            "cookie of another name": door.get("/", [*bare, ("Cookie", door.cookie.replace("cuekit", "other"))]),
            "cookie that is none": door.get("/", [*bare, ("Cookie", '"\\;=;;\x00\xff')]),
            "secret as a query": door.get(f"/?open={running.secret}", bare[:1]),
        }
    )


NUMBERS = ("0", "-1", "1e3", "\uff11", "9" * 30, "1; DROP TABLE entries", "../1", "", "None", "1\x00")
"""Of bouts, sounds and footfalls, as nobody means them."""


def kept(door: Door) -> Found:
    """Actions on what is kept: bouts of others, numbers that are none, goals and reasons that nobody asked for."""
    door.do("history")
    rows = door.view()["rows"]
    own = {row["cells"][0] for row in rows}
    others = [str(n) for n in range(1, 10) if str(n) not in own]
    before = unspoken(door.view())
    cases = {f"look at bout {number[:12]!r}": door.do("look", number=number) for number in NUMBERS}
    cases |= {f"void bout {number[:12]!r}": door.do("void", number=number) for number in NUMBERS}
    cases |= {f"{name} row {n} of another learner": door.do(name, number=n) for name in ("look", "void") for n in others}
    cases |= {
        "mend nothing": door.do("mend"),
        "strike nothing": door.do("strike"),
        "keep nothing": door.do("mended"),
        "a sound of nothing": door.do("sound", number="1"),
        "a reason for nothing": door.do("set", reason=EVIL),
        "a usual reason for nothing": door.do("because", key="ball"),
        "numbers as a text": door.do("set", numbers='{"footfalls":1}'),
        "a goal of nobody": door.do("goal_keep"),
        "a step that is a path": door.do("goal_step", key="../../passwd"),
        "a goal's learner": door.do("set", learner=OTHER),
    }
    for name, answer in cases.items():
        yield name, 400 <= answer.status < 500 and not leaks(answer), answer
    yield "nothing was changed", unspoken(door.view()) == before, ""
    first = next(row for row in rows if any(act["name"] == "void" for act in row["actions"]))["cells"][0]
    door.do("look", number=first)
    for number in (*NUMBERS[1:], "1000000"):
        answer = door.do("set", footfalls=number)
        yield f"{number[:12]!r} footfalls", number == "" or (answer.status == 422 and not leaks(answer)), answer
    door.do("set", footfalls="21")
    door.do("mended")
    yield "a reason too long", door.do("set", reason="x" * 501).status == 422, ""
    yield "a reason that would be a script is kept as it is", door.do("set", reason=EVIL).status == 204, ""
    changed = next(row for row in door.view()["rows"] if row["cells"][0] == first)["cells"][-1]
    yield "and stands beside the bout", EVIL in changed, changed


def escaped(door: Door) -> Found:
    """Text that would be a script, in every view and printed page; no code in any address."""
    for name in ("plan", "settings", "steps", "skills", "history", "goal", "goal_step", "more", "help", "learners"):
        answer = door.do("back" if name == "plan" else name, **({"key": "gallop-alone"} if name == "goal_step" else {}))
        body = door.get("/events").body.decode()
        view = json.loads(body.partition("data: ")[2])
        yield f"{name} is told in one line", answer.status == 204 and body.count("\n") == 3, body[:100]
        drawn = view["drawing"] + view["plot"]
        yield f"drawings of {name} hold no script", "<script" not in drawn and "<img" not in drawn, drawn[:300]
        opens = [one["opens"] for one in [*view["actions"], *(act for row in view["rows"] for act in row["actions"])]]
        yield f"addresses of {name} hold no code", not any(CODE in one or "?" in one for one in opens), opens
        if name == "help":
            door.do("back")
    door.do("choose", code=CODE)
    seen = json.dumps(door.view())
    yield "the attack is there to be seen", "<script>alert(1)" in seen, seen[:300]
    for name in ("family", "team"):
        page = door.get(f"/paper/{name}")
        told = page.body.decode()
        yield f"printed {name} page holds no script", page.status == 200 and not re.search("<script|<img", told), told[:300]
    yield "the attack is printed", "&lt;script&gt;alert(1)" in told, told[:300]
    refusal = door.do("choose", code=EVIL)
    yield "refusal is no page", refusal.header("content-type").startswith("application/json"), refusal
    yield "code in an address", door.get(f"/paper/{CODE}").refused and door.get(f"/?code={CODE}").refused, ""


def many(door: Door) -> Found:
    """A crowd: strangers, pages, and callers who say half a sentence and stay."""
    stranger = request("GET", "/events", [("Host", door.host)])
    answers = _at_once(door, [stranger] * STREAMS)
    yield f"{STREAMS} strangers at once", all(one.status == 403 for one in answers), answers[:3]
    with ExitStack() as stack:
        callers = [stack.enter_context(socket.create_connection((HOST, door.port), timeout=PATIENCE_S)) for _ in range(STREAMS)]
        for caller in callers:
            caller.sendall(request("GET", "/events", door.headers()))
        last = read_answer(callers[-1])
        yield f"page beside {STREAMS} streams of events", door.answers() and last.status == 200, last
    yield from _half_open(door)
    body = request("POST", "/do", [*door.headers(), ("Content-Length", "100")], b"{")
    with ExitStack() as stack:
        for _ in range(50):
            stack.enter_context(socket.create_connection((HOST, door.port))).sendall(body)
        yield "page beside 50 actions that never end", door.answers(), ""


def _at_once(door: Door, sent: list[bytes]) -> list[Answer]:
    with ExitStack() as stack:
        callers = [stack.enter_context(socket.create_connection((HOST, door.port), timeout=PATIENCE_S)) for _ in sent]
        for caller, one in zip(callers, sent, strict=True):
            caller.sendall(one)
        return [read_answer(caller) for caller in callers]


def _half_open(door: Door) -> Found:
    with ExitStack() as stack:
        callers = [stack.enter_context(socket.create_connection((HOST, door.port))) for _ in range(HALF_OPEN)]
        for caller in callers[::2]:  # the others say not a word
            caller.sendall(b"GET / HTTP/1.1\r\nHost: ")
        yield f"page beside {HALF_OPEN} half-open callers", door.answers(), ""
        over_s = time.monotonic() + HUNG_UP_S
        there = sum(not _gone(caller, over_s) for caller in callers)
        yield "half-open callers are let go", there == 0, f"{there} are there"


def _gone(caller: socket.socket, over_s: float) -> bool:
    """Whether the program hangs up on a caller before a time."""
    caller.settimeout(max(0.01, over_s - time.monotonic()))
    try:
        return caller.recv(1) == b""
    except ConnectionError:
        return True
    except TimeoutError:
        return False


def _reach(door: Door) -> Found:
    """From anywhere but this computer itself."""
    addresses = {"another address of this computer": ["127.0.0.2", "::1"], "its address in the network": _own_addresses()}
    for name, tried in addresses.items():
        open_at = [address for address in tried if _is_open(address, door.port)]
        yield f"not at {name}", not open_at, open_at
    yield "but at the one it says", _is_open(HOST, door.port), ""


def _is_open(address: str, port: int) -> bool:
    try:
        socket.create_connection((address, port), timeout=2.0).close()
    except OSError:
        return False
    return True


def _own_addresses() -> list[str]:
    """Of this computer in its network, none without one; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        try:
            out.connect(("192.0.2.1", 9))
        except OSError:
            return []
        return [out.getsockname()[0]]


def _told(running: Program, door: Door) -> Found:
    """What the program says of it all: reasons and how often, and nothing of what was sent."""
    said = running.stop()
    lines = said.splitlines()[2:]
    yield "refusals are counted by reason", any(line.startswith("refused ") for line in lines), said
    odd = [line for line in lines if line and not re.fullmatch(r"refused \d+ times: [a-z ]+|cuekit: stopped", line)]
    yield "nothing else is said", not odd, odd
    secrets = (CODE, OTHER, EVIL, door.cookie, "passwd", "gym.example")
    yield "nothing of what was sent is told", not any(one in "\n".join(lines) for one in secrets), said
    yield "it ends as one that was stopped", running.process.returncode == 130, running.process.returncode
