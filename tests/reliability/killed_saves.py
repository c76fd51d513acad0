"""Goals R5, R6 and R19: the program killed while it stores, and backed up while it stores."""

import json
import multiprocessing
import os
import random
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from cuekit.records.learner import Learner
from cuekit.records.store import Store
from cuekit.records.store_check import check, restore, try_backup
from cuekit.records.store_file import back_up
from tests.made_records import AT, bout, heard

ROOT = Path(__file__).parents[2]
KILLS_A_FOLDER = 100
"""Then a fresh folder is begun, as looking at every row after each kill takes longer and longer."""


@dataclass(frozen=True)
class Killed:
    """What became of bouts under kills.

    Attributes:
        kills: how often the program was killed before it had said that it was done.
        said: bouts that it said were stored.
        lost: those that are not there.
        halves: bouts of which only a part is there.
        problems: what the checks said.
    """

    kills: int
    said: int
    lost: int
    halves: int
    problems: tuple[str, ...]

    @property
    def kept(self) -> bool:
        """Whether nothing was lost."""
        return not (self.lost or self.halves or self.problems)


def store_without_end(folder: Path, told: int) -> None:
    """Store bouts in a row; the identity of each is written to a pipe once it is stored."""
    with Store(folder) as store:
        os.write(told, b"open\n")
        for run in range(10**6):
            entry = store.add(bout(run=run), contract=heard(60))
            os.write(told, f"{entry.id}\n".encode())


def kill_while_storing(folder: Path, kills: int, seed: int) -> Killed:
    """Kill a process that stores in a row, at random moments; its start is among them."""
    rng, parts = random.Random(seed), []
    for first in range(0, kills, KILLS_A_FOLDER):
        place = folder / str(first)
        place.mkdir()
        parts.append(_kill_in(place, min(KILLS_A_FOLDER, kills - first), rng))
    return Killed(
        kills=kills,
        said=sum(part.said for part in parts),
        lost=sum(part.lost for part in parts),
        halves=sum(part.halves for part in parts),
        problems=tuple(problem for part in parts for problem in part.problems),
    )


def _kill_in(folder: Path, kills: int, rng: random.Random) -> Killed:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.reliability.killed_saves"])
    said, lost, halves, problems = set(), 0, 0, []
    for _ in range(kills):
        reader, writer = context.Pipe(duplex=False)
        child = context.Process(target=_child, args=(folder, writer))
        child.start()
        writer.close()
        if rng.random() < 0.9:
            reader.poll(30)
        time.sleep(rng.uniform(0.0, 0.12))
        child.kill()
        child.join()
        said |= set(_lines(reader))
        with Store(folder) as store:
            there = {row[0] for row in store.connection.execute("SELECT id FROM entries")}
            (whole,) = store.connection.execute("PRAGMA integrity_check").fetchone()
            sql = "SELECT count(*) FROM entries WHERE kind = 'bout' AND id NOT IN (SELECT bout FROM contracts)"
            halves += store.connection.execute(sql).fetchone()[0]
        lost += len(said - there)
        problems += [] if whole == "ok" else [whole]
    with Store(folder) as store:
        problems += check(store, AT).problems
    return Killed(kills, len(said), lost, halves, tuple(problems))


def _child(folder: Path, writer) -> None:
    store_without_end(folder, writer.fileno())


def _lines(reader) -> list[str]:
    """Identities in a pipe whose writer is dead; the last line may be broken off."""
    content = b""
    while part := os.read(reader.fileno(), 65_536):
        content += part
    reader.close()
    return [line.decode() for line in content.split(b"\n")[:-1] if len(line) == 16]


def kill_commands(folder: Path, saves: int, seed: int) -> Killed:
    """Kill whole commands at 0.5 to 1.4 times their usual length; each 20th time the records are checked."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "CUEKIT_DATA": str(folder)}
    words = [sys.executable, "-m", "cuekit", "count", "--learner", "K-07", "--run", "5", "--cue", "C4", "--help-level", "I"]
    with Store(folder) as store:
        store.add(Learner("K-07", skill="hop"))
    rng, said, killed, problems, usual_s = random.Random(seed), 0, 0, [], _usual_s(words, environment)
    said += 3
    for n in range(saves):
        save = subprocess.Popen(words, env=environment, stdout=subprocess.PIPE, text=True)
        try:
            out, _ = save.communicate(timeout=usual_s * rng.uniform(0.5, 1.4))
        except subprocess.TimeoutExpired:
            save.kill()
            out, _ = save.communicate()
            killed += 1
        said += "Stored as bout" in out
        if n % 20 == 19:
            usual_s = _usual_s(words, environment)  # a machine shared with others changes its pace
            said += 3
            with Store(folder) as store:
                problems += check(store, AT).problems
    with Store(folder) as store:
        kept = store.bouts("K-07")
        problems += check(store, AT).problems
    halves = sum(one.stored.numbers.longest_run != 5 for one in kept)
    return Killed(killed, said, max(0, said - len(kept)), halves, tuple(problems))


def _usual_s(words: list[str], environment: dict[str, str]) -> float:
    """The middle of three saves, s."""
    took_s = []
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run(words, env=environment, check=True, capture_output=True)
        took_s.append(time.perf_counter() - start)
    return sorted(took_s)[1]


@dataclass(frozen=True)
class BackedUp:
    """What became of backups made while another program stored.

    Attributes:
        saves: bouts stored by the other program at the time of the last backup.
        rows: how many rows each backup holds.
        wrong: backups that are no state that was, each in a few words.
        restored: rows that came back from the last one in another folder.
    """

    saves: int
    rows: tuple[int, ...]
    wrong: tuple[str, ...]
    restored: int


def back_up_while_storing(folder: Path, elsewhere: Path, saves: int) -> BackedUp:
    """Back up again and again until another process has stored so many bouts; each is tried and compared."""
    context = multiprocessing.get_context("forkserver")
    reader, writer = context.Pipe(duplex=False)
    child = context.Process(target=_child, args=(folder, writer))
    child.start()
    writer.close()
    reader.poll(30)
    rows, wrong, last = [], [], None
    try:
        with Store(folder) as store:
            while not rows or rows[-1] < saves:
                os.read(reader.fileno(), 65_536)  # so that the other is never held up
                backup = back_up(store.connection, folder, AT, "asked")
                count, problems = try_backup(backup, folder)
                wrong += [f"{backup.name}: {problem}" for problem in problems]
                with closing(sqlite3.connect(backup)) as copy:
                    texts = [row[0] for row in copy.execute("SELECT record FROM entries ORDER BY number")]
                runs = [json.loads(text)["numbers"]["longest_run"] for text in texts]
                wrong += [] if runs == list(range(count)) else [f"{backup.name}: no beginning of the row"]
                rows.append(count)
                if last is not None:
                    last.unlink()
                last = backup
    finally:
        child.kill()
        child.join()
        reader.close()
    restored, _ = restore(elsewhere, last, AT)
    with Store(elsewhere) as store:
        wrong += check(store, AT).problems
    return BackedUp(rows[-1], tuple(rows), tuple(wrong), restored)
