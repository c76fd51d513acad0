"""The command line: a table of commands, each loaded when it is called, and one place for refusals.

Only click is imported here, so that `cuekit --help` answers at once on a slow laptop.

Exit codes: 0 done; 1 and 3 to 6 a refusal, by its class (`cuekit.errors`); 2 wrong use of an option
or argument; 70 a fault of cuekit itself; 130 stopped by Ctrl-C.
"""

from __future__ import annotations

import datetime
import difflib
import errno
import importlib
import os
import signal
import sys
import traceback
from contextlib import suppress
from dataclasses import dataclass
from typing import NoReturn

import click

from cuekit import __version__
from cuekit.errors import CuekitError
from cuekit.files.outlets import open_outlets, outlets_take_all
from cuekit.files.places import log_place

MOST_LINES, MOST_CHARACTERS = 3, 600
"""Of a refusal: more is not read. Only what was typed or lies in a file makes one longer."""

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
"""What the system says where stdout leads to a file that takes no more; files of ours are written in one
place (`cuekit.files.atomic`), which tells it in words."""

FAULT_EXIT_CODE = 70
"""A fault of the program itself (the number BSD's sysexits.h gives to an internal software error)."""

STOPPED_EXIT_CODE = 130
"""Stopped by Ctrl-C, as a shell reports it: 128 + the number of SIGINT."""


@dataclass(frozen=True)
class Entry:
    """One line of the table of commands.

    Attributes:
        place: module and the click command in it, "cuekit.cli.play:command".
        help: what it does, for the list of commands.
    """

    place: str
    help: str

    def load(self) -> click.Command:
        """Import the module and take the command out of it."""
        module, _, attribute = self.place.partition(":")
        return getattr(importlib.import_module(module), attribute)


