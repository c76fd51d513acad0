"""The schema of the records file, and the steps from each older one.

One table holds every noun as a line of JSON, appended and never changed: a newer version of a goal or
of a learner's settings is a newer row with the same `about`. So nothing is lost by a correction, and
two files are merged by their row identities. The contract of a bout (all its footfalls) lies apart,
so that lists need not read it.
"""

from __future__ import annotations

APPLICATION_ID = 0x43754B54
"""Marks the file as ours in SQLite's header: "CuKT"."""

MIGRATIONS = (
    """
    CREATE TABLE entries (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        id TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        about TEXT NOT NULL,
        version INTEGER NOT NULL,
        code TEXT NOT NULL,
        stored_at TEXT NOT NULL,
        record TEXT NOT NULL
    ) STRICT;
    CREATE INDEX entries_by_code ON entries (code, kind, number);
    CREATE INDEX entries_by_kind ON entries (kind, code);
    CREATE TABLE contracts (
        bout TEXT PRIMARY KEY REFERENCES entries (id),
        contract TEXT NOT NULL
    ) STRICT;
    """,
    # The own tempo of a learner is one of a skill, where it was said which; before, there was one for all.
    """
    UPDATE entries SET record = json_set(
        record,
        '$.own_tempo_bpm', NULL,
        '$.own_tempi', json_array(json_object(
            'pattern', json_extract(record, '$.skill'), 'bpm', json_extract(record, '$.own_tempo_bpm')
        ))
    )
    WHERE kind = 'learner'
      AND json_extract(record, '$.own_tempo_bpm') IS NOT NULL
      AND json_extract(record, '$.skill') <> '';
    """,
    # A sum over each row (`cuekit.records.row_sums`).
    """
    ALTER TABLE entries ADD COLUMN sum INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE contracts ADD COLUMN sum INTEGER NOT NULL DEFAULT 0;
    UPDATE entries SET sum = row_sum(id, kind, about, version, code, stored_at, record);
    UPDATE contracts SET sum = row_sum(bout, contract);
    """,
)
"""Step n takes a file from version n to n + 1. A released step is never edited."""
