"""Phone recordings, made here by the same decoder's encoders: the same footfalls as the plain file."""

import sys
from contextlib import suppress

import numpy as np
import pytest

from cuekit.cues.words import load_voice
from cuekit.errors import AudioError, to_install
from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.phone_files import phone_format
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.scoring import score_recording

av = pytest.importorskip("av", reason="the extra [phone] is not installed")

GALLOP = load_pattern("gallop")
STEADY = Learner(scatter_s=0.015, short_db=-6.0)


@pytest.fixture(scope="module")
def take():
    return record(perform(GALLOP, STEADY, beats=10, seed=1), Room(noise_below_feet_db=40.0), seed=1)


def encode(path, samples, codec, *, rate_hz=48_000, layout="mono", form=None, picture=False):
    """Write samples (frames, or frames x 2) at 48 kHz as a phone would."""
    planes = np.atleast_2d(np.asarray(samples, np.float32).T)
    with av.open(str(path), "w", format=form) as out:
        sound = out.add_stream(codec, rate=rate_hz, layout=layout)
        film = out.add_stream("mpeg4", rate=10) if picture else None
        if film is not None:
            film.width = film.height = 64
            film.pix_fmt = "yuv420p"
            for _ in range(20):
                out.mux(film.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), "rgb24")))
            out.mux(film.encode(None))
        straight = av.AudioResampler(format=sound.format, layout=layout, rate=rate_hz)
        for start in range(0, planes.shape[1], 4800):
            frame = av.AudioFrame.from_ndarray(
                np.ascontiguousarray(planes[:, start : start + 4800]), format="fltp", layout=layout
            )
            frame.sample_rate = 48_000
            frame.pts = start
            for plain in straight.resample(frame):
                out.mux(sound.encode(plain))
        for plain in straight.resample(None):
            out.mux(sound.encode(plain))
        out.mux(sound.encode(None))
    return path


CASES = {
    "memo.m4a": ("aac", {"form": "ipod"}),
    "film.mp4": ("aac", {"picture": True}),
    "film.mov": ("aac", {}),
    "page.webm": ("libopus", {}),
    "raw.aac": ("aac", {"form": "adts"}),
    "low.m4a": ("aac", {"form": "ipod", "rate_hz": 44_100}),
    "old.amr": ("libopencore_amrnb", {"rate_hz": 8_000}),
    "old.3gp": ("libopencore_amrnb", {"rate_hz": 8_000}),
}


def encoded(tmp_path, name, samples, **more):
    codec, how = CASES[name]
    try:
        return encode(tmp_path / name, samples, codec, **{**how, **more})
    except (av.error.EncoderNotFoundError, av.codec.codec.UnknownCodecError):
        pytest.skip(f"this build of the decoder cannot write {codec}")


@pytest.mark.parametrize("name", CASES)
def test_a_phone_recording_gives_the_same_verdict_and_intervals(tmp_path, name, take):
    path = encoded(tmp_path, name, take.samples)
    recording = read_recording(path)
    times_s = np.array([footfall.time_s for footfall in detect_footfalls(recording).footfalls])
    nearest_s = times_s[np.abs(times_s[:, None] - take.times_s).argmin(axis=0)]
    late_s = nearest_s - take.times_s  # a codec may shift all of it by some ms
    np.testing.assert_allclose(late_s, np.median(late_s), atol=0.012)
    # The telephone codec begins with a click of its own, before the feet.
    assert times_s.size - take.times_s.size <= (1 if "amr" in CASES[name][0] else 0)
    score = score_recording(recording, GALLOP)
    assert "clear long-short" in score.advice.summary


def test_of_two_channels_the_one_with_the_feet_is_taken(tmp_path, take):
    other = 0.002 * np.random.default_rng(0).normal(size=take.samples.size)
    path = encoded(tmp_path, "memo.m4a", np.stack([other, take.samples], axis=1), layout="stereo")
    recording = read_recording(path)
    assert recording.channels == 2
    assert len(detect_footfalls(recording).footfalls) == take.times_s.size


def test_content_counts_and_not_the_name(tmp_path, take):
    path = encoded(tmp_path, "memo.m4a", take.samples).rename(tmp_path / "gallop.wav")
    assert read_recording(path).duration_s == pytest.approx(take.samples.size / 48_000, abs=0.1)


def test_a_film_without_sound_is_refused_in_one_line(tmp_path):
    path = tmp_path / "silent.mp4"
    with av.open(str(path), "w") as out:
        film = out.add_stream("mpeg4", rate=10)
        film.width = film.height = 64
        film.pix_fmt = "yuv420p"
        for _ in range(10):
            out.mux(film.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), "rgb24")))
        out.mux(film.encode(None))
    with pytest.raises(AudioError, match=r"silent\.mp4 is a film without sound"):
        read_recording(path)


