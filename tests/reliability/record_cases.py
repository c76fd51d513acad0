"""Records to which something happened, and files that are none: said, never overwritten, never begun anew."""

from tests.reliability import record_worlds as worlds
from tests.reliability.cases import Case, Ends, World

READ, CHECK, ADD = ("bouts", "K-07"), ("records", "check"), ("count", "--learner", "K-07", "--run", "5", "--cue", "C4", "--help-level", "I")
SPOILT = {
    "empty": (worlds.holding(b""), ("is empty", "restore")),
    "one byte": (worlds.holding(b"S"), ("not a records file",)),
    "text": (worlds.holding(b"K-07,gallop,5\n" * 300), ("not a records file",)),
    "zeros": (worlds.holding(bytes(8192)), ("not a records file",)),
    "somebody else's": (worlds.foreign, ("not a records file",)),
    "a version to come": (worlds.newer, ("newer version",)),
    "only a header": (worlds.cut(100), ()),
    "one page": (worlds.cut(4096), ()),
    "cut in the middle": (worlds.cut(9000), ()),
    "lost, with a backup": (worlds.lost_but_backed_up, ("missing", "restore")),
    "emptied, with a backup": (worlds.emptied_but_backed_up, ("is empty", "restore")),
    "a link": (worlds.linked, ("not an ordinary file",)),
    "a folder": (worlds.a_folder, ("not an ordinary file",)),
    "a pipe": (worlds.a_pipe, ("not an ordinary file",)),
    "data is a file": (worlds.data_is_a_file, ("data",)),
    "a waiting bout that is none": (worlds.with_waiting(b'{"id": NaN}'), ("waiting",)),
    "a waiting bout whose identity is a list": (worlds.with_waiting(worlds.waiting_by([1])), ("waiting",)),
    "a waiting bout of brackets": (worlds.with_waiting(b"[" * 100_000), ("waiting",)),
}


def spoilt_cases() -> list[Case]:
    """Read, checked and added to: refused each time, and not a byte of it changed."""
    return [
        Case(f"records {what}: {' '.join(words[:2])}", words, Ends.REFUSED_OR_WRONG_USE, names, world=World(prepare=prepare))
        for what, (prepare, names) in SPOILT.items()
        for words in (READ, CHECK, ADD)
    ]  # fmt: skip


def damaged_cases() -> list[Case]:
    """Bytes changed: harmless or said."""
    cases = []
    for seed in range(12):
        world = World(prepare=worlds.flipped(seed, 1 + 3 * (seed % 4)))
        cases.append(Case(f"records with bytes flipped {seed}", CHECK, Ends.DONE_OR_REFUSED, writes=("data/backups",), world=world))
    world = World(prepare=worlds.with_foreign_log)
    cases.append(Case("a log of something else beside the records", READ, Ends.DONE_OR_REFUSED, writes=("data/*",), world=world))
    return cases  # fmt: skip


def file_cases() -> list[Case]:
    """Files given as records, backups or locked files."""
    world, cases = World(prepare=worlds.with_rubbish), []
    for file in ("empty.db", "text.db", "cut.db", "header.db", "folder.db", "pipe.db", "loop.db", "gone.db", "x" * 300, "/dev/zero"):
        for command in (("merge",), ("records", "restore")):
            cases.append(Case(f"{command[-1]} {file[:12]}", (*command, file), names=(file[:12],), world=world))
    for file in ("text.age", "cut.age", "folder.db", "gone.age", "pipe.db"):
        cases.append(Case(f"unlock {file}", ("records", "unlock", file, "--out", "o.db"), names=(file,) if file != "cut.age" else (), world=world))
    cases.append(Case("lock without a terminal", ("export", "K-07", "--out", "o.json.age"), names=("passphrase",), world=World(prepare=worlds.kept)))
    cases.append(Case("a copy that is not locked", ("records", "backup", "--out", "o.db"), names=("o.db", ".age"), world=World(prepare=worlds.kept)))
    cases.append(Case("no such learner", ("bouts", "Z-99"), Ends.DONE_OR_REFUSED, world=World(prepare=worlds.kept)))
    cases.append(Case("backup from scratch", ("records", "restore"), names=("backup",), world=World(prepare=worlds.kept)))
    cases.append(Case("forget is confirmed first", ("forget", "K-07"), Ends.STOPPED, world=World(prepare=worlds.kept)))
    return cases  # fmt: skip


def record_cases() -> list[Case]:
    """All cases of records."""
    return [*spoilt_cases(), *damaged_cases(), *file_cases()]