COMMANDS = {
    "play": Entry("cuekit.cli.play:command", "Play the rhythm of a skill, or write it to a sound file."),
    "score": Entry("cuekit.cli.score:command", "Say whether the feet in a recording kept the rhythm."),
    "ladder": Entry("cuekit.cli.ladder:command", "Show the steps of a skill, what to say and what to mind."),
    "next": Entry("cuekit.cli.next_step:command", "Say the step a learner does next, and why."),
    "listen": Entry("cuekit.cli.listen:command", "Record one bout, hands-free, and say one sentence."),
    "room": Entry("cuekit.cli.room:command", "Say whether the room will do: 5 quiet seconds, 4 stamps."),
    "practice": Entry("cuekit.cli.practice:command", "Listen, say, clap, tap, step in place, move."),
    "screen": Entry("cuekit.cli.screen:command", "Open the gym screen: the whole lesson on one page."),
    "check": Entry("cuekit.cli.check:command", "Check loudspeaker and microphone with three soft sweeps."),
    "takes": Entry("cuekit.cli.takes:command", "Recordings left by a crash, or kept on purpose."),
    "child": Entry("cuekit.cli.child:command", "Show the child a bout: pictures and one thing to try."),
    "patterns": Entry("cuekit.cli.patterns:command", "List, draw and check patterns."),
    "demo": Entry("cuekit.cli.demo:command", "See the whole job on the shipped recordings."),
    "learner": Entry("cuekit.cli.learners:command", "Learners: a code each, and how each is set up."),
    "turns": Entry("cuekit.cli.turns:command", "A small group in turns: one key is the next learner."),
    "keep": Entry("cuekit.cli.keep:keep", "Score a recording and store the bout at once."),
    "count": Entry("cuekit.cli.keep:count", "Store a bout counted by hand or on paper."),
    "bouts": Entry("cuekit.cli.bouts:bouts", "List the stored bouts of a learner."),
    "correct": Entry("cuekit.cli.bouts:correct", "Correct a stored bout; both versions are kept."),
    "void": Entry("cuekit.cli.bouts:void", "Let a stored bout count no longer, with a reason."),
    "sounds": Entry("cuekit.cli.sounds:sounds", "List the footfalls heard in a stored bout."),
    "strike": Entry("cuekit.cli.sounds:strike", "Strike out sounds that were not the learner's."),
    "observe": Entry("cuekit.cli.bouts:observe", "Enter what one person counted of a bout."),
    "agreement": Entry("cuekit.cli.bouts:agreement", "How often people, and the program, said the same."),
    "goal": Entry("cuekit.cli.goals:command", "Measurable goals and where they stand."),
    "lesson": Entry("cuekit.cli.lessons:command", "Service minutes and the month's total."),
    "report": Entry("cuekit.cli.report:command", "Write the family page or the team page, to print."),
    "sheet": Entry("cuekit.cli.sheet:command", "Print footprints, cue cards, data sheet or aide's plan."),
    "export": Entry("cuekit.cli.records:export", "Write everything on a learner to a file."),
    "forget": Entry("cuekit.cli.records:forget", "Delete everything on a learner, with a receipt."),
    "merge": Entry("cuekit.cli.records:merge", "Take in the records of another laptop."),
    "records": Entry("cuekit.cli.records:command", "Check, back up and bring back the records."),
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called; its help comes from the table."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; None where there is none of that name."""
        entry = COMMANDS.get(cmd_name)
        return entry.load() if entry else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command asked for, or a refusal that names the nearest one."""
        if args[0] not in COMMANDS:
            close = difflib.get_close_matches(args[0], COMMANDS, n=1)
            mend = f'did you mean "{close[0]}"?' if close else f"there are {', '.join(COMMANDS)}"
            ctx.fail(f'no command "{args[0][:40]}": {mend}')
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, without importing one."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.help) for name, entry in COMMANDS.items()])


@click.command(
    cls=LazyGroup, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="cuekit")
@click.pass_context
def group(ctx: click.Context) -> None:
    """Play the rhythm of a skill, hear the feet, say what was heard."""
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def main() -> NoReturn:
    """Run the command line and leave with its exit code."""
    # The matrices of the ear are small: shared between threads they take ten times as long, and live
    # listening would fall behind. numpy reads this when it is imported, which is later.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    open_outlets()
    _ctrl_c(signal.SIG_DFL, signal.default_int_handler)
    code = run(sys.argv[1:])
    _ctrl_c(signal.default_int_handler, signal.SIG_DFL)  # all is told: no trace for one that comes now
    sys.exit(code if outlets_take_all() else code or CuekitError.exit_code)


def _ctrl_c(before: object, now: object) -> None:
    """Let Ctrl-C do something else than before; where it is ignored it stays so."""
    if signal.getsignal(signal.SIGINT) is before:
        signal.signal(signal.SIGINT, now)


def run(arguments: list[str]) -> int:
    """Run the command line; whatever goes wrong becomes lines on stderr and an exit code here."""
    try:
        code = group.main(arguments, prog_name="cuekit", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        return 0
    except click.ClickException as error:
        _say(f"{error.format_message()}{_help_hint(error)}")
        return error.exit_code
    except CuekitError as error:
        _say(str(error))
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        _say("stopped")
        return STOPPED_EXIT_CODE
    except Exception as error:
        if isinstance(error, OSError) and error.errno in FULL and error.filename is None:
            _say(f"cannot show what was found ({error.strerror}): make room on the disk and try again")
            return CuekitError.exit_code
        _say(f"a mistake in cuekit itself ({type(error).__name__}). {_log(error)}")
        return FAULT_EXIT_CODE


def _say(text: str) -> None:
    """Put a message on stderr; what would steer a terminal is shown, not sent."""
    *first, rest = text.split("\n", MOST_LINES - 1)
    lines = ["".join(c if c.isprintable() else _escaped(c) for c in line) for line in (*first, rest)]
    told = "cuekit: " + "\n".join(lines)
    if len(told) > MOST_CHARACTERS:  # the mend stands at the end
        told = f"{told[: MOST_CHARACTERS // 2]} ... {told[10 - MOST_CHARACTERS // 2 :]}"
    with suppress(OSError):  # nobody is there to read it
        click.echo(told, err=True)


def _escaped(character: str) -> str:
    return character.encode("unicode_escape").decode("ascii")


def _help_hint(error: click.ClickException) -> str:
    """Where to read how the command is used, for wrong use only."""
    context = error.ctx if isinstance(error, click.UsageError) else None
    return f"\n{context.command_path} --help shows how it is used." if context else ""


def _log(error: Exception) -> str:
    """Write the traceback to a file of its own and say where it is."""
    folder = log_place()
    if folder is None:
        return "What happened could not be written down: there is no home folder."
    path = folder / f"fault-{datetime.datetime.now():%Y%m%d-%H%M%S}.txt"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text("".join(traceback.format_exception(error)), encoding="utf-8", errors="replace")
    except OSError as failure:
        return f"What happened could not be written down: {failure}."
    return f"Please report it with this file:\n{path}"
