"""What a torture case is: words for the command line, the world they are said in, and how it must end."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

MATERIAL, ROOM = "<material>", "<room>"
"""Stand in words and settings for the folder of made files, and for the case's own room."""


class Ends(Enum):
    """The exit codes that a case may end with (`cuekit.cli`)."""

    DONE = frozenset({0})
    REFUSED = frozenset({1, 3, 4, 5, 6})
    WRONG_USE = frozenset({2})
    REFUSED_OR_WRONG_USE = frozenset({1, 2, 3, 4, 5, 6})
    DONE_OR_REFUSED = frozenset({0, 1, 3, 4, 5, 6})
    STOPPED = frozenset({130})


class Outlet(Enum):
    """Where stdout or stderr leads."""

    FILE = "a file"
    CLOSED = "closed"
    FULL = "a full disk"
    BROKEN_PIPE = "a pipe whose reader left"


@dataclass(frozen=True)
class World:
    """What differs from an ordinary computer; anything but the usual one takes a process of its own.

    Attributes:
        env: variables set; `MATERIAL` and `ROOM` in them are filled in.
        without: variables taken away.
        prepare: what is made in the room before.
        stdout, stderr: where they lead.
        python: options of the interpreter.
        open_files, file_bytes, memory_bytes: limits of the process; 0 for none.
        powerless: bound by the permissions of files, even where the tests run as root.
        stdin_closed: whether there is no inlet.
        own_process: whether to start one although nothing else differs.
    """

    env: tuple[tuple[str, str], ...] = ()
    without: tuple[str, ...] = ()
    prepare: Callable[[Path], None] | None = None
    stdout: Outlet = Outlet.FILE
    stderr: Outlet = Outlet.FILE
    python: tuple[str, ...] = ()
    open_files: int = 0
    file_bytes: int = 0
    memory_bytes: int = 0
    powerless: bool = False
    stdin_closed: bool = False
    own_process: bool = False

    @property
    def usual(self) -> bool:
        """Whether the command can as well be called in a process that runs many."""
        return self == World(prepare=self.prepare)


@dataclass(frozen=True)
class Case:
    """One command, hostile or odd.

    Attributes:
        name: says what is odd.
        words: the command line after `cuekit`.
        ends: how.
        names: what a refusal must name, all of them.
        says: what stdout must hold where it is done.
        writes: patterns of the files that may be new in the room; all else must be as before.
        world: see there.
    """

    name: str
    words: tuple[str, ...]
    ends: Ends = Ends.REFUSED
    names: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    writes: tuple[str, ...] = ()
    world: World = World()
