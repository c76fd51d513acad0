"""The picture of the rhythm in a real browser: the ball on the floor in time, footfalls in their place, no flash."""

import time
from dataclasses import replace

import numpy as np
import pytest

from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.record_json import to_plain
from cuekit.screen.view import HeardMark
from tests.screen import made_views as made
from tests.screen.flashes import LARGEST_PART, SCREEN_PX, luminance, most_flashes, parts_at_once

FRAME_S = 0.017
JITTER_S = (0.0, 0.004, -0.004, 0.002, -0.003)
"""By which the made program's clock is wrong from tick to tick; a guess, no source."""

WATCH = """() => {
    window.seen = [];
    const numbers = (node) => node.getAttribute("transform").match(/[-0-9.]+/g).map(Number);
    const shown = (names) => [...document.querySelectorAll(names)].filter(one => one.getAttribute("display") !== "none");
    const note = () => {
        const [ball] = shown(".picture .ball");
        const [x, y, wide] = ball ? numbers(ball) : [NaN, NaN, NaN];
        const lines = shown(".picture .line").map(line => numbers(line)[1]).filter(ground => ground >= y - 0.1);
        const floor = document.querySelector(".picture .floor");
        const ground = floor ? Number(floor.getAttribute("d").match(/ ([0-9.]+)H/)[1]) : Math.min(...lines);
        window.seen.push([Date.now() / 1000, x, ground - y, document.querySelectorAll(".picture .hit").length, wide]);
        requestAnimationFrame(note);
    };
    requestAnimationFrame(note);
}"""


def watched(stage, seconds):
    """Frame by frame: time, place of the ball and its height above the ground under it, px,
    rings filled, and how wide the ball is against the large one."""
    stage.page.evaluate(WATCH)
    stage.page.wait_for_timeout(1000 * seconds)
    return np.array(stage.page.evaluate("window.seen"))


def touches(seen, due_s):
    """How far from each time due the ball touched the floor, s, by the curve of its flight before and after."""
    found = []
    for before_s, at_s, after_s in zip(due_s, due_s[1:], due_s[2:], strict=False):
        for begin_s, end_s in ((before_s, at_s), (at_s, after_s)):
            flight = seen[(seen[:, 0] > begin_s + 0.03) & (seen[:, 0] < end_s - 0.03)]
            if len(flight) >= 4:
                roots = np.roots(np.polyfit(flight[:, 0] - at_s, flight[:, 2], 2))
                found.append(float(np.real(roots[np.argmin(np.abs(roots))])))
    return np.array(found)


@pytest.mark.parametrize("marker", ["path", "big"])
@pytest.mark.parametrize(("pattern", "tempo_bpm"), [("gallop", 90.0), ("hop", 110.0)])
def test_the_ball_is_on_the_floor_within_a_frame_of_each_footfall_due(stage, marker, pattern, tempo_bpm):
    picture = made.picture(pattern, marker, tempo_bpm, 8, live=True)
    running = stage.run(made.bout(shown=picture), -1.0, JITTER_S)
    seen = watched(stage, 4.5)
    due_s = [running.began + mark.t for mark in picture.marks if mark.t < 3.2]
    error_s = touches(seen[seen[:, 0] > running.began - 0.3], due_s)
    assert error_s.size >= 6
    assert np.abs(error_s).max() <= FRAME_S


@pytest.mark.parametrize("marker", ["path", "big"])
def test_a_long_way_takes_a_higher_hop_than_a_short_one(stage, marker):
    picture = made.picture("gallop", marker, 90.0, 8, live=True)
    running = stage.run(made.bout(shown=picture), -0.5)
    seen = watched(stage, 3.0)
    tops = []
    for here, there in zip(picture.marks, picture.marks[1:], strict=False):
        inside = (seen[:, 0] > running.began + here.t) & (seen[:, 0] < running.began + there.t)
        if inside.sum() >= 5:
            tops.append((here.big, seen[inside, 2].max()))
    long, short = ([top for big, top in tops if big is wanted] for wanted in (True, False))
    assert len(long) >= 2
    assert len(short) >= 2
    assert min(long) > 2.5 * max(short)


