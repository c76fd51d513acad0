"""A schedule becomes sound: every cue on its sample, at any time, in any pieces, never too loud."""

import json
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.cues.cueing import ChosenCues, choose_cues, choose_glide
from cuekit.cues.loudness import LOUDEST_LUFS, PEAK_CEILING_DB, integrated_lufs, true_peak
from cuekit.cues.render import LEAD_IN_S, lay_out, peak_bound, place_sounds, render, render_blocks, write_cues
from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.cues.tones import tone_set, tone_set_names
from cuekit.errors import AudioError
from cuekit.patterns.pattern import Beat, Foot, Pattern, Side, Step, TempoRange
from cuekit.patterns.schedule import CueLevel, Fade, Plan, Role, beats_for_seconds, make_schedule
from tests.made_pattern import gallop

HALF_SAMPLE_S = 0.5 / SAMPLE_RATE_HZ


def even(name):
    beats = (
        Beat(Fraction(0), Fraction(1), Step(Foot.RIGHT)),
        Beat(Fraction(1), Fraction(1), Step(Foot.LEFT)),
    )
    return Pattern(
        name, name.title(), "one step", "", Side.RIGHT, beats, TempoRange(110, 40, 200), None, 4, ""
    )


def tick():
    """A sound of one sample, so that its place can be read off exactly."""
    return Sound(np.array([0.0, 0.0, 0.5, 0.0], dtype=np.float32), 2 / SAMPLE_RATE_HZ)


def ticking():
    one = tick()
    return ChosenCues(lambda cue: (one,), "ticks")


def tick_times_s(track):
    return (np.flatnonzero(render(track)) - track.lead_in) / SAMPLE_RATE_HZ


