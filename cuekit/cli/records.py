"""`cuekit records`, `export`, `forget` and `merge`: the file itself, what leaves it, what is deleted."""

from __future__ import annotations

import getpass
import warnings
from pathlib import Path

import click

from cuekit.cli.record_options import (
    Code,
    code_argument,
    data_option,
    now,
    open_store,
    still_needed,
    tell_of_copies,
)
from cuekit.errors import RecordError
from cuekit.files.atomic import write_bytes
from cuekit.files.filenames import shown
from cuekit.patterns.pattern_files import list_patterns
from cuekit.records.export import as_csv, as_json
from cuekit.records.learner import Learner
from cuekit.records.locking import (
    ENDING,
    check_library,
    check_locked,
    check_passphrase,
    lock,
    read_whole,
    write_private,
)
from cuekit.records.locking import unlock as unlock_content
from cuekit.records.nameless import FIRST_DAY, drawn_code, nameless
from cuekit.records.put_away import bring_out, put_away
from cuekit.records.store import ExportNote
from cuekit.records.store_check import check as check_store
from cuekit.records.store_check import restore as restore_backup
from cuekit.records.store_check import try_backup
from cuekit.records.store_file import PUT_AWAY, back_up, backups_in, default_folder, refusing
from cuekit.records.store_forget import Receipt
from cuekit.records.store_forget import forget as forget_code
from cuekit.records.store_merge import merge as merge_files

KEEP_IT_SAFE = "Without the passphrase it opens for nobody; cuekit does not keep it."
FILE = click.Path(path_type=Path)


@click.group()
def command() -> None:
    """The records file: where it is, whether it is sound, backups."""


@command.command()
@data_option()
def where(folder: Path | None) -> None:
    """Show the folder of the records and its backups."""
    folder = folder or default_folder()
    put_away_now = " (put away: cuekit records bring-out)" if (folder / PUT_AWAY).exists() else ""
    click.echo(f"Records: {shown(folder)}{put_away_now}")
    tell_of_copies(folder)
    for backup in backups_in(folder):
        click.echo(f"  backup {shown(backup.name)}")


@command.command()
@data_option()
def check(folder: Path | None) -> None:
    """Check every page and every row, and bring a fresh backup back on trial."""
    with open_store(folder) as store:
        report = check_store(store, now())
        tell_of_copies(store.folder)
        reminder = still_needed(store)
    if report.problems:
        found = "; ".join(report.problems[:3])[:400]
        raise RecordError(
            f"the records have a problem: {found}.\nBring back a backup with: cuekit records restore."
        )
    click.echo(f"All is sound: {report.entries} rows, {report.restored} came back in a trial restore.")
    make_one = " Make one: cuekit records backup" if not report.backups else ""
    click.echo(f"Backups: {report.backups}.{make_one}")
    for line in reminder:
        click.echo(line)


@command.command()
@click.argument("code", type=Code(), required=False)
@data_option()
def given(code: str | None, folder: Path | None) -> None:
    """List what left the records, of CODE or of all: day, learner, to whom, why, file."""
    with open_store(folder) as store:
        if code is not None:
            store.learner(code)
        notes = sorted((entry.noun for entry in store.entries(ExportNote, code)), key=lambda one: one.at)
    for one in notes:
        to, why = one.given_to or "(to whom: not entered)", one.purpose or "(why: not entered)"
        click.echo(f"{one.at:%Y-%m-%d %H:%M}  {one.learner:<10} {to}  {why}  {shown(Path(one.file))}")
    if not notes:
        click.echo("Nothing left the records yet.")