def test_the_big_ball_is_larger_for_the_long_footfall(stage):
    picture = made.picture("gallop", "big", 60.0, 8, live=True)
    running = stage.run(made.bout(shown=picture), -0.5)
    seen = watched(stage, 3.0)
    wide = {True: [], False: []}
    for mark in picture.marks[:5]:
        wide[mark.big] += seen[np.abs(seen[:, 0] - running.began - mark.t) < 0.02, 4].tolist()
    assert min(wide[True]) > 1.4 * max(wide[False])


def test_the_ring_due_is_filled_for_a_moment(stage):
    picture = made.picture("gallop", "path", 60.0, 8, live=True)
    running = stage.run(made.bout(shown=picture), -0.5)
    seen = watched(stage, 3.5)
    on, off = [], []  # a busy computer may draw no frame at one of the marks
    for mark in picture.marks[:5]:
        since_s = seen[:, 0] - running.began - mark.t
        on.append(seen[(since_s > 0.02) & (since_s < 0.06), 3])
        off.append(seen[(since_s > 0.12) & (since_s < 0.2), 3])
    assert {frames.max() for frames in on if frames.size} == {1}
    assert {frames.max() for frames in off if frames.size} == {0}


def test_the_ball_rests_where_the_cue_is_silent(stage):
    picture = made.picture("gallop", "path", 100.0, 16, live=True, full=2)
    silent = [mark.t for mark in picture.marks if mark.silent]
    assert silent
    running = stage.run(made.bout(shown=picture), silent[0] - 0.2)
    seen = watched(stage, 2.0)
    late = seen[seen[:, 0] > running.began + silent[0] + 0.2]
    assert np.ptp(late[:, 1]) == 0
    assert np.ptp(late[:, 2]) == 0
    assert late[:, 3].max() == 0


def test_count_in_alone_moves_the_ball_while_it_counts(stage):
    picture = made.picture("gallop", "path", 100.0, 8, live=True, level=CueLevel.C1)
    running = stage.run(made.bout(shown=picture), picture.count[0].t - 0.2)
    stage.page.wait_for_function("word => document.querySelector('.count').textContent === word", arg=picture.count[1].word)
    seen = watched(stage, 3.5)
    counting = seen[seen[:, 0] < running.began + picture.count[-1].t]
    assert np.ptp(counting[:, 2]) > 20
    assert np.ptp(seen[seen[:, 0] > running.began + 0.3, 2]) == 0
    assert stage.page.text_content(".count") == ""


CENTRES = """name => [...document.querySelectorAll(".picture ." + name)].filter(e => e.checkVisibility())
    .map(e => e.getBoundingClientRect()).map(r => [r.x + r.width / 2, r.y + r.height / 2, r.width])"""


@pytest.mark.parametrize("size", [(1366, 768), (390, 844)])
def test_a_footfall_in_time_lands_in_its_ring_and_a_late_one_beside_it(stage, size):
    stage.page.set_viewport_size({"width": size[0], "height": size[1]})
    picture = made.picture("gallop", "path", 100.0, 8, live=True)
    running = stage.run(made.bout(shown=picture), 0.0)
    due = picture.marks[2], picture.marks[3]
    rings = np.array(stage.page.evaluate(CENTRES, "due"))
    per_s = (rings[3, 0] - rings[2, 0]) / (due[1].t - due[0].t)
    running.footfall(due[0].t, 1.0)
    running.footfall(due[1].t + 0.08, 0.3)
    stage.page.wait_for_function("() => document.querySelectorAll('.picture .heard').length === 2")
    dots = np.array(stage.page.evaluate(CENTRES, "heard"))
    assert dots[0, :2] == pytest.approx(rings[2, :2], abs=1.0)
    assert dots[1, 0] == pytest.approx(rings[3, 0] + 0.08 * per_s, abs=1.0)
    assert dots[1, 1] == pytest.approx(rings[3, 1], abs=1.0)
    assert dots[1, 2] < dots[0, 2] < rings[2, 2]


