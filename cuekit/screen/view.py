"""What the page shows: one view at a time, whole, in words of the language chosen.

The page holds no state and no sentence of its own: it draws the view it is sent and says which action
was taken. So a key, a clicker, a touch and a phone as a remote control are the same thing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Part(StrEnum):
    """What a key is for on the page."""

    MAIN = "main"  # the one big key
    STOP = "stop"
    PLAIN = "plain"
    CHOICE = "choice"  # one tile of a grid
    TOP = "top"  # beside the heading, at the same place in each view
    QUIET = "quiet"  # a key of the keyboard only; it has its tile in the view "more"


class Kind(StrEnum):
    """How a value is entered."""

    NUMBER = "number"
    CHOICE = "choice"
    TEXT = "text"
    SWITCH = "switch"


MAIN_KEYS = ("Space", "Enter", "PageDown")
"""What a thumb on a clicker or the space bar means: go on."""
BACK_KEYS = ("PageUp",)
STOP_KEYS = ("Escape", "Space", "Enter", "PageDown", "PageUp")


@dataclass(frozen=True)
class Value:
    """A value that goes with an action."""

    name: str
    value: str


@dataclass(frozen=True)
class Action:
    """Something that can be done now.

    Attributes:
        name: sent back when it is taken.
        label: on the key.
        role: how it looks.
        keys: of the keyboard or clicker, by the names of the UI Events standard.
        hint: the key to show beside the label; empty for none.
        values: sent back with the name.
        opens: a printable page of ours that it opens instead; empty for none.
        pressed: of a key that stays down; None for one that does not.
    """

    name: str
    label: str
    role: Part = Part.PLAIN
    keys: tuple[str, ...] = ()
    hint: str = ""
    values: tuple[Value, ...] = ()
    opens: str = ""
    pressed: bool | None = None


@dataclass(frozen=True)
class Option:
    """One of several values and its words."""

    value: str
    label: str


@dataclass(frozen=True)
class Field:
    """A value that can be set.

    Attributes:
        name, label, kind, value: what it is, in words, how it is entered, and as it is now.
        low, high, step: of a number.
        options: of a choice.
    """

    name: str
    label: str
    kind: Kind
    value: str
    low: float | None = None
    high: float | None = None
    step: float | None = None
    options: tuple[Option, ...] = ()


@dataclass(frozen=True)
class Mark:
    """Where a footfall is due.

    Attributes:
        t: s from the first footfall of the cue on; counted beats are before it.
        beat, place: which beat, and which footfall of it.
        big: whether it is the long or only one of its beat.
        foot: "right", "left", "both"; empty where it is not said.
        word: the cue word; may be empty.
        silent: whether no cue sounds there.
    """

    t: float
    beat: int
    place: int
    big: bool
    foot: str
    word: str
    silent: bool


@dataclass(frozen=True)
class Count:
    """A counted beat."""

    t: float
    word: str


@dataclass(frozen=True)
class Picture:
    """The rhythm in time.

    Attributes:
        marks, count: where footfalls are due, and what is counted before.
        end: when it is over, s.
        beat_s: length of a beat, s.
        uneven: whether a beat has a long and a short part.
        marker: "path", "big" or "none".
        live: whether it runs now.
        cued: whether there is a cue to follow; else footfalls only appear.
        says: what is told while it goes: "going", "moving", or nothing.
    """

    marks: tuple[Mark, ...]
    count: tuple[Count, ...]
    end: float
    beat_s: float
    uneven: bool
    marker: str = "path"
    live: bool = False
    cued: bool = True
    says: str = ""


@dataclass(frozen=True)
class HeardMark:
    """A footfall heard, on the clock of the picture, and how loud against the loudest, 0 to 1."""

    t: float
    size: float


@dataclass(frozen=True)
class Row:
    """A line of a table, with what can be done about it."""

    cells: tuple[str, ...]
    actions: tuple[Action, ...] = ()


@dataclass(frozen=True)
class ChildPicture:
    """Pictures for the child; see `cuekit.telling.child_view`."""

    filled: int
    pictures: int
    words: str


@dataclass(frozen=True)
class View:
    """All of the page.

    Attributes:
        name: which view.
        language: of its words.
        title: the heading.
        who: the learner's code; empty where hidden or none is chosen.
        lead: the one sentence.
        lines, cautions: below it.
        message: a refusal or note.
        asked: the question that the choices answer; empty where they answer none.
        actions, fields: what can be done and set.
        picture, heard: of a bout.
        drawing, plot: SVG, escaped.
        columns, rows: a table.
        child: what the child sees.
        going, gone: of a bout, the lead once it goes, and once it is over; the page fills in "[beat]",
            "[beats]" and "[footfalls]".
        texts: the words the page needs beside these.
    """

    name: str
    language: str
    title: str
    who: str = ""
    lead: str = ""
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    message: str = ""
    asked: str = ""
    actions: tuple[Action, ...] = ()
    fields: tuple[Field, ...] = ()
    picture: Picture | None = None
    heard: tuple[HeardMark, ...] = ()
    drawing: str = ""
    plot: str = ""
    columns: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
    child: ChildPicture | None = None
    going: str = ""
    gone: str = ""
    texts: tuple[Value, ...] = ()