@command.command()
@click.option("--out", "path", type=FILE, metavar="FILE.db.age", help="Also a copy to take away, locked.")
@data_option()
def backup(path: Path | None, folder: Path | None) -> None:
    """Make a dated backup, and try it; with --out, a copy locked with a passphrase too."""
    if path is not None and path.suffix.lower() != ENDING:
        raise RecordError(f'{shown(path.name)}: a copy to take away is locked; end the name in "{ENDING}"')
    passphrase = None if path is None else new_passphrase()
    with open_store(folder) as store:
        with refusing(store.path):
            made = back_up(store.connection, store.folder, now(), "asked")
        rows, problems = try_backup(made, store.folder)
        if problems:
            raise RecordError(f"the backup is not sound: {problems[0]}")
        click.echo(f"{shown(made)}: {rows} rows, tried.")
        if path is not None and passphrase is not None:
            write_bytes(path, lock(read_whole(made), passphrase), refusal=RecordError)
            for entry in store.entries(Learner):
                store.add(ExportNote(entry.noun.code, now(), str(path.absolute()), "backup"))
            click.echo(f"{shown(path)}: the same, locked. {KEEP_IT_SAFE}")


@command.command("put-away")
@data_option()
def put_away_(folder: Path | None) -> None:
    """Lock the records and their backups with a passphrase, until they are brought out again."""
    passphrase = new_passphrase()
    with open_store(folder) as store:  # what waits beside the records is taken in first
        place = store.folder
    number = put_away(place, passphrase)
    click.echo(f"Put away: {number} files locked. {KEEP_IT_SAFE}")


@command.command("bring-out")
@data_option()
def bring_out_(folder: Path | None) -> None:
    """Open the records again that were put away."""
    check_library()
    number, left = bring_out(folder or default_folder(), known_passphrase())
    click.echo(f"Brought out: {number} files opened.")
    for path in left:
        click.echo(f"Not opened by this passphrase: {shown(path)}")


@command.command()
@click.argument("file", type=FILE)
@click.option("--out", "path", type=FILE, metavar="FILE", help="Where to; FILE without .age where left out.")
def unlock(file: Path, path: Path | None) -> None:
    """Open a locked FILE with its passphrase, into a new file that only you may read."""
    if path is None and file.suffix.lower() != ENDING:
        raise RecordError(f"{shown(file.name)} does not end in {ENDING}: say where to with --out FILE")
    goal = path or file.with_suffix("")
    check_library()
    locked = read_whole(file)
    check_locked(locked, shown(file.name))
    write_private(goal, unlock_content(locked, known_passphrase(), shown(file.name)))
    click.echo(f"{shown(goal)} written, not locked: delete it when you no longer need it.")


@command.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@data_option()
def restore(file: Path | None, folder: Path | None) -> None:
    """Bring back the backup FILE, or the newest one; what was there is set aside, not deleted."""
    folder = folder or default_folder()
    found = backups_in(folder)
    if file is None and not found:
        raise RecordError(f"there is no backup in {shown(folder)}: name a FILE")
    chosen = file or found[-1]
    rows, aside = restore_backup(folder, chosen, now())
    click.echo(f"{rows} rows came back from {shown(chosen.name)}.")
    if aside is not None:
        click.echo(f"What was there lies in {shown(aside)}.")


@click.command()
@code_argument()
@click.option("--out", "path", type=FILE, required=True, metavar="FILE.json|FILE.csv[.age]")
@click.option("--to", "given_to", default="", metavar="WHO", help="Who is given it: a role, no name.")
@click.option("--for", "purpose", default="", metavar="TEXT", help="Why; both are kept in records given.")
@data_option()
def export(code: str, path: Path, given_to: str, purpose: str, folder: Path | None) -> None:
    """Write everything on CODE as JSON, or its bouts as a table (CSV) for a spreadsheet.

    A name that ends in .json.age or .csv.age is locked with a passphrase, which is asked for.
    """
    locked = path.suffix.lower() == ENDING
    ending = (path.with_suffix("") if locked else path).suffix.lower()
    if ending not in (".json", ".csv"):
        raise RecordError(
            f'{shown(path.name)}: end the name in ".json" (everything) or ".csv" (bouts),\n'
            f'or in ".json{ENDING}" or ".csv{ENDING}" to lock it with a passphrase'
        )
    with open_store(folder) as store:
        store.learner(code)
        passphrase = new_passphrase() if locked else None
        store.add(ExportNote(code, now(), str(path.absolute()), purpose, given_to))
        text = as_json(store, code) if ending == ".json" else as_csv(store.bouts(code))
        content = text.encode("utf-8", "surrogateescape")
        written = content if passphrase is None else lock(content, passphrase)
        write_bytes(path, written, refusal=RecordError)
    click.echo(f"{shown(path)} written. It is noted that it left the records.")
    if locked:
        click.echo(KEEP_IT_SAFE)


