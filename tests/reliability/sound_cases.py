"""Sound files that are broken, hostile or odd but valid, and what must become of each."""

import gzip
import io
import os
import pickle
import socket
import struct
import tarfile
import zipfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from tests.made_sounds import FORMATS, as_file, feet
from tests.reliability.cases import MATERIAL, ROOM, Case, Ends, World

SCORE = ("score", "--pattern", "gallop")
TOO_FEW = "too few"


@dataclass(frozen=True)
class Sound:
    """A file, how scoring it must end, and what must be named or said besides the file."""

    file: str
    content: bytes
    ends: Ends
    told: tuple[str, ...] = ()


@cache
def walk(kind: str = "WAV", subtype: str = "PCM_16", rate_hz: int = 16_000, seconds: float = 4.0) -> bytes:
    """Four seconds of feet."""
    at_s = tuple(0.3 + 0.2 * n for n in range(int((seconds - 0.5) / 0.2)))
    return as_file(feet(rate_hz, seconds, at_s=at_s), rate_hz, kind, subtype)


def wav(data: bytes, *, tag=1, channels=1, rate_hz=16_000, bits=16, block=None, size=None, riff=None) -> bytes:
    """A WAV file whose header says what it is told to say."""
    block = channels * bits // 8 % 2**16 if block is None else block
    fmt = struct.pack("<HHIIHH", tag, channels, rate_hz, rate_hz * block % 2**32, block, bits)
    size = len(data) if size is None else size
    body = b"WAVEfmt " + struct.pack("<I", len(fmt)) + fmt + b"data" + struct.pack("<I", size) + data
    return b"RIFF" + struct.pack("<I", len(body) if riff is None else riff) + body


def pcm(x: np.ndarray) -> bytes:
    return (np.clip(x, -1, 1) * 32767).astype("<i2").tobytes()


def patched(content: bytes, at: int, new: bytes) -> bytes:
    return content[:at] + new + content[at + len(new) :]


def archive(kind: str) -> bytes:
    buffer = io.BytesIO()
    if kind == "zip":
        with zipfile.ZipFile(buffer, "w") as file:
            file.writestr("take.txt", "x" * 5000)
    else:
        with tarfile.open(fileobj=buffer, mode="w") as file:
            info = tarfile.TarInfo("take.txt")
            info.size = 5000
            file.addfile(info, io.BytesIO(b"x" * 5000))
    return buffer.getvalue()


class Trap:
    """Makes a file appear when it is unpickled."""

    def __reduce__(self):
        return (os.mkdir, ("pickle-was-run",))


FEET = feet(16_000, 4.0, at_s=tuple(0.3 + 0.2 * n for n in range(17)))
DATA = pcm(FEET)
RNG = np.random.default_rng(11)


def not_sounds() -> list[Sound]:
    """Files of another kind under the name of a sound."""
    other = {
        "text.wav": b"gallop, then skip\r\n" * 100,
        "page.mp3": b"<!DOCTYPE html><html><body>Sign in</body></html>",
        "archive.wav": archive("zip"), "archive.flac": archive("tar"),
        "packed.wav": gzip.compress(b"gallop" * 1000, mtime=0),
        "picture.wav": b"\x89PNG\r\n\x1a\n" + bytes(300), "photo.ogg": b"\xff\xd8\xff\xe0\0\x10JFIF\0" + bytes(300),
        "document.wav": b"%PDF-1.7\n" + bytes(300), "pickle.wav": pickle.dumps(Trap(), 4) + bytes(100),
        "random.wav": RNG.bytes(4096), "random.au": RNG.bytes(4096), "random.raw": RNG.bytes(4096),
        "random.mp3": RNG.bytes(4096), "zeros.wav": bytes(4096), "ones.aiff": b"\xff" * 4096,
        "utf16.wav": "galopa, niño\n".encode("utf-16") * 50, "settings.wav": b'{"tempo": NaN}' * 40,
        "program.wav": b"\x7fELF\x02\x01\x01" + bytes(300), "windows.wav": b"MZ\x90\0" + bytes(300),
        "script.wav": b"#!/bin/sh\ntouch script-was-run\n" * 10, "notes.mid": b"MThd\0\0\0\6\0\1\0\1\1\xe0MTrk" + bytes(99),
        "database.wav": b"SQLite format 3\0" + bytes(4080), "memo.m4a": b"\0\0\0\x1cftypM4A \0\0\0\0" + bytes(300),
        "memo.3gp": b"\0\0\0\x18ftyp3gp4" + bytes(300), "film.mp4": b"\0\0\0\x18ftypmp42" + bytes(300),
        "film.webm": b"\x1aE\xdf\xa3" + bytes(300),
        "window.wma": bytes.fromhex("3026b2758e66cf11a6d900aa0062ce6c") + bytes(300),
        "film.avi": b"RIFF\x00\x10\0\0AVI LIST" + bytes(300), "one-byte.wav": b"R", "riff.wav": b"RIFF",
        "riff-wave.wav": b"RIFF\x24\0\0\0WAVE", "ogg-only.ogg": b"OggS", "flac-only.flac": b"fLaC", "id3.mp3": b"ID3\4\0\0\x7f\x7f\x7f\x7f",
        "escape.wav": b"\x1b[2J\x1b]0;title\x07" * 60,
    }  # fmt: skip
    memo = Sound("memo.amr", b"#!AMR\n" + bytes(300), Ends.DONE_OR_REFUSED)  # read where the extra decoder is there
    return [memo, *(Sound(name, content, Ends.REFUSED) for name, content in other.items())]