def envelope(samples):
    spectrum = np.fft.fft(samples.astype(float))
    spectrum[1 : spectrum.size // 2] *= 2
    spectrum[spectrum.size // 2 :] = 0
    return np.abs(np.fft.ifft(spectrum))


def onset_near_s(level, near_s):
    """Where the sound around `near_s` rises through -10 dB of its own peak."""
    first = round((near_s - 0.05) * SAMPLE_RATE_HZ)
    piece = level[first : first + round(0.16 * SAMPLE_RATE_HZ)]
    peak = int(np.argmax(piece[: round(0.14 * SAMPLE_RATE_HZ)]))
    above = piece[: peak + 1] >= piece[peak] * 10 ** (-10 / 20)
    start = peak - int(np.argmin(above[::-1])) + 1 if not above.all() else 0
    return (first + start) / SAMPLE_RATE_HZ


@pytest.mark.parametrize("name", tone_set_names())
def test_twenty_seconds_of_gallop_at_100_land_on_the_long_and_the_short(name):
    # Story 1: every onset within 2 ms of 0.00/0.40 s in each 0.60 s; the count-in evenly spaced.
    beats = beats_for_seconds(gallop(), 100, 20.0)
    schedule = make_schedule(gallop(), Plan(100, beats))
    track = lay_out(schedule, choose_cues(schedule, tone_set(name)))
    level = envelope(render(track))
    planned = [0.60 * k for k in range(4)] + [2.4 + 0.60 * k + at for k in range(beats) for at in (0.0, 0.4)]
    for planned_s in planned:
        assert onset_near_s(level, track.lead_in_s + planned_s) - track.lead_in_s == pytest.approx(
            planned_s, abs=0.002
        )


@pytest.mark.parametrize("name", ["hop", "walk", "run"])
def test_even_skills_are_even_to_the_sample(name):
    schedule = make_schedule(even(name), Plan(120, 40))
    times_s = tick_times_s(lay_out(schedule, ticking()))
    assert times_s == pytest.approx(0.5 * np.arange(44), abs=1e-9)


@given(tempo_bpm=st.floats(60, 200), uneven=st.booleans())
@settings(max_examples=12, deadline=None)
def test_the_grid_is_exact_over_ten_minutes_at_any_tempo(tempo_bpm, uneven):
    # Friberg & Sundberg 1995 (J Acoust Soc Am 98:2524): 6 ms is the smallest shift heard below 240 ms.
    # Bar of the team's oracle 16: 1 ms, and no drift over 10 min; ours is half a sample.
    pattern = gallop() if uneven and tempo_bpm <= 160 else even("walk")
    schedule = make_schedule(pattern, Plan(tempo_bpm, int(10 * tempo_bpm), count_in=2))
    track = lay_out(schedule, ticking())
    placed_s = np.array([(one.first + 2) / SAMPLE_RATE_HZ for one in track.placed])
    shares = np.array([0, Fraction(2, 3)] if pattern.uneven else [0], dtype=float)
    exact_s = (np.arange(2, 2 + int(10 * tempo_bpm))[:, None] + shares).ravel() * 60 / tempo_bpm
    error_s = placed_s[2:] - exact_s
    assert np.abs(error_s).max() <= HALF_SAMPLE_S + 1e-9
    assert abs(error_s[-100:].mean() - error_s[:100].mean()) < HALF_SAMPLE_S


HOUR = """
import json, sys, time
sys.path.insert(0, "{tests}")
from test_render import *
began = time.perf_counter()
schedule = make_schedule(gallop(), Plan(97.3, 5838, count_in=0))
track = lay_out(schedule, {chosen})
last, at, loudest = 0, 0, 0.0
for block in render_blocks(track):
    heard = np.flatnonzero(block)
    last = at + int(heard[-1]) if heard.size else last
    at += block.size
    loudest = max(loudest, float(np.abs(block).max()))
peak_kb = int(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])
print(json.dumps(dict(last_s=(last - track.lead_in) / SAMPLE_RATE_HZ, rendered_s=at / SAMPLE_RATE_HZ, loudest=loudest,
    took_s=time.perf_counter() - began, memory_mb=peak_kb / 1024)))
"""


@pytest.mark.parametrize(
    "chosen", ["ticking()", 'choose_cues(schedule, tone_set("bell"))'], ids=["ticks", "bells"]
)
@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read from /proc")
def test_an_hour_in_pieces_ends_on_the_exact_sample_in_little_time_and_memory(chosen):
    script = HOUR.format(tests=Path(__file__).parent, chosen=chosen)
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    hour = json.loads(run.stdout)
    exact_s = float((5837 + Fraction(2, 3)) * 60 / Fraction("97.3"))
    assert exact_s > 3599
    if "ticking" in chosen:
        assert abs(hour["last_s"] - exact_s) <= HALF_SAMPLE_S + 1e-9
    assert hour["rendered_s"] > 3600
    assert 0.0 < hour["loudest"] <= 10 ** (PEAK_CEILING_DB / 20)
    assert hour["took_s"] < 60
    assert hour["memory_mb"] < 300


@given(block=st.integers(1, 60_000))
@settings(max_examples=25, deadline=None)
def test_blocks_of_any_size_make_the_same_track(block):
    schedule = make_schedule(gallop(), Plan(140, 3, count_in=1))
    track = lay_out(schedule, choose_cues(schedule, tone_set("bell")))
    # Tiny blocks are tried on the second around the first footfall only, to keep the test short.
    if block < 50:
        track = replace(track, size=track.lead_in + 24_000)
    pieces = list(render_blocks(track, block))
    assert all(piece.size == block for piece in pieces[:-1])
    assert np.array_equal(np.concatenate(pieces), render(track))
    assert render(track).dtype == np.float32


@given(times_s=st.lists(st.floats(0.0, 0.2), min_size=1, max_size=12))
@settings(max_examples=30, deadline=None)
def test_overlapping_sounds_add(times_s):
    sound = Sound(np.full(6000, 0.05, dtype=np.float32), 0.0)
    track = place_sounds([(time_s, sound) for time_s in times_s])
    expected = np.zeros(track.size)
    for time_s in times_s:
        first = track.lead_in + round(time_s * SAMPLE_RATE_HZ)
        expected[first : first + 6000] += sound.samples
    assert np.abs(render(track) - track.level.gain * expected).max() < 1e-6


@settings(deadline=None)
@given(anchor=st.integers(0, 3000), time_s=st.floats(0.0, 4000.0))
def test_the_anchor_of_a_sound_falls_on_the_nearest_sample(anchor, time_s):
    samples = np.zeros(4000, dtype=np.float32)
    samples[anchor] = 0.5
    (placed,) = place_sounds([(time_s, Sound(samples, anchor / SAMPLE_RATE_HZ))]).placed
    assert abs((placed.first + anchor) / SAMPLE_RATE_HZ - time_s) <= HALF_SAMPLE_S + 1e-9


@pytest.mark.parametrize("count_in", [0, 4])
def test_the_bound_on_the_peak_holds_the_glide_too(count_in):
    schedule = make_schedule(gallop(), Plan(100, 8, count_in=count_in))
    track = lay_out(schedule, choose_glide(schedule, tone_set("soft")))
    assert 0.0 < true_peak(render(track) / track.level.gain) <= peak_bound(track) * (1 + 1e-6)


def test_silence_goes_before_the_first_cue_and_more_where_a_word_begins_earlier():
    assert place_sounds([(0.0, tick())]).lead_in_s == LEAD_IN_S == 0.5
    long_word = Sound(np.full(48_000, 0.1, dtype=np.float32), 0.9)
    track = place_sounds([(0.0, long_word), (2.0, tick())])
    assert track.lead_in_s == 0.9
    assert np.flatnonzero(render(track))[0] == 0


def test_a_cue_gets_softer_silent_and_never_changes_the_level_of_the_others():
    steady = make_schedule(gallop(), Plan(100, 12))
    fading = make_schedule(gallop(), Plan(100, 12, fade=Fade(full=4, softer=4)))
    tones = choose_cues(steady, tone_set("wood"))
    full, faded = (render(lay_out(schedule, tones)) for schedule in (steady, fading))
    go = round((LEAD_IN_S + steady.go_s - 0.1) * SAMPLE_RATE_HZ)
    beat = round(0.6 * SAMPLE_RATE_HZ)
    for first, last, gain_db in ((-4, 4, 0.0), (4, 6, -6.0), (6, 8, -12.0)):
        piece = slice(go + first * beat, go + last * beat)
        assert np.abs(faded[piece] - full[piece] * 10 ** (gain_db / 20)).max() < 1e-6
    assert not faded[go + 8 * beat :].any()


@pytest.mark.parametrize("level", [CueLevel.C4, CueLevel.C3, CueLevel.C2, CueLevel.C1])
def test_the_count_in_sounds_the_same_at_every_cue_level(level):
    schedule = make_schedule(gallop(), Plan(100, 8, level))
    tones = choose_cues(schedule, tone_set("tone"))
    counted = round((LEAD_IN_S + schedule.go_s - 0.1) * SAMPLE_RATE_HZ)
    reference = make_schedule(gallop(), Plan(100, 8))
    assert np.array_equal(
        render(lay_out(schedule, tones))[:counted], render(lay_out(reference, tones))[:counted]
    )


def test_no_cue_means_no_sound():
    schedule = make_schedule(gallop(), Plan(100, 8, CueLevel.C0))
    track = lay_out(schedule, choose_cues(schedule, tone_set("wood")))
    assert track.duration_s > schedule.end_s
    assert not render(track).any()


@pytest.mark.parametrize("name", tone_set_names())
def test_no_click_and_nothing_in_the_band_of_the_feet_in_a_whole_rhythm(name):
    schedule = make_schedule(gallop(), Plan(150, 30))
    samples = render(lay_out(schedule, choose_cues(schedule, tone_set(name)))).astype(float)
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(samples.size, 1 / SAMPLE_RATE_HZ)
    assert 10 * np.log10(power[hz > 10_000].sum() / power.sum()) < -60
    assert 10 * np.log10(power[hz < 500].sum() / power.sum()) < -60


@pytest.mark.parametrize("name", tone_set_names())
@pytest.mark.parametrize("tempo_bpm", [60, 100, 150])
def test_every_set_is_as_loud_as_the_others_at_every_tempo_and_within_the_limits(name, tempo_bpm):
    for pattern in (gallop(), even("walk")):
        schedule = make_schedule(pattern, Plan(tempo_bpm, 40))
        track = lay_out(schedule, choose_cues(schedule, tone_set(name)), loudness_lufs=LOUDEST_LUFS)
        samples = render(track)
        assert integrated_lufs(samples) == pytest.approx(LOUDEST_LUFS, abs=0.6)
        assert 20 * np.log10(true_peak(samples)) < PEAK_CEILING_DB + 0.01
        assert not track.level.held_back


def test_the_glide_keeps_the_limits_too():
    schedule = make_schedule(gallop(), Plan(100, 30))
    track = lay_out(schedule, choose_glide(schedule, tone_set("soft")), loudness_lufs=LOUDEST_LUFS)
    samples = render(track)
    assert integrated_lufs(samples) == pytest.approx(LOUDEST_LUFS, abs=0.6)
    assert 20 * np.log10(true_peak(samples)) < PEAK_CEILING_DB


def test_sounds_too_peaky_for_the_loudness_are_held_back_not_clipped():
    spike = tone_set("wood").short.accented
    track = place_sounds(
        [(2.0 * k, spike) for k in range(5)] + [(4.0, spike)] * 6, loudness_lufs=LOUDEST_LUFS
    )
    assert track.level.held_back
    assert np.abs(render(track)).max() <= 10 ** (PEAK_CEILING_DB / 20)


def test_the_peak_bound_is_the_sum_of_what_overlaps_anywhere_in_the_track():
    sound = Sound(np.hanning(960).astype(np.float32) * 0.2, 0.0)
    apart = place_sounds([(float(k), sound) for k in range(100)])
    together = place_sounds([(float(k), sound) for k in range(100)] + [(99.005, sound), (99.01, sound)])
    assert peak_bound(apart) == pytest.approx(0.2, rel=0.01)
    assert peak_bound(together) == pytest.approx(0.6, rel=0.01)


def test_a_louder_cue_than_the_ceiling_is_refused():
    schedule = make_schedule(gallop(), Plan(100, 8))
    with pytest.raises(AudioError, match="got -10: for more, turn up the loudspeaker"):
        lay_out(schedule, choose_cues(schedule, tone_set("wood")), loudness_lufs=-10)


@pytest.mark.parametrize("name", ["cue.wav", "cue.flac", "CUE.WAV"])
def test_a_written_file_holds_the_rendered_samples(tmp_path, name):
    schedule = make_schedule(gallop(), Plan(100, 4))
    track = lay_out(schedule, choose_cues(schedule, tone_set("drop")))
    write_cues(tmp_path / name, track)
    samples, rate_hz = soundfile.read(tmp_path / name)
    assert rate_hz == SAMPLE_RATE_HZ
    assert np.abs(samples - render(track)).max() < 1 / 32_000
    assert [one.name for one in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("cue.mp3", 'cue.mp3: end the name in ".wav" or ".flac"'),
        ("cue", 'cue: end the name in ".wav" or ".flac"'),
        ("missing/cue.wav", "there is no folder"),
        ("folder.wav", "that is a folder"),
    ],
)
def test_a_file_that_cannot_be_written_is_refused_and_leaves_nothing(tmp_path, path, told):
    (tmp_path / "folder.wav").mkdir()
    track = place_sounds([(0.0, tick())])
    with pytest.raises(AudioError, match=told):
        write_cues(tmp_path / path, track)
    assert [one.name for one in tmp_path.iterdir()] == ["folder.wav"]


FULL_DISK = """
import resource, signal, sys
sys.path.insert(0, "{tests}")
from test_render import *
schedule = make_schedule(gallop(), Plan(100, 60))
track = lay_out(schedule, choose_cues(schedule, tone_set("wood")))
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
try:
    write_cues(Path({path!r}), track)
except AudioError as refusal:
    print(refusal)
"""


@pytest.mark.parametrize("ending", ["wav", "flac"])
@pytest.mark.skipif(sys.platform == "win32", reason="file sizes cannot be limited there")
def test_a_disk_that_fills_up_half_way_leaves_the_old_file_as_it_was(tmp_path, ending):
    path = tmp_path / f"cue.{ending}"
    path.write_bytes(b"the old one")
    script = FULL_DISK.format(tests=Path(__file__).parent, path=str(path))
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "it stopped half-way, as on a full disk" in run.stdout
    assert path.read_bytes() == b"the old one"
    assert list(tmp_path.iterdir()) == [path]


def test_a_counted_beat_is_told_from_a_footfall():
    schedule = make_schedule(gallop(), Plan(100, 4))
    chosen = choose_cues(schedule, tone_set("wood"))
    sounds = {cue.role: chosen.sounds_for(cue)[0] for cue in schedule.cues}
    assert len({id(sounds[role]) for role in (Role.COUNT, Role.LONG, Role.SHORT)}) == 3
