"""What the server does where its lesson or a caller goes wrong."""

import asyncio
import json
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest

from cuekit.records.learner import Learner
from cuekit.records.store_waiting import open_store
from cuekit.screen.desk import Desk
from cuekit.screen.feed import Feed
from cuekit.screen.lesson import ScreenLesson
from cuekit.screen.server import serve_remote
from cuekit.screen.view import Value
from tests.fake_port import FakePort
from tests.screen.made_views import learners
from tests.screen.page_stage import serve_made
from tests.screen.probe_caller import Door, call, request

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.fixture
def served(tmp_path):
    lesson, page = serve_made(tmp_path, learners())
    headers = [("Host", f"127.0.0.1:{page.port}")]
    answer = call(page.port, request("GET", "/open/" + page.address.rpartition("/")[2], headers))
    yield lesson, page, Door(page.port, answer.header("set-cookie"))
    page.stop()
    page.wait()


def test_a_change_while_the_first_view_is_made_reaches_the_page_too():
    feed = Feed()

    async def first():
        feed.tell("view", {"n": 2})  # somebody presses a key meanwhile
        return {"n": 1}

    async def read():
        lines = feed.read("view", first)
        told = [await anext(lines), await anext(lines)]
        await lines.aclose()
        return told

    with ThreadPoolExecutor(1) as elsewhere:  # a browser of another test may hold the loop of this thread
        told = elsewhere.submit(asyncio.run, read()).result(timeout=30)
    assert [json.loads(one.partition("data: ")[2])["n"] for one in told] == [1, 2]
    assert feed.readers == 0


def test_a_mistake_in_the_lesson_is_one_sentence_and_the_page_goes_on(served, capfd, monkeypatch):
    lesson, _, door = served
    monkeypatch.setattr(lesson, "do", lambda action, values: {}["of a learner"])
    answer = door.do("go")
    assert (answer.status, json.loads(answer.body)) == (500, {"message": "a mistake in cuekit itself (KeyError)"})
    assert door.answers()
    assert capfd.readouterr() == ("", "")


def test_what_is_no_request_is_counted_and_says_nothing_in_the_terminal(served, capfd):
    _, page, door = served
    for sent in (b"GARBAGE\r\n\r\n", b"\x16\x03\x01\x02\x00\x01\x00", request("GET", "/", [("Host", "a"), ("Host", "b")])):
        assert call(page.port, sent).status == 400
    assert page.guard.refused == {"no request of the web": 3}
    assert door.answers()
    assert capfd.readouterr() == ("", "")


@pytest.fixture
def remote(tmp_path):
    lesson = ScreenLesson(FakePort(), tmp_path / "takes", Desk(tmp_path / "data", lambda: NOON))
    with open_store(tmp_path / "data") as store:
        store.add(Learner("Q-471", skill="gallop"))
    lesson.do("choose", (Value("code", "Q-471"),))
    page = serve_remote(lesson, "127.0.0.1")
    yield page
    lesson.close()
    page.stop()
    page.wait()


def opening(page, code):
    return call(page.port, request("GET", f"/open/{code}", [("Host", f"127.0.0.1:{page.port}")]))


def test_a_phone_has_three_keys_and_nothing_of_a_learner(remote):
    door = Door(remote.port, opening(remote, remote.address.rpartition("/")[2]).header("set-cookie"))
    answers = [door.get("/words"), door.get("/"), door.get("/remote.js"), door.do("back")]
    assert [one.status for one in answers] == [200] * 4
    assert set(json.loads(answers[0].body)) <= {"main", "back", "stop"}
    assert not any(b"Q-471" in one.body for one in answers)
    elsewhere = [door.get("/events"), door.get("/paper/family"), door.post("/recording", b"RIFF"), door.do("choose")]
    assert all(one.refused for one in elsewhere)


def test_after_ten_wrong_codes_a_phone_is_not_let_in_by_the_right_one(remote):
    right = remote.address.rpartition("/")[2]
    assert {opening(remote, f"aaaa-{n:04d}").status for n in range(10)} == {403}
    assert opening(remote, right).status == 403
    assert opening(remote, remote.again().rpartition("/")[2]).status == 303
