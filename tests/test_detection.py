"""The ear: feet are found to the millisecond, other sounds are left alone, and doubt is said.

Clean truth comes from `cuekit.simulation.simulate`; how the ear does in hard rooms, beside general onset
detectors, is measured by `tests/hearing`, whose figures DEVELOPERS.md quotes.
"""

import mir_eval
import numpy as np
import pytest

from cuekit.hearing.detection import detect_footfalls, peaks, return_spread
from cuekit.hearing.ear import Flow, features_of, listen, load_ear
from cuekit.hearing.events import Doubt, Heard
from cuekit.hearing.recordings import recording_of
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Plan, make_schedule
from cuekit.simulation.simulate import Learner, nobody, perform
from cuekit.simulation.simulate_feet import model_feet
from cuekit.simulation.simulate_rooms import Leak, Room, record
from cuekit.telling.phrases import load_phrases

RATE_HZ = 16_000


def take_of(name, learner, *, seed, room, beats=12):
    performance = perform(load_pattern(name), learner, beats=beats, seed=seed)
    return record(performance, room, seed=seed, feet=model_feet(seed))


def f_measure(truth_s, heard_s, window_s):
    """mir_eval.onset.f_measure (Raffel et al. 2014, ISMIR): one-to-one matches."""
    return mir_eval.onset.f_measure(np.sort(truth_s), np.sort(heard_s), window=window_s)[0]


@pytest.mark.parametrize("name", ["gallop", "skip", "walk", "run", "hop"])
@pytest.mark.parametrize("rt60_s", [0.4, 1.5])
def test_every_footfall_is_found_within_10_ms_in_a_quiet_room(name, rt60_s):
    learner = Learner(tempo_bpm=load_pattern(name).tempo.default, scatter_s=0.02, short_db=-8.0)
    take = take_of(name, learner, seed=3, room=Room(rt60_s=rt60_s))
    hearing = detect_footfalls(take.recording("made"))
    truth_s = np.array([landing.time_s for landing in take.landings])
    heard_s = np.array([footfall.time_s for footfall in hearing.footfalls])
    assert f_measure(truth_s, heard_s, 0.010) >= 0.95
    assert hearing.heard is Heard.CLEAR


@pytest.mark.parametrize("rt60_s", [0.6, 1.5, 2.0, 2.5])
@pytest.mark.parametrize("snr_db", [30.0, 20.0])
def test_a_reverberant_pair_is_two_footfalls(rt60_s, snr_db):
    """Oracle 14 of the team's science page: 400/200 ms in a room that rings on, median error <= 10 ms."""
    room = Room(rt60_s=rt60_s, volume_m3=2000.0, noise_below_feet_db=snr_db)
    take = take_of("gallop", Learner(tempo_bpm=100.0, long_share=2 / 3), seed=5, room=room)
    hearing = detect_footfalls(take.recording("made"))
    truth_s = np.array([landing.time_s for landing in take.landings])
    heard_s = np.array([footfall.time_s for footfall in hearing.footfalls])
    pairs = mir_eval.util.match_events(truth_s, heard_s, 0.05)
    errors_s = [abs(truth_s[i] - heard_s[j]) for i, j in pairs]
    assert len(pairs) >= 0.95 * truth_s.size
    assert np.median(errors_s) <= 0.010


@pytest.mark.parametrize("level_db", [-10.0, 0.0, 6.0])
@pytest.mark.parametrize("tones", ["wood", "tone", "soft"])
def test_a_cue_playing_and_nobody_moving_gives_no_footfalls(level_db, tones):
    from cuekit.cues.cueing import choose_cues
    from cuekit.cues.render import lay_out, render
    from cuekit.cues.tones import tone_set

    schedule = make_schedule(load_pattern("gallop"), Plan(100.0, 12, CueLevel.C4))
    cue = render(lay_out(schedule, choose_cues(schedule, tone_set(tones))))
    room = Room(rt60_s=1.2, peak_db=-30.0 + level_db)
    take = record(nobody(schedule.end_s + 1.0), room, seed=2, leak=Leak(cue, above_feet_db=level_db))
    hearing = detect_footfalls(take.recording("cue alone"))
    assert hearing.footfalls == ()
    assert hearing.heard is Heard.NOT_ENOUGH
    assert hearing.reason is Doubt.NOTHING


def test_noise_and_silence_are_not_feet():
    rng = np.random.default_rng(1)
    for sound in (
        np.zeros(10 * RATE_HZ),
        rng.normal(0, 0.1, 10 * RATE_HZ),
        0.3 * np.sin(np.arange(160_000) * 0.05),
    ):
        hearing = detect_footfalls(recording_of(sound.astype(np.float32), RATE_HZ, "no feet"))
        assert hearing.heard is Heard.NOT_ENOUGH
        assert len(hearing.footfalls) <= 2


def test_loudness_of_the_recording_changes_nothing():
    take = take_of("skip", Learner(scatter_s=0.02), seed=8, room=Room())
    loud = recording_of(take.recording("loud").samples, RATE_HZ, "loud")
    soft = recording_of(loud.samples * 0.1, RATE_HZ, "soft")
    times = [[f.time_s for f in detect_footfalls(one).footfalls] for one in (loud, soft)]
    assert times[0] == pytest.approx(times[1], abs=0.002)


def test_a_wandering_return_is_doubted():
    """Feet come round again: gallop, one-sided skip, run-run-leap, two and two. Random sounds do not."""
    for cycle in ([0.4, 0.2], [0.4, 0.2, 0.6], [0.35, 0.35, 0.7], [0.4, 0.2, 0.4, 0.6], [0.3]):
        times_s = np.cumsum(np.tile(cycle, 8))
        assert return_spread(times_s) == pytest.approx(0.0, abs=1e-9)
    rng = np.random.default_rng(0)
    random = [return_spread(np.cumsum(rng.exponential(0.4, 16))) for _ in range(200)]
    assert np.mean(np.array(random) > 0.18) >= 0.9
    assert return_spread(np.array([0.0, 0.4])) == float("inf")


def test_peaks_are_the_largest_within_reach():
    curve = np.array([0, 0.6, 0.9, 0.6, 0, 0, 0, 0.7, 0, 0, 0.2])
    assert peaks(curve, 0.5, 3).tolist() == [2, 7]
    assert peaks(curve, 0.5, 6).tolist() == [2]
    assert peaks(np.zeros(20), 0.5, 3).size == 0


def test_the_network_fed_in_pieces_says_the_same():
    """A stream of any block lengths and a file give the same outputs."""
    sound = np.random.default_rng(4).normal(0, 0.02, 3 * RATE_HZ).astype(np.float32)
    whole = listen(sound, load_ear())
    flow = Flow(load_ear())
    padded = np.pad(sound, (1024 + 4 * 80, 1024 + 2000))
    steps = 4 + sound.size // 80 + 1 + 6
    outputs, start = [], 0
    for size in (1, 7, 50, 3, steps):
        stop = min(start + size, steps)
        outputs.append(flow.feed(features_of(padded, start, stop)))
        start = stop
    logit = np.concatenate(outputs)[10 : 10 + whole.logit.size, 0]
    assert logit == pytest.approx(whole.logit, abs=2e-3)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_doubt_has_its_words_and_its_mend(language):
    sentences = load_phrases(language).sentences
    assert {key for key in sentences if key.startswith("reason.")} == {
        f"reason.{doubt}" for doubt in Doubt if doubt
    }
