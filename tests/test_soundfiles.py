"""Any file is read or refused in words; what is read has its clicks where they were made."""

import io
import os
import struct
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cuekit.errors import AudioError
from cuekit.hearing import soundheaders
from cuekit.hearing.recordings import ANALYSIS_RATE_HZ, recording_of
from cuekit.hearing.soundfiles import read_recording, spoken_duration
from cuekit.telling.phrases import load_phrases
from cuekit.telling.recording_told import recording_told
from tests.made_sounds import FORMATS, as_file, feet

CHUNKED = [row for row in FORMATS if row[0] in ("WAV", "WAVEX", "RF64", "W64", "AIFF", "CAF", "AU")]


def peak_time_s(samples, rate_hz):
    """Time of the highest sample, between samples by a parabola."""
    k = int(np.argmax(samples))
    before, top, after = samples[k - 1 : k + 2].astype(float)
    return (k + (before - after) / 2 / (before - 2 * top + after)) / rate_hz


@pytest.fixture
def saved(tmp_path):
    """Save bytes under a name, return the path."""

    def save(content, name="take.wav"):
        path = tmp_path / name
        path.write_bytes(content)
        return path

    return save


# What is read


@pytest.mark.parametrize(("kind", "subtype"), FORMATS)
def test_every_accepted_format_gives_the_same_feet_whatever_its_name(saved, kind, subtype):
    x = feet(48_000)
    heard = read_recording(saved(as_file(x, 48_000, kind, subtype), "misnamed.txt"))
    plain = recording_of(x.astype("f4"), 48_000, "plain")
    assert (heard.sample_rate_hz, heard.file_rate_hz, heard.channels) == (ANALYSIS_RATE_HZ, 48_000, 1)
    assert heard.duration_s == pytest.approx(2.0, abs=0.002)
    assert heard.warnings == ()
    n = min(heard.samples.size, plain.samples.size)
    difference = heard.samples[:n] - plain.samples[:n]
    assert np.sqrt(np.mean(difference**2)) < 0.1 * np.sqrt(np.mean(plain.samples**2))


@pytest.mark.parametrize(
    "rate_hz", [4_000, 8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000, 192_000]
)
def test_click_at_a_known_time_stays_there_at_any_rate(saved, rate_hz):
    cutoff_hz = 0.4 * min(rate_hz, ANALYSIS_RATE_HZ)
    t = np.arange(7 * rate_hz) / rate_hz  # 192 kHz: several blocks
    x = np.zeros_like(t)
    for click_s in (0.04321, 6.54321):
        x += 0.5 * np.sinc(cutoff_hz * (t - click_s)) * np.exp(-(((t - click_s) / 0.01) ** 2))
    heard = read_recording(saved(as_file(x, rate_hz, subtype="FLOAT")))
    assert heard.samples.size == pytest.approx(7 * ANALYSIS_RATE_HZ, abs=2)
    half = 3 * ANALYSIS_RATE_HZ
    assert peak_time_s(heard.samples[:half], ANALYSIS_RATE_HZ) == pytest.approx(0.04321, abs=1e-4)
    assert peak_time_s(heard.samples[half:], ANALYSIS_RATE_HZ) + 3 == pytest.approx(6.54321, abs=1e-4)


@pytest.mark.parametrize("channels", [2, 3, 8, 64])
def test_channel_with_the_feet_is_taken_whatever_the_others_hold(saved, channels):
    x = feet(16_000)
    many = np.random.default_rng(2).normal(size=(x.size, channels)) * 0.2  # hiss far above the feet's mean
    many[:, channels - 1] = x
    heard = read_recording(saved(as_file(many, 16_000)))
    alone = read_recording(saved(as_file(x, 16_000)))
    assert heard.channels == channels
    np.testing.assert_allclose(heard.samples, alone.samples, atol=1e-4)


def test_two_microphones_in_opposite_phase_do_not_cancel(saved):
    x = feet(44_100)
    heard = read_recording(saved(as_file(np.stack([x, -x], axis=1), 44_100)))
    alone = read_recording(saved(as_file(x, 44_100)))
    np.testing.assert_array_equal(heard.samples, alone.samples)