@click.command()
@code_argument()
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option(
    "--keep-numbers", is_flag=True, help="Keep the numbers of its bouts, with nothing that tells whose."
)
@data_option()
def forget(code: str, yes: bool, keep_numbers: bool, folder: Path | None) -> None:
    """Delete everything on CODE, out of backups too, and search the raw files for what is left."""
    with open_store(folder) as store:
        bouts = store.bouts(code)
        if not yes:
            click.confirm(asked(code, len(bouts), bool(store.entries(Learner, code))), abort=True)
        drawn = drawn_code()
        stay = nameless(bouts, drawn, list_patterns()) if keep_numbers else ()
        receipt = forget_code(store, code, (Learner(drawn), *stay) if stay else ())
    click.echo("\n".join(told(receipt)))
    for path in sorted(store.folder.rglob(f"*{ENDING}")):
        click.echo(f"  Locked, so not searched: {shown(path)}")
    if stay:
        since = f"{FIRST_DAY:%Y-%m-%d}"
        click.echo(f"  {len(stay)} bouts stay as {drawn}: numbers only, days counted from {since}.")
    if receipt.traces:
        left = ", ".join(shown(name) for name in receipt.left_in[:4])
        raise RecordError(
            f"{receipt.traces} traces of {code} are left in {left}: delete what you do not need"
        )


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@data_option()
def merge(file: Path, folder: Path | None) -> None:
    """Take in the records of another laptop from its records FILE or a backup; nothing is doubled."""
    with open_store(folder) as store:
        found = merge_files(store, file)
    click.echo(
        f"{found.entries} rows taken in, {found.bouts} of them bouts; {found.known} were known already."
    )
    if found.codes:
        click.echo(f"New codes: {', '.join(found.codes)}. If one was forgotten here, forget it again.")


def asked(code: str, bouts: int, known: bool) -> str:
    """The question before a deletion; a code mistyped is told, and one left in backups alone can still go."""
    if known:
        return f"Delete everything on {code} for good, bouts: {bouts}?"
    return f"{code} is not in these records. Delete what their backups still hold on it?"


def told(receipt: Receipt) -> list[str]:
    """The receipt in lines."""
    lines = [
        f"Deletion receipt for {receipt.code}, {now():%Y-%m-%d %H:%M}",
        f"  {receipt.entries} rows deleted from the records; backups gone through: {receipt.backups}.",
        f"  {receipt.notes} notes of other learners no longer mention it.",
        f"  {receipt.traces} traces found in {receipt.files} files searched byte by byte.",
        "  Not in reach: copies made elsewhere, other backups of this computer, worn parts of a disk.",
    ]
    return [*lines, *(f"  Written earlier, delete it yourself: {shown(file)}" for file in receipt.exports)]


def new_passphrase() -> str:
    """A passphrase asked for twice, not shown, so that a slip of a finger does not lock the file for good.

    Raises:
        RecordError: it is too short, the two differ, or there is no terminal to ask on.
    """
    check_library()
    passphrase = known_passphrase("Passphrase, four words or more: ")
    check_passphrase(passphrase)
    if known_passphrase("The same again: ") != passphrase:
        raise RecordError("the two passphrases differ: nothing was written, try again")
    return passphrase


def known_passphrase(prompt: str = "Passphrase: ") -> str:
    """A passphrase asked for on the terminal, not shown; never an option, which other programs could read.

    Raises:
        RecordError: there is no terminal that could hide it.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", getpass.GetPassWarning)
            return getpass.getpass(prompt)
    except (getpass.GetPassWarning, EOFError):
        raise RecordError(
            "a passphrase is asked for in a terminal, where it can be hidden: run this in one"
        ) from None