def test_a_bout_begun_again_starts_without_footfalls(stage):
    running = stage.run(made.bout(shown=made.picture(live=True)), 3.0)
    running.footfall(2.9, 0.8)
    stage.page.wait_for_selector(".picture .heard", state="attached")
    stage.page.evaluate("() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))")
    running.stop()
    stage.page.wait_for_timeout(100)
    again = stage.run(made.bout(shown=made.picture(live=True)), -1.0)
    stage.page.wait_for_selector(".picture .heard", state="detached")
    again.footfall(0.05, 0.8)
    stage.page.wait_for_selector(".picture .heard", state="attached")


def test_a_page_that_comes_late_shows_the_footfalls_so_far(stage):
    view = made.bout(shown=made.picture(live=True))
    stage.run(replace(view, heard=(HeardMark(0.0, 1.0), HeardMark(0.42, 0.5), HeardMark(0.6, 0.9))), 1.0)
    assert len(stage.page.evaluate(CENTRES, "heard")) == 3


@pytest.mark.parametrize("marker", ["path", "big", "none"])
def test_footfalls_appear_with_every_marker(stage, marker):
    running = stage.run(made.bout(shown=made.picture(marker=marker, live=True)), 0.5)
    running.footfall(0.41, 0.8)
    stage.page.wait_for_selector(".picture .heard", state="attached")
    assert stage.page.locator(".picture .ball").count() == {"path": 2, "big": 1, "none": 0}[marker]


def test_without_a_cue_footfalls_move_on_along_a_strip(stage):
    running = stage.run(made.free_bout(), 3.0)
    for t in (2.2, 2.8, 2.95):
        running.footfall(t, 0.7)
    stage.page.wait_for_function("() => document.querySelectorAll('.picture .heard').length === 3")
    before = np.array(stage.page.evaluate(CENTRES, "heard"))
    assert (before[2, 0] - before[1, 0]) / (before[1, 0] - before[0, 0]) == pytest.approx(0.25, abs=0.02)
    stage.page.wait_for_timeout(300)
    assert (np.array(stage.page.evaluate(CENTRES, "heard"))[:, 0] < before[:, 0] - 5).all()


def test_lines_done_make_room_for_lines_to_come(stage):
    stage.page.set_viewport_size({"width": 390, "height": 844})
    picture = made.picture("gallop", "path", 100.0, 48, live=True)
    shown = stage.run(made.bout(shown=picture), 0.1)
    seen = set()
    for mark in picture.marks:
        stage.lesson.feed.tell("clock", {"t": mark.t, "wall": time.time()})
        if mark.place == 0 and mark.beat % 4 == 2:
            shown.stop()
            stage.page.wait_for_timeout(60)
            ball = stage.page.evaluate(CENTRES, "ball")
            assert len(ball) >= 1
            assert 0 < ball[0][1] < 700
            seen.update(tuple(round(v) for v in one[:2]) for one in stage.page.evaluate(CENTRES, "due"))
    assert len(seen) >= 8


@pytest.mark.parametrize("marker", ["path", "big"])
def test_reduced_motion_has_no_moving_ball_but_a_place_that_fills(opened, marker):
    picture = made.picture("gallop", marker, 60.0, 8, live=True)
    stage = opened(reduced_motion="reduce")
    running = stage.run(made.bout(shown=picture), -0.5)
    seen = watched(stage, 3.0)
    if marker == "path":
        assert stage.page.locator(".picture .ball").count() == 0
    else:
        assert np.nanmax(seen[:, 2]) == np.nanmin(seen[:, 2])
    for mark in picture.marks[:4]:
        since_s = seen[:, 0] - running.began - mark.t
        assert seen[(since_s > 0.02) & (since_s < 0.1), 3].max() == 1
    assert seen[:, 3].min() == 0


BALL = """async pictures => {
    const { ballAt, contactsOf } = await import("/ball.js");
    return pictures.map(picture => {
        const contacts = contactsOf(picture);
        const heights = contacts.map(({ t }) => ballAt(contacts, picture.beat_s, t).height);
        const between = [];
        for (let t = contacts[0].t - 2; t < picture.end + 1; t += 0.01) between.push(ballAt(contacts, picture.beat_s, t).height);
        return [Math.max(...heights), Math.min(...between), Math.max(...between)];
    });
}"""