def test_hum_in_one_channel_does_not_outweigh_feet_in_the_other(saved):
    x = feet(44_100, level=0.05)
    hum = 0.8 * np.sin(2 * np.pi * 100 * np.arange(x.size) / 44_100)
    heard = read_recording(saved(as_file(np.stack([hum, x], axis=1), 44_100)))
    assert np.abs(heard.samples).max() < 0.1


def test_offset_is_removed_without_a_click_at_either_end(saved):
    heard = read_recording(saved(as_file(feet(48_000) * 0.3 + 0.5, 48_000)))
    assert abs(heard.samples.mean()) < 1e-4
    ends = np.concatenate([heard.samples[:200], heard.samples[-200:]])
    assert np.abs(ends).max() < 0.01


def test_twenty_seconds_are_read_well_within_a_fifth_of_a_second(saved):
    path = saved(as_file(feet(48_000, 20.0), 48_000))
    read_recording(path)
    start = time.process_time()
    read_recording(path)
    assert time.process_time() - start < 0.2


# What the teacher is warned of


def told(recording, language="en"):
    return recording_told(recording, load_phrases(language))


def test_what_is_told_of_a_recording_is_told_in_spanish_too(saved):
    assert told(read_recording(saved(as_file(feet(48_000) * 0.002, 48_000))), "es") == [
        "casi no se oye: acerque el micrófono."
    ]
    whole = as_file(feet(48_000, 20.0), 48_000)
    (said,) = told(read_recording(saved(whole[: len(whole) // 2])), "es")
    assert said.startswith("el archivo dice 20.0 s pero contiene ")


def test_clipped_and_faint_and_silent_and_low_rate_are_told(saved):
    def warnings(x, rate_hz=48_000):
        return told(read_recording(saved(as_file(x, rate_hz))))

    loud = np.clip(feet(48_000, level=8.0), -1, 1)
    assert warnings(loud) == ["clipped: move the microphone away, or turn its level down."]
    assert warnings(feet(48_000) * 0.002) == ["very faint: move the microphone nearer."]
    assert warnings(np.zeros(48_000)) == ["nothing but silence: the microphone was off, muted or blocked."]
    assert "4000 Hz only" in warnings(feet(4_000), 4_000)[0]


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_U8", "ULAW", "ALAW", "FLOAT"])
def test_clipped_share_is_counted_alike_however_samples_are_stored(saved, subtype):
    t = np.arange(48_000) / 48_000
    x = np.clip(2.0 * np.sin(2 * np.pi * 100 * t), -1, 1)  # beyond full scale for 2/3 of the time
    heard = read_recording(saved(as_file(x, 48_000, "WAV", subtype)))
    assert heard.clipped_percent == pytest.approx(66.7, abs=2.0)


def test_float_file_on_the_scale_of_16_bits_is_brought_to_full_scale(saved):
    heard = read_recording(saved(as_file(feet(48_000) * 30_000, 48_000, "WAV", "FLOAT")))
    assert 0.9 < np.abs(heard.samples).max() <= 1.1
    assert heard.clipped_percent < 0.1


def test_few_broken_samples_are_silenced_and_many_refused(saved):
    x = feet(48_000)
    x[[5, 6000, 7000]] = np.nan, np.inf, -np.inf
    heard = read_recording(saved(as_file(x, 48_000, "WAV", "FLOAT")))
    assert np.isfinite(heard.samples).all()
    assert told(heard) == ["3 samples were no numbers and were silenced: it may be damaged."]
    x[::50] = np.nan
    with pytest.raises(AudioError, match="damaged: 2 % of its samples are not numbers"):
        read_recording(saved(as_file(x, 48_000, "WAV", "FLOAT")))


# Files that say one thing and hold another


@pytest.mark.parametrize(("kind", "subtype"), [*CHUNKED, ("FLAC", "PCM_16"), ("MP3", "MPEG_LAYER_III")])
def test_file_cut_short_gives_what_it_holds_and_says_so(saved, kind, subtype):
    whole = as_file(feet(48_000, 20.0), 48_000, kind, subtype)
    heard = read_recording(saved(whole[: int(0.56 * len(whole))]))
    held = f"{heard.duration_s:.1f} s"
    assert told(heard) == [f"the file says 20.0 s but holds {held}; the first {held} were used."]
    assert heard.duration_s == pytest.approx(11.2, abs=0.6 if kind in ("FLAC", "MP3") else 0.03)
    assert peak_time_s(heard.samples[: ANALYSIS_RATE_HZ * 4 // 5], ANALYSIS_RATE_HZ) == pytest.approx(
        0.5016, abs=0.001
    )


@pytest.mark.parametrize("subtype", ["VORBIS", "OPUS"])
def test_ogg_cut_short_is_noticed_though_it_says_no_length(saved, subtype):
    whole = as_file(feet(48_000, 20.0), 48_000, "OGG", subtype)
    heard = read_recording(saved(whole[: len(whole) // 2]))
    assert 5 < heard.duration_s < 15
    assert "breaks off before its end" in told(heard)[0]
    assert read_recording(saved(whole)).warnings == ()


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
@pytest.mark.parametrize(("subtype", "kind"), [("PCM_16", "WAV"), ("PCM_24", "WAVEX"), ("FLOAT", "WAV")])
def test_wav_whose_sizes_were_never_filled_in_is_read_to_its_end(saved, size, kind, subtype):
    content = bytearray(as_file(feet(44_100, 10.0), 44_100, kind, subtype))
    at = content.index(b"data")
    content[at + 4 : at + 8] = struct.pack("<I", size)
    content[4:8] = struct.pack("<I", size)
    heard = read_recording(saved(bytes(content)))
    assert heard.duration_s == pytest.approx(10.0, abs=0.001)
    assert told(heard) == ["the file was never finished by its recorder: the 10.0 s found in it were used."]


def test_notes_after_the_sound_are_not_taken_for_sound_nor_for_its_length(saved):
    notes = b"LIST" + struct.pack("<I", 4000) + bytes(4000)
    content = as_file(feet(48_000), 48_000)
    heard = read_recording(saved(content + notes))
    assert heard.duration_s == 2.0
    assert heard.warnings == ()
    empty = as_file(np.zeros(0), 48_000)
    with pytest.raises(AudioError, match="holds no sound: record again"):
        read_recording(saved(empty + notes))


def test_header_that_claims_hours_is_not_believed(saved):
    content = bytearray(as_file(feet(48_000, 10.0), 48_000))
    at = content.index(b"data")
    content[at + 4 : at + 8] = struct.pack("<I", 3 * 3600 * 48_000 * 2)
    heard = read_recording(saved(bytes(content)))
    assert told(heard) == ["the file says 3 h 0 min but holds 10.0 s; the first 10.0 s were used."]


def test_flac_whose_header_claims_most_of_a_million_seconds_costs_nothing(saved):
    content = bytearray(as_file(feet(48_000, 1.0), 48_000, "FLAC"))
    content[21] |= 0x0F  # total samples: 36 bits from the low half of byte 21 (RFC 9639, section 8.2)
    content[22:26] = b"\xff" * 4
    heard = read_recording(saved(bytes(content)))
    assert heard.duration_s == pytest.approx(1.0, abs=0.09)
    assert "the file says 397 h 40 min but holds" in told(heard)[0]


def test_flac_that_says_no_length_is_read_to_its_end(saved):
    content = bytearray(as_file(feet(48_000, 2.0), 48_000, "FLAC"))
    content[21] &= 0xF0
    content[22:26] = bytes(4)
    heard = read_recording(saved(bytes(content)))
    assert heard.duration_s == pytest.approx(2.0)
    assert "never finished" in told(heard)[0]


@pytest.mark.parametrize("kind", ["WAV", "FLAC", "OGG"])
def test_recording_beyond_the_limit_is_refused_with_the_mend(saved, kind):
    subtype = "VORBIS" if kind == "OGG" else "PCM_16"
    path = saved(as_file(feet(8_000, 90.0), 8_000, kind, subtype))
    with pytest.raises(
        AudioError, match=r"lasts 1 min 30 s; at most 1 min 0 s is scored: cut .* --longest 2 "
    ):
        read_recording(path, limit_s=60.0)
    assert read_recording(path, limit_s=90.0).duration_s == pytest.approx(90.0, abs=0.01)


# What is refused


def zipped():
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("take.txt", "x" * 5000)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "holds no sound: record again"),
        (as_file(np.zeros(0), 48_000), "holds no sound: record again"),
        (as_file(np.zeros(0), 48_000, "FLAC"), "holds no sound: record again"),
        (as_file(feet(48_000), 48_000)[:20], "damaged, or holds sound in a form"),
        (b"gallop, then skip\r\n" * 100, "seems to be a text"),
        ("galopa, niño\n".encode("utf-16") * 50, "seems to be a text"),
        (b"<!DOCTYPE html><html><body>Sign in</body></html>", "seems to be a web page"),
        (zipped(), "seems to be a ZIP archive"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "seems to be a picture"),
        (b"%PDF-1.7\n" + bytes(100), "seems to be a PDF document"),
        (b"\x80\x04\x95" + bytes(range(200)), "is no sound file that can be read"),
        (np.random.default_rng(3).bytes(4096), "is no sound file that can be read"),
        (bytes(4096), "is no sound file that can be read"),
        (b"\x00\x00\x00\x1cftypM4A \x00\x00\x00\x00" + bytes(100), "seems to be an M4A phone memo"),
        (b"\x00\x00\x00\x18ftyp3gp4" + bytes(100), "seems to be a 3GP phone recording"),
        (b"\x00\x00\x00\x18ftypmp42" + bytes(100), "seems to be an MP4 recording"),
        (b"\x1aE\xdf\xa3" + bytes(100), "seems to be a WebM"),
        (b"RIFF\x24\x00\x00\x00WAVE" + bytes(100), "damaged, or holds sound in a form"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_named_with_the_mend(saved, content, said):
    for name in ("take.wav", "take.au", "take.mp3", "take.raw"):
        with pytest.raises(AudioError, match=said) as refusal:
            read_recording(saved(content, name))
        message = str(refusal.value)
        assert name in message
        assert ": " in message
        assert len(message) <= 600
        assert message.count("\n") < 3


@pytest.mark.parametrize(
    ("channels", "rate_hz", "said"),
    [
        (65, 48_000, "65 channels; at most 64"),
        (1, 500_000, "500,000 Hz"),
        (1, 2_000, "2,000 Hz"),
        (0, 8_000, "damaged"),
    ],
)
def test_header_out_of_bounds_is_refused(saved, channels, rate_hz, said):
    content = bytearray(as_file(feet(48_000), 48_000))
    content[22:24], content[24:28] = struct.pack("<H", channels), struct.pack("<I", rate_hz)
    content[28:32], content[32:34] = (
        struct.pack("<I", rate_hz * channels * 2),
        struct.pack("<H", channels * 2),
    )
    with pytest.raises(AudioError, match=said):
        read_recording(saved(bytes(content)))


def test_missing_folder_and_dangling_link_are_told_apart(tmp_path):
    with pytest.raises(AudioError, match=r"gone\.wav: there is no such file: check the name"):
        read_recording(tmp_path / "gone.wav")
    with pytest.raises(AudioError, match="is a folder: give the name of a sound file in it"):
        read_recording(tmp_path)
    with pytest.raises(AudioError, match="the name is too long"):
        read_recording(tmp_path / ("x" * 300))
    with pytest.raises(AudioError, match="no such file"):
        read_recording(Path("a\0b"))


@pytest.mark.skipif(os.name != "posix", reason="links, pipes and permissions of POSIX")
def test_links_pipes_and_devices(saved, tmp_path):
    (tmp_path / "good").symlink_to(saved(as_file(feet(48_000), 48_000)))
    assert read_recording(tmp_path / "good").duration_s == 2.0
    (tmp_path / "dangling").symlink_to(tmp_path / "gone")
    with pytest.raises(AudioError, match="is a link to a file that is not there"):
        read_recording(tmp_path / "dangling")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(AudioError, match="link leads back to itself"):
        read_recording(tmp_path / "loop")
    os.mkfifo(tmp_path / "pipe")
    for special in (tmp_path / "pipe", Path("/dev/zero")):
        with pytest.raises(AudioError, match="is a pipe or a device"):
            read_recording(special)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read anything")
def test_file_that_may_not_be_read_is_refused(saved):
    path = saved(as_file(feet(48_000), 48_000))
    path.chmod(0)
    with pytest.raises(AudioError, match="reading it is not permitted"):
        read_recording(path)


@pytest.mark.skipif(os.name != "posix", reason="names of POSIX")
@pytest.mark.parametrize(
    "name", ["a b'\".wav", "niño 🎵.wav", "%s {0} [bold] $(rm).wav", "-rf.wav", "a\nb\x1b[2J.wav"]
)
def test_any_name_works_and_is_shown_harmlessly(saved, name):
    heard = read_recording(saved(as_file(feet(48_000), 48_000), name))
    assert heard.name.isprintable()
    assert heard.duration_s == 2.0


@pytest.mark.skipif(os.name != "posix", reason="names of POSIX")
def test_name_that_is_no_text_is_shown_escaped(saved):
    heard = read_recording(saved(as_file(feet(48_000), 48_000), os.fsdecode(b"\xff\xfe.wav")))
    assert heard.name == "\\xff\\xfe.wav"


# Nothing leaks, nothing crashes


def test_decoder_prints_nothing_on_the_terminal(saved, capfd):
    content = as_file(feet(48_000, 5.0), 48_000, "MP3", "MPEG_LAYER_III")
    sf.SoundFile(io.BytesIO(content[: len(content) // 2])).close()
    assert "Warning" in capfd.readouterr().err  # so there is something to keep quiet
    read_recording(saved(content[: len(content) // 2]))
    assert capfd.readouterr() == ("", "")
    os.write(2, b"heard again")
    assert capfd.readouterr().err == "heard again"


def test_interruption_while_the_decoder_reads_is_not_swallowed(saved, monkeypatch):
    path = saved(as_file(feet(48_000, 20.0), 48_000))
    real = soundheaders.SoundBytes.__init__

    class Interrupting:
        def __init__(self, file):
            self.file, self.reads = file, 0

        def __getattr__(self, name):
            return getattr(self.file, name)

        def readinto(self, buffer):
            self.reads += 1
            if self.reads > 20:
                raise KeyboardInterrupt
            return self.file.readinto(buffer)

    monkeypatch.setattr(
        soundheaders.SoundBytes, "__init__", lambda self, file, chunk: real(self, Interrupting(file), chunk)
    )
    with pytest.raises(KeyboardInterrupt):
        read_recording(path)


SEEDS = [as_file(feet(8_000, 0.6), 8_000, kind, subtype) for kind, subtype in FORMATS]


@settings(
    max_examples=300,
    deadline=2000,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.sampled_from(SEEDS),
    st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=64),
    st.data(),
)
def test_mutated_files_are_read_or_refused_in_words(tmp_path, seed, changes, data):
    content = bytearray(seed)
    for at, value in changes:
        content[at % (len(content) if at % 2 else min(len(content), 200))] = value
    content = content[: data.draw(st.integers(0, len(content)))] if data.draw(st.booleans()) else content
    path = tmp_path / "take"
    path.write_bytes(bytes(content))
    try:
        heard = read_recording(path)
    except AudioError:
        pass  # refused in words; their length is tested above
    else:
        assert np.isfinite(heard.samples).all()
        assert heard.samples.size > 0
        assert heard.duration_s > 0
        assert 0 <= heard.clipped_percent <= 100


@pytest.mark.skipif(sys.platform != "linux", reason="peak memory as Linux tells it")
def test_an_hour_costs_less_than_400_mb(tmp_path):
    path = tmp_path / "hour.wav"
    with sf.SoundFile(path, "w", 16_000, 2, "PCM_16") as out:
        minute = np.stack([feet(16_000, 60.0)] * 2, axis=1)
        for _ in range(60):
            out.write(minute)
    code = (
        "import sys; from pathlib import Path; from cuekit.hearing.soundfiles import read_recording\n"
        "print(read_recording(Path(sys.argv[1])).duration_s)\n"
        # Not getrusage: its peak begins with that of the process that started this one.
        "print(int(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0]) // 1024)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, cwd=Path(__file__).parents[1]
    )
    seconds, megabytes = done.stdout.split()
    assert float(seconds) == 3600.0
    assert int(megabytes) < 400


@pytest.mark.parametrize(("seconds", "said"), [(11.24, "11.2 s"), (125, "2 min 5 s"), (10_800, "3 h 0 min")])
def test_durations_are_said_as_people_say_them(seconds, said):
    assert spoken_duration(seconds) == said