def test_a_memo_cut_short_is_refused_or_read_as_far_as_it_goes(tmp_path, take):
    whole = encoded(tmp_path, "memo.m4a", take.samples).read_bytes()
    (tmp_path / "cut.m4a").write_bytes(whole[: len(whole) * 6 // 10])
    with pytest.raises(AudioError, match="cut short"):  # its index stood at the end
        read_recording(tmp_path / "cut.m4a")
    whole = encoded(tmp_path, "raw.aac", take.samples).read_bytes()
    (tmp_path / "cut.aac").write_bytes(whole[: len(whole) * 6 // 10])
    assert read_recording(tmp_path / "cut.aac").duration_s == pytest.approx(
        0.6 * take.samples.size / 48_000, rel=0.15
    )


def test_damaged_parts_are_left_out_and_told_or_the_file_is_refused(tmp_path, take):
    whole = encoded(tmp_path, "memo.m4a", take.samples).read_bytes()
    rng, unnoticed = np.random.default_rng(0), 0
    for _ in range(20):
        spoilt = bytearray(whole)
        for at in rng.integers(200, len(whole) // 2, 6):
            spoilt[at] ^= int(rng.integers(1, 256))
        (tmp_path / "spoilt.m4a").write_bytes(spoilt)
        with suppress(AudioError):
            recording = read_recording(tmp_path / "spoilt.m4a")
            assert np.isfinite(recording.samples).all()
            unnoticed += not recording.warnings
    assert unnoticed < 20


def test_too_long_a_memo_is_refused_before_it_is_decoded(tmp_path, take):
    path = encoded(tmp_path, "memo.m4a", take.samples)
    with pytest.raises(AudioError, match="at most 5.0 s is scored"):
        read_recording(path, limit_s=5.0)


def test_rubbish_that_begins_like_a_memo_is_refused(tmp_path):
    path = tmp_path / "rubbish.m4a"
    path.write_bytes(b"\x00\x00\x00\x1cftypM4A " + np.random.default_rng(0).bytes(20_000))
    with pytest.raises(AudioError, match="damaged"):
        read_recording(path)


def test_without_the_extra_the_line_says_how_to_get_it(tmp_path, take, monkeypatch):
    path = encoded(tmp_path, "memo.m4a", take.samples)
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(AudioError) as refusal:
        read_recording(path)
    assert to_install("phone") in str(refusal.value)
    assert "WAV" in str(refusal.value)


@pytest.mark.parametrize("head", [b"", b"RIFF", b"fLaC", b"OggS", b"#EXTM3U\n/etc/passwd", b"ID3"])
def test_other_files_are_no_phone_recordings(head):
    assert phone_format(head) is None


# Scenario 7: 90 s on a phone, talk and two passes.
PASSES_S = (22.0, 60.0)
TALK_S = ((1.0, 19.0), (36.0, 56.0), (74.0, 88.0))


def talk(seconds, seed=0):
    """The shipped voice saying one word after the other, as loud as the feet or louder; not of a real person."""
    rng, voice = np.random.default_rng(seed), load_voice("en")
    said = np.zeros(round(seconds * 48_000))
    for first_s, last_s in TALK_S:
        at_s = first_s
        while at_s < last_s:
            word = voice.words[rng.integers(len(voice.words))].sound.samples
            first = round(at_s * 48_000)
            said[first : first + word.size] += word * rng.uniform(0.3, 1.0)
            at_s += word.size / 48_000 + rng.choice([0.05, 0.15, 0.6])
    return said / np.abs(said).max()


@pytest.fixture(scope="module")
def lesson():
    """90 s: two passes of a gallop, talk before, between and after; the samples and the landings' times."""
    samples, times_s = np.zeros(90 * 48_000), []
    for seed, start_s in enumerate(PASSES_S):
        made = record(perform(GALLOP, STEADY, beats=16, seed=seed), Room(noise_below_feet_db=40.0), seed=seed)
        first = round(start_s * 48_000)
        samples[first : first + made.samples.size] += made.samples
        times_s.append(made.times_s + start_s)
    samples += 0.5 * np.abs(samples).max() * talk(90.0)
    samples += 3e-4 * np.random.default_rng(9).normal(size=samples.size)
    return samples.astype(np.float32), times_s


@pytest.mark.parametrize("name", ["memo.m4a", "film.mp4"])
def test_in_a_long_recording_with_talk_the_two_passes_are_found_and_the_talk_is_no_bout(tmp_path, lesson, name):
    samples, times_s = lesson
    score = score_recording(read_recording(encoded(tmp_path, name, samples)), GALLOP)
    assert len(score.alignment.bouts) == 2
    for bout, measures, true_s in zip(score.alignment.bouts, score.bouts, times_s, strict=True):
        assert bout.start_s == pytest.approx(true_s[0], abs=0.7)
        assert bout.end_s == pytest.approx(true_s[-1], abs=0.7)
        assert measures.tempo_bpm == pytest.approx(100, abs=2)
        assert measures.complete_beats >= 14
    feet_s = np.concatenate(times_s)
    heard_s = np.array([footfall.time_s for footfall in score.hearing.footfalls])
    in_talk = np.abs(heard_s[:, None] - feet_s).min(axis=1) > 0.5
    assert in_talk.sum() <= 3, "52 s of talk"
