"""Fetch the packages of `sources` and read single sounds out of them.

    python -m tests.hearing.fetch

needs a Debian system (`apt-get download`, `dpkg-deb`) but no root rights and
installs nothing: the files are unpacked into the cache folder, named by
CUEKIT_HEARING_CACHE or else `.cache` beside this file.
"""

from __future__ import annotations

import fnmatch
import io
import struct
import subprocess
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.hearing import sources
from tests.hearing.material import cache_folder

CLONK_HEADER = 204
CLONK_ENTRY = 316
SOUND_SUFFIXES = (".wav", ".ogg", ".opus", ".flac", ".mp3")


def package_folder(package: str) -> Path:
    return cache_folder() / "packages" / package


def fetch_packages() -> None:
    """Download and unpack every package that the cache does not hold yet."""
    for package in sources.packages():
        target = package_folder(package)
        if target.exists():
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=cache_folder()) as work:
            done = subprocess.run(["apt-get", "download", package], cwd=work, capture_output=True, text=True)
            debs = list(Path(work).glob("*.deb"))
            if not debs:
                raise SystemExit(
                    f"could not download the Debian package {package}: {done.stderr.strip()} "
                    "(this needs Debian and a fresh `apt-get update`)")
            _unpack(debs[0], wanted_paths(package), target)


def wanted_paths(package: str) -> tuple[str, ...]:
    """Return the path patterns to keep of a package; all of it for the synthesisers."""
    paths = [clip.path for s in sources.FOOT_SOURCES if s.package == package for clip in s.clips]
    paths += [s.path for s in sources.SOUND_SOURCES if s.package == package]
    return (*dict.fromkeys(paths), "usr/share/doc/*/copyright") if paths else ("*",)


def _unpack(deb: Path, patterns: tuple[str, ...], target: Path) -> None:
    part = target.with_suffix(".part")
    part.mkdir(parents=True, exist_ok=True)
    listing = subprocess.Popen(["dpkg-deb", "--fsys-tarfile", str(deb)], stdout=subprocess.PIPE)
    quoted = [f"./{pattern}" for pattern in patterns]
    subprocess.run(["tar", "-x", "-C", str(part), "--wildcards", *quoted],
                   stdin=listing.stdout, check=False, stderr=subprocess.DEVNULL)
    listing.wait()
    if not any(part.rglob("*")):
        raise SystemExit(f"{deb.name} holds none of {patterns}: the package has changed")
    part.rename(target)


def read_audio(data: bytes | Path) -> tuple[NDArray[np.float32], int]:
    """Return (mono samples, sample rate Hz) of a sound file or its bytes."""
    source = io.BytesIO(data) if isinstance(data, bytes) else str(data)
    samples, rate = soundfile.read(source, dtype="float32", always_2d=True)
    return samples.mean(axis=1), int(rate)


def read_sound(package: str, path: str, member: str = "") -> tuple[NDArray[np.float32], int]:
    """Return one sound of a package; `member` names it inside a container."""
    file = package_folder(package) / path
    if not member:
        return read_audio(file)
    if path.endswith(".ocg"):
        return read_audio(clonk_member(file.read_bytes(), member))
    if path.endswith(".sf2"):
        return soundfont_sample(file.read_bytes(), member)
    with zipfile.ZipFile(file) as archive:
        return read_audio(archive.read(member))


def matching_sounds(source: sources.SoundSource) -> Iterator[tuple[NDArray[np.float32], int]]:
    """Yield the sounds of a source in the order of their names."""
    if source.member:
        yield read_sound(source.package, source.path, source.member)
        return
    folder, _, pattern = source.path.rpartition("/")
    for file in sorted((package_folder(source.package) / folder).iterdir()):
        if fnmatch.fnmatch(file.name, pattern) and file.suffix in SOUND_SUFFIXES:
            samples, rate_hz = read_audio(file)
            for start_s, stop_s in source.cuts_s or ((0.0, len(samples) / rate_hz),):
                yield samples[round(start_s * rate_hz) : round(stop_s * rate_hz)], rate_hz


def clonk_member(container: bytes, member: str) -> bytes:
    """Return one file of a group file of the game OpenClonk.

    The group is a gzip stream with two altered magic bytes; each folder starts
    with a 204-byte header (every third byte pair swapped, all xor 237) that
    counts its 316-byte entries.
    """
    group = zlib.decompressobj(31).decompress(b"\x1f\x8b" + container[2:])
    start, size = 0, len(group)
    for name in member.split("/"):
        start, size = _clonk_entry(group, start, name)
    return group[start : start + size]


def _clonk_entry(group: bytes, start: int, wanted: str) -> tuple[int, int]:
    header = bytearray(byte ^ 237 for byte in group[start : start + CLONK_HEADER])
    for at in range(0, CLONK_HEADER - 2, 3):
        header[at], header[at + 2] = header[at + 2], header[at]
    count = struct.unpack_from("<i", header, 36)[0]
    body = start + CLONK_HEADER + CLONK_ENTRY * count
    for index in range(count):
        at = start + CLONK_HEADER + CLONK_ENTRY * index
        name = group[at : at + 260].split(b"\0")[0].decode("latin-1")
        if name == wanted:
            _, _, size, _, offset = struct.unpack_from("<iiiii", group, at + 260)
            return body + offset, size
    raise KeyError(f"{wanted} is not in this group file")


def soundfont_sample(bank: bytes, name: str) -> tuple[NDArray[np.float32], int]:
    """Return one sample of a SoundFont 2 bank (RIFF; `smpl` data and `shdr` headers)."""
    chunks = dict(_riff_chunks(bank))
    data = np.frombuffer(chunks[b"smpl"], dtype="<i2")
    headers = chunks[b"shdr"]
    for at in range(0, len(headers) - 45, 46):
        title, first, last, _, _, rate = struct.unpack_from("<20sIIIII", headers, at)
        if title.split(b"\0")[0].decode("latin-1") == name:
            return (data[first:last] / 32768.0).astype(np.float32), rate
    raise KeyError(f"{name} is not in this bank")


def _riff_chunks(bank: bytes, start: int = 12, stop: int | None = None) -> Iterator[tuple[bytes, bytes]]:
    at, stop = start, stop or len(bank)
    while at + 8 <= stop:
        name, size = bank[at : at + 4], struct.unpack_from("<I", bank, at + 4)[0]
        if name == b"LIST":
            yield from _riff_chunks(bank, at + 12, at + 8 + size)
        else:
            yield name, bank[at + 8 : at + 8 + size]
        at += 8 + size + (size & 1)


if __name__ == "__main__":
    fetch_packages()
    print(f"fetched into {cache_folder()}")