def test_the_ball_keeps_to_every_pattern_of_the_shelf_at_its_ends_of_tempo(stage):
    pictures = []
    for name in list_patterns():
        tempo = load_pattern(name).tempo
        pictures += [to_plain(made.picture(name, "path", bpm, 16, live=True)) for bpm in (tempo.low, tempo.high)]
    for on_floor, lowest, highest in stage.page.evaluate(BALL, pictures):
        assert on_floor == pytest.approx(0.0, abs=1e-9)
        assert lowest >= -1e-9
        assert 0.05 < highest <= 1.0


CLOCK = """async ticks => {
    const { difference } = await import("/clock.js");
    const offsets = [];
    let offset = null;
    for (const [t, wall, now] of ticks) offsets.push(offset = difference(offset, { t, wall }, now));
    return offsets;
}"""


def test_the_clock_smooths_what_wavers_takes_a_jump_at_once_and_trusts_no_other_computers_clock(stage):
    begun = 1000.0
    wavering = [[n * 0.05 + 0.005 * (-1) ** n, begun + n * 0.05, begun + n * 0.05 + 0.02] for n in range(60)]
    offsets = np.array(stage.page.evaluate(CLOCK, wavering))
    assert np.abs(offsets[20:] + begun).max() < 0.0012
    jumped = [*wavering[:20], [9.0, begun + 1.0, begun + 1.0], [9.05, begun + 1.05, begun + 1.05]]
    assert stage.page.evaluate(CLOCK, jumped)[-1] == pytest.approx(8.0 - begun, abs=0.001)
    other = [[n * 0.05, begun + 3600 + n * 0.05, begun + n * 0.05] for n in range(20)]
    assert stage.page.evaluate(CLOCK, other)[-1] == pytest.approx(-begun, abs=0.001)


RATE_HZ = 40.0


def frames_at_200(opened, marker, still, from_s, seconds=1.6):
    """Frames of a bout at 200 beats a minute, taken with a clock that is moved by hand."""
    width, height = SCREEN_PX
    properties = {"viewport": {"width": width, "height": height}, "reduced_motion": "reduce" if still else "no-preference"}
    stage = opened(before=lambda page: page.clock.install(), **properties)
    picture = made.picture("run", marker, 200.0, 24, live=True)
    stage.show(made.bout(shown=picture))
    stage.page.wait_for_selector(".picture svg")
    stage.page.clock.pause_at(time.time() + 3600)
    stage.lesson.feed.tell("clock", {"t": from_s, "wall": 0.0})
    stage.page.wait_for_timeout(0)
    time.sleep(0.2)
    frames = []
    for _ in range(int(seconds * RATE_HZ)):
        stage.page.clock.run_for(1000 / RATE_HZ)
        frames.append(luminance(stage.page.screenshot()))
    return frames


@pytest.mark.parametrize(("marker", "still"), [("path", False), ("big", False), ("path", True), ("big", True)])
def test_no_flash_at_200_a_minute(opened, marker, still):
    frames = frames_at_200(opened, marker, still, 0.9)
    parts = [parts_at_once(frames, RATE_HZ, way).max() for way in (-1, 1)]
    assert max(parts) > 0.001  # something moved
    assert most_flashes(frames, RATE_HZ) <= 3
    assert max(parts) < LARGEST_PART


def test_no_flash_while_counting_in(opened):
    frames = frames_at_200(opened, "big", False, -1.3, 1.4)
    assert max(parts_at_once(frames, RATE_HZ, way).max() for way in (-1, 1)) < LARGEST_PART


@pytest.mark.parametrize(("part", "flashes"), [(0.26, 4), (0.2, 0)])
def test_a_blinking_page_would_be_counted(part, flashes):
    side = int((part * 341 * 256) ** 0.5)
    dark = np.ones((768, 1024), np.float32)
    dark[100 : 100 + side, 100 : 100 + side] = 0.0
    light = np.ones_like(dark)
    blinking = [dark if (n * 4 * 2 // int(RATE_HZ)) % 2 else light for n in range(int(1.5 * RATE_HZ))]
    assert most_flashes(blinking, RATE_HZ) == flashes
