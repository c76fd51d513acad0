"""Made bouts for the records: short to write, and known to the number."""

import json
from datetime import UTC, datetime, timedelta

from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import BoutRecord, Conditions, HelpLevel, Numbers
from cuekit.records.learner import Learner
from cuekit.records.store import Store

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


def bout(code="K-07", run=6, days=0, note=""):
    """A gallop with a tone on each footfall, alone."""
    conditions = Conditions("gallop", CueLevel.C4, HelpLevel.I)
    return BoutRecord(code, AT + timedelta(days=days), conditions, Numbers(longest_run=run), note=note)


def heard(footfalls):
    """What was heard of a bout, as JSON, with so many footfalls."""
    return '{"footfalls":[' + ",".join(["1.2345"] * footfalls) + "]}"


def filled(folder, codes=("K-07", "M-12"), each=3):
    """Records with learners, and so many bouts of each, with 0, 1, 2 ... beats in a row."""
    with Store(folder) as store:
        for code in codes:
            store.add(Learner(code))
            for run in range(each):
                store.add(bout(code, run), contract=json.dumps({"file": f"{code.lower()}.wav"}))
    return folder