def empty_sounds() -> list[Sound]:
    """Files that hold no sound at all."""
    nothing = ("holds no sound",)
    rows = [Sound("empty.wav", b"", Ends.REFUSED, nothing), Sound("header-only.wav", wav(b""), Ends.REFUSED, nothing)]
    for kind, subtype in (("FLAC", "PCM_16"), ("AIFF", "PCM_16"), ("W64", "PCM_16"), ("CAF", "PCM_16"), ("AU", "PCM_16")):
        content = as_file(np.zeros(0), 16_000, kind, subtype)
        rows.append(Sound(f"no-samples.{kind.lower()}", content, Ends.REFUSED))
    return rows


def truncated() -> list[Sound]:
    """Each format cut early and late; a late cut still has feet to count."""
    rows = []
    for kind, subtype in FORMATS:
        whole, name = walk(kind, subtype), f"{kind}-{subtype}".lower()
        rows.append(Sound(f"cut-early-{name}.bin", whole[: len(whole) // 50], Ends.DONE_OR_REFUSED))
        rows.append(Sound(f"cut-late-{name}.bin", whole[: len(whole) * 4 // 5], Ends.DONE, ("beats",)))
    return rows


def lying_headers() -> list[Sound]:
    """Headers that say what cannot be."""
    many = (b"\0" * 64, DATA)
    flac, aiff, caf, w64, au, rf64 = (walk(kind) for kind in ("FLAC", "AIFF", "CAF", "W64", "AU", "RF64"))
    return [
        Sound("size-zero.wav", wav(DATA, size=0, riff=0), Ends.DONE, ("never finished",)),
        Sound("size-ffffffff.wav", wav(DATA, size=2**32 - 1, riff=2**32 - 1), Ends.DONE, ("never finished",)),
        Sound("says-three-hours.wav", wav(DATA, size=3 * 3600 * 32_000), Ends.DONE, ("says 3 h 0 min but holds 4.0 s",)),
        Sound("size-odd.wav", wav(DATA[:-1]), Ends.DONE),
        Sound("channels-0.wav", wav(DATA, channels=0), Ends.REFUSED),
        Sound("channels-65.wav", wav(many[1], channels=65), Ends.REFUSED, ("65 channels",)),
        Sound("channels-65535.wav", wav(DATA, channels=65535, block=2), Ends.REFUSED),
        Sound("rate-0.wav", wav(DATA, rate_hz=0), Ends.REFUSED),
        Sound("rate-1.wav", wav(DATA, rate_hz=1), Ends.REFUSED, ("1 Hz",)),
        Sound("rate-3999.wav", wav(DATA, rate_hz=3_999), Ends.REFUSED, ("3,999 Hz",)),
        Sound("rate-400001.wav", wav(DATA, rate_hz=400_001), Ends.REFUSED, ("400,001 Hz",)),
        Sound("rate-2147483648.wav", wav(DATA, rate_hz=2**31), Ends.REFUSED),
        *(Sound(f"bits-{bits}.wav", wav(DATA, bits=bits, block=2), Ends.DONE_OR_REFUSED) for bits in (0, 1, 7, 15, 33, 64, 255)),
        *(Sound(f"format-{tag:04x}.wav", wav(DATA, tag=tag), Ends.DONE_OR_REFUSED) for tag in (0, 2, 0x11, 0x31, 0x55, 0x161, 0xFFFE, 0xFFFF)),
        Sound("block-0.wav", wav(DATA, block=0), Ends.DONE_OR_REFUSED),
        Sound("block-1000.wav", wav(DATA, block=1000), Ends.DONE_OR_REFUSED),
        Sound("no-fmt.wav", b"RIFF\x24\x10\0\0WAVEdata\0\x10\0\0" + DATA[:4096], Ends.REFUSED),
        Sound("data-first.wav", b"RIFF\xff\xff\0\0WAVEdata" + struct.pack("<I", 4096) + DATA[:4096] + walk()[12:36], Ends.REFUSED),
        Sound("huge-chunk.wav", b"RIFF\xff\xff\0\0WAVEJUNK\xff\xff\xff\x7f" + walk()[12:], Ends.DONE_OR_REFUSED),
        Sound("many-chunks.wav", b"RIFF\xff\xff\xff\0WAVE" + b"JUNK\0\0\0\0" * 50_000 + walk()[12:], Ends.DONE_OR_REFUSED),
        Sound("rifx.wav", b"RIFX" + walk()[4:], Ends.DONE_OR_REFUSED),
        Sound("flac-claims-36-bits.flac", patched(patched(flac, 21, bytes([flac[21] | 0x0F])), 22, b"\xff" * 4), Ends.DONE, ("but holds",)),
        Sound("flac-no-length.flac", patched(patched(flac, 21, bytes([flac[21] & 0xF0])), 22, bytes(4)), Ends.DONE, ("never finished",)),
        Sound("flac-block-of-garbage.flac", patched(flac, len(flac) // 2, RNG.bytes(2000)), Ends.DONE),
        Sound("aiff-rate-of-infinity.aiff", patched(aiff, aiff.index(b"COMM") + 16, b"\x7f\xff" + b"\xff" * 8), Ends.REFUSED),
        Sound("aiff-claims-frames.aiff", patched(aiff, aiff.index(b"COMM") + 10, b"\x7f\xff\xff\xff"), Ends.DONE_OR_REFUSED),
        Sound("caf-rate-nan.caf", patched(caf, caf.index(b"desc") + 12, b"\x7f\xf8" + bytes(6)), Ends.REFUSED),
        Sound("caf-data-negative.caf", patched(caf, caf.index(b"data") + 4, b"\xff" * 8), Ends.DONE_OR_REFUSED),
        Sound("w64-size-zero.w64", patched(w64, 16, bytes(8)), Ends.DONE_OR_REFUSED),
        Sound("au-offset-beyond.au", patched(au, 4, b"\x7f\xff\xff\xff"), Ends.REFUSED),
        Sound("au-size-unknown.au", patched(au, 8, b"\xff" * 4), Ends.DONE_OR_REFUSED),
        Sound("rf64-claims-2-63.rf64", patched(rf64, rf64.index(b"ds64") + 16, b"\xff" * 7 + b"\x7f"), Ends.DONE_OR_REFUSED),
        Sound("mp3-with-garbage.mp3", patched(walk("MP3", "MPEG_LAYER_III"), 4000, RNG.bytes(3000)), Ends.DONE),
        Sound("mp3-after-200-kB-of-tag.mp3", b"ID3\4\0\0\0\x0c\x20\0" + bytes(200_704) + walk("MP3", "MPEG_LAYER_III"), Ends.DONE_OR_REFUSED),
        Sound("ogg-without-end.ogg", walk("OGG", "VORBIS")[:-200], Ends.DONE_OR_REFUSED),
        Sound("ogg-of-two.ogg", walk("OGG", "VORBIS") * 2, Ends.DONE_OR_REFUSED),
    ]  # fmt: skip


def odd_but_valid() -> list[Sound]:
    """Unusual recordings that must be scored like any other."""
    rows = [Sound(f"walk-{k}-{s}.bin".lower(), walk(k, s), Ends.DONE, ("beats",)) for k, s in FORMATS]
    rates = (4_000, 8_000, 11_025, 22_050, 44_100, 96_000, 192_000)
    rows += [Sound(f"rate-{rate}-hz.wav", walk(rate_hz=rate), Ends.DONE, ("beats",)) for rate in rates]
    for channels in (2, 3, 8, 64):
        many = RNG.normal(size=(FEET.size, channels)) * 0.01
        many[:, channels - 1] = FEET
        rows.append(Sound(f"channels-{channels}.wav", as_file(many, 16_000), Ends.DONE, ("beats",)))
    opposite = as_file(np.stack([FEET, -FEET], axis=1), 16_000)
    floats = FEET.copy()
    floats[[5, 6000, 7000]] = np.nan, np.inf, -np.inf
    return [
        *rows,
        Sound("opposite-phase.wav", opposite, Ends.DONE, ("beats",)),
        Sound("named.mp3", walk(), Ends.DONE, ("beats",)),
        Sound("named.wav", walk("FLAC"), Ends.DONE, ("beats",)),
        Sound("named.txt", walk("MP3", "MPEG_LAYER_III"), Ends.DONE, ("beats",)),
        Sound("with-list.wav", walk() + b"LIST" + struct.pack("<I", 4000) + bytes(4000), Ends.DONE, ("beats",)),
        Sound("three-no-numbers.wav", as_file(floats, 16_000, "WAV", "FLOAT"), Ends.DONE, ("3 samples were no numbers",)),
        Sound("float-on-16-bit-scale.wav", as_file(FEET * 30_000, 16_000, "WAV", "FLOAT"), Ends.DONE, ("beats",)),
        Sound("clipped.wav", as_file(np.clip(FEET * 40, -1, 1), 16_000), Ends.DONE, ("clipped",)),
        Sound("offset.wav", as_file(FEET * 0.3 + 0.5, 16_000), Ends.DONE, ("beats",)),
    ]  # fmt: skip


def no_rhythm_in_them() -> list[Sound]:
    """Sound without feet: no score, and above all no number."""
    t = np.arange(64_000) / 16_000
    click = np.zeros(64_000)
    click[30_000:30_020] = 0.9
    steady = {
        "silence.wav": np.zeros(64_000), "constant.wav": np.full(64_000, 0.5), "one-click.wav": click,
        "hum.wav": 0.3 * np.sin(2 * np.pi * 50 * t), "hiss.wav": 0.05 * RNG.normal(size=64_000),
        "one-sample.wav": np.ones(1), "ten-samples.wav": np.ones(10), "tenth-of-a-second.wav": np.zeros(1600),
        "half-a-second.wav": FEET[:8000], "one-bit-of-hiss.wav": RNG.choice([0.0, 1 / 32768], 64_000),
        "denormal.wav": np.full(64_000, 1e-40),
    }  # fmt: skip
    rows = [Sound(n, as_file(x, 16_000, "WAV", "FLOAT" if n == "denormal.wav" else "PCM_16"), Ends.DONE_OR_REFUSED, (TOO_FEW,)) for n, x in steady.items()]  # fmt: skip
    noughts = FEET.copy()
    noughts[::20] = np.nan
    huge = np.where(FEET > 0, 1e38, -1e38)
    return [
        *rows,
        Sound("many-no-numbers.wav", as_file(noughts, 16_000, "WAV", "FLOAT"), Ends.REFUSED, ("damaged",)),
        Sound("all-nan.wav", as_file(np.full(16_000, np.nan), 16_000, "WAV", "FLOAT"), Ends.REFUSED, ("damaged",)),
        Sound("all-infinite.wav", as_file(np.full(16_000, np.inf), 16_000, "WAV", "DOUBLE"), Ends.REFUSED, ("damaged",)),
        Sound("huge-floats.wav", as_file(huge, 16_000, "WAV", "FLOAT"), Ends.DONE_OR_REFUSED),
        Sound("huge-doubles.wav", as_file(huge.astype("f8") * 1e200, 16_000, "WAV", "DOUBLE"), Ends.DONE_OR_REFUSED),
    ]  # fmt: skip


@cache
def sounds() -> tuple[Sound, ...]:
    """Every file made."""
    kinds = (not_sounds, empty_sounds, truncated, lying_headers, odd_but_valid, no_rhythm_in_them)
    return tuple(sound for kind in kinds for sound in kind())


def file_cases() -> list[Case]:
    """Each file scored."""
    return [
        Case(
            f"sound: {sound.file}",
            (*SCORE, f"{MATERIAL}/{sound.file}"),
            sound.ends,
            names=(sound.file,) if sound.ends is Ends.REFUSED else (),
            says=sound.told if sound.ends is Ends.DONE else (),
        )
        for sound in sounds()
    ]


def _special(room: Path) -> None:
    """Things in the file system that are no ordinary files."""
    (room / "dangling.wav").symlink_to("gone.wav")
    (room / "loop.wav").symlink_to("loop.wav")
    (room / "good.wav").symlink_to(room / "take.wav")
    (room / "take.wav").write_bytes(walk())
    os.mkfifo(room / "pipe.wav")
    with socket.socket(socket.AF_UNIX) as server:
        here = Path.cwd()
        os.chdir(room)  # the name of a socket may be 108 bytes long
        server.bind("socket.wav")
        os.chdir(here)
    (room / "closed.wav").write_bytes(walk())
    (room / "closed.wav").chmod(0)
    (room / "folder.wav").mkdir()


NAMES = (
    "a b'\".wav", "niño 🎵.wav", "%s {0} [bold] $(touch shell-was-run).wav", "`touch shell-was-run`.wav",
    "a\nb\x1b[2J.wav", "\u202egnp.wav", "-rf.wav", "&& touch shell-was-run.wav", "*.wav", "~root.wav",
    "x" * 251 + ".wav", "CON.wav", "trailing .wav ", "\\x00.wav", "\x07bell.wav", "nul.",
)  # fmt: skip
"""Names that something might take for more than a name."""


def _named(name: str):
    def prepare(room: Path) -> None:
        (room / name).write_bytes(walk())

    return prepare


def place_cases() -> list[Case]:
    """Where the file is, and what it is called."""
    world = World(prepare=_special)
    odd = [
        ("missing.wav", "no such file"), ("no/folder/take.wav", "no such file"), ("folder.wav", "is a folder"),
        ("dangling.wav", "is a link"), ("loop.wav", "back to itself"), ("pipe.wav", "pipe or a device"),
        ("socket.wav", "pipe or a device"), ("take.wav/inside.wav", "no such file"), ("x" * 300 + ".wav", "too long"),
    ]  # fmt: skip
    cases = [Case(f"place: {name[:40]}", (*SCORE, name), names=(name[:40], why), world=world) for name, why in odd]
    cases += [Case(f"place: {device}", (*SCORE, device), names=(device,)) for device in ("/dev/zero", "/dev/null", "/dev/tty")]
    cases.append(Case("place: a good link", (*SCORE, "good.wav"), Ends.DONE, says=("beats",), world=world))
    cases.append(Case("place: not permitted", (*SCORE, "closed.wav"), Ends.REFUSED_OR_WRONG_USE, ("closed.wav",),
                      world=World(prepare=_special, powerless=True)))  # fmt: skip
    cases.append(Case("place: the empty name", (*SCORE, ""), Ends.REFUSED_OR_WRONG_USE))
    for name in NAMES:
        told = Case(f"name: {ascii(name)[:50]}", (*SCORE, "--", name), Ends.DONE, says=("beats",), world=World(prepare=_named(name)))
        gone = Case(f"name, missing: {ascii(name)[:50]}", (*SCORE, "--", name), names=("no such file",))
        cases += [told, gone]
    raw = os.fsdecode(b"\xff\xfe.wav")
    cases.append(Case("name: no text", (*SCORE, raw), Ends.DONE, says=("beats",), world=World(prepare=_named(raw))))
    cases.append(Case("name, missing: no text", (*SCORE, raw), names=("\\xff\\xfe.wav",)))
    return cases


def command_cases() -> list[Case]:
    """The same files to the other commands that open sound."""
    bad = ("empty.wav", "text.wav", "random.mp3", "channels-65.wav", "rate-0.wav", "all-nan.wav", "mp3-with-garbage.mp3")
    cases = []
    for file in bad:
        ends = Ends.DONE_OR_REFUSED if file.startswith("mp3") else Ends.REFUSED
        names = () if file.startswith("mp3") else (file,)
        place = f"{MATERIAL}/{file}"
        cases.append(Case(f"child: {file}", ("child", place, "--pattern", "gallop"), ends, names))
        cases.append(Case(f"room: {file}", ("room", place), ends, names))
        cases.append(Case(f"own word: {file}", ("play", "gallop", "--level", "c5", "--voice", f"{ROOM}/voice", "--out", "o.wav"),
                          ends, names and ("step.wav",), writes=("o.wav",), world=World(prepare=_voice_of(file))))  # fmt: skip
    long = ("score", "--pattern", "gallop", "--longest", "1", "long.wav")
    cases.append(Case("longer than allowed", long, names=("long.wav", "--longest 2"), world=World(prepare=_long)))
    cases.append(Case("longer than allowed, then allowed", (*long[:4], "2", "long.wav"), Ends.DONE, world=World(prepare=_long)))
    return cases


def _voice_of(file: str):
    def prepare(room: Path) -> None:
        (room / "voice").mkdir()
        content = next(sound.content for sound in sounds() if sound.file == file)
        (room / "voice" / "step.wav").write_bytes(content)

    return prepare


def _long(room: Path) -> None:
    (room / "long.wav").write_bytes(as_file(np.tile(feet(8_000, 10.0), 9), 8_000))


def sound_cases() -> list[Case]:
    """All cases of sound files."""
    return [*file_cases(), *place_cases(), *command_cases()]
