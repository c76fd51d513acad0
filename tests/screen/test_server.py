"""What the server does where its lesson or a caller goes wrong."""

import asyncio
import json

import pytest

from cuekit.screen.feed import Feed
from tests.screen.made_views import learners
from tests.screen.page_stage import serve_made
from tests.screen.probe_caller import Door, call, request


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

    told = asyncio.run(read())
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
