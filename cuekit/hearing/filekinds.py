"""What a file seems to be, told from its first bytes; its name is never believed.

Only to word a refusal, and to keep what is plainly no sound away from the decoder. Signatures from
memory of the formats' own descriptions.
"""

from __future__ import annotations

from dataclasses import dataclass

HEAD_BYTES = 4096
"""How much of the file is enough to tell, bytes."""

READABLE = "WAV, FLAC, MP3, OGG, AIFF, CAF or AU"
"""Kinds of sound file that can be read, as told to the teacher."""


@dataclass(frozen=True)
class Unreadable:
    """A kind of file that is not read.

    Attributes:
        name: what it seems to be, for "this seems to be ...".
        mend: how to get a file that can be used.
    """

    name: str
    mend: str


_MEMO = "set the phone's recorder to WAV (uncompressed), or save the memo as WAV in a sound editor"
_FILM = "save its sound as WAV in a sound editor, or record sound only"
_OTHER = f"give a {READABLE} file"

_BRANDS = (
    (b"M4A", "an M4A phone memo"),
    (b"M4B", "an M4B audio book"),
    (b"3gp", "a 3GP phone recording"),
    (b"3g2", "a 3G2 phone recording"),
    (b"qt", "a QuickTime film"),
)

_SIGNATURES = (
    (b"#!AMR", Unreadable("an AMR phone memo", _MEMO)),
    (b"\x1aE\xdf\xa3", Unreadable("a WebM or Matroska recording", _FILM)),
    (b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", Unreadable("a WMA or WMV recording", _FILM)),
    (b"FLV\x01", Unreadable("a Flash film", _FILM)),
    (b"\xff\xf1", Unreadable("a raw AAC recording", _MEMO)),
    (b"\xff\xf9", Unreadable("a raw AAC recording", _MEMO)),
    (b"MThd", Unreadable("a MIDI file, notes without sound", _OTHER)),
    (b"PK\x03\x04", Unreadable("a ZIP archive or an office document", "unpack it, then " + _OTHER)),
    (b"PK\x05\x06", Unreadable("an empty ZIP archive", _OTHER)),
    (b"\x1f\x8b", Unreadable("a GZIP archive", "unpack it, then " + _OTHER)),
    (b"7z\xbc\xaf\x27\x1c", Unreadable("a 7z archive", "unpack it, then " + _OTHER)),
    (b"Rar!", Unreadable("a RAR archive", "unpack it, then " + _OTHER)),
    (b"%PDF", Unreadable("a PDF document", _OTHER)),
    (b"{\\rtf", Unreadable("a text document", _OTHER)),
    (b"\xd0\xcf\x11\xe0", Unreadable("an old office document", _OTHER)),
    (b"\x89PNG", Unreadable("a picture", _OTHER)),
    (b"\xff\xd8\xff", Unreadable("a picture", _OTHER)),
    (b"GIF8", Unreadable("a picture", _OTHER)),
    (b"II*\x00", Unreadable("a picture", _OTHER)),
    (b"MM\x00*", Unreadable("a picture", _OTHER)),
    (b"SQLite format 3", Unreadable("a database", _OTHER)),
    (b"\x7fELF", Unreadable("a program", _OTHER)),
    (b"MZ", Unreadable("a program", _OTHER)),
)

_SOUND_SIGNATURES = (
    b"RIFF", b"RIFX", b"RF64", b"FORM", b"caff", b"fLaC", b"OggS", b".snd", b"dns.", b"ID3",
    b"riff\x2e\x91\xcf\x11",
)  # fmt: skip


def looks_readable(head: bytes) -> bool:
    """Whether the file begins as one of the accepted sound files does."""
    mpeg = len(head) > 2 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0 and head[1] & 0x06 != 0
    return mpeg or head.startswith(_SOUND_SIGNATURES)


def unreadable_kind(head: bytes) -> Unreadable | None:
    """What a file that cannot be read seems to be; None where its first bytes do not tell."""
    if head[4:8] == b"ftyp":
        for brand, name in _BRANDS:
            if head[8:12].startswith(brand):
                return Unreadable(name, _MEMO)
        return Unreadable("an MP4 recording", _FILM)
    if head.startswith(b"RIFF") and head[8:12] in (b"AVI ", b"WEBP"):
        return Unreadable("a film or picture", _OTHER)
    for signature, kind in _SIGNATURES:
        if head.startswith(signature):
            return kind
    return _text_kind(head)


def _text_kind(head: bytes) -> Unreadable | None:
    """A web page or a text, in UTF-8 or UTF-16; None for anything else."""
    if not head.strip():
        return None
    try:
        text = head.decode("utf-16") if head[:2] in (b"\xff\xfe", b"\xfe\xff") else _utf8(head)
    except UnicodeDecodeError:
        return None
    start = text.lstrip("\ufeff \t\r\n").lower()
    if start.startswith(("<!doctype html", "<html", "<?xml", "<head", "<body")):
        return Unreadable("a web page", f"download the sound itself, then {_OTHER}")
    odd = sum(not (character.isprintable() or character in "\t\r\n\f\ufeff") for character in text)
    return Unreadable("a text", _OTHER) if odd == 0 else None


def _utf8(head: bytes) -> str:
    """The head as UTF-8, though it may stop inside a character."""
    for cut in range(4):
        try:
            return head[: len(head) - cut].decode("utf-8")
        except UnicodeDecodeError as problem:
            if problem.end < len(head) - cut or cut == 3:
                raise
    raise AssertionError("not reached")
