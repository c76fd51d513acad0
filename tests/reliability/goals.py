"""The goals R1 to R20 with their bars, and what is seen of each.

Each is measured anew when it is asked for. `quick` tries a few of everything, for the ordinary tests.
"""

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.reliability import (
    broken_recordings,
    damaged_stores,
    failing_disk,
    fuzz,
    guided,
    killed_saves,
    long_listening,
    mutated_sounds,
    torture,
    whole_commands,
)


@dataclass(frozen=True)
class Seen:
    """What was seen of a goal.

    Attributes:
        told: in numbers.
        met: whether the bar is met; None where it could not be measured.
    """

    told: str
    met: bool | None


@dataclass(frozen=True)
class Goal:
    """A goal.

    Attributes:
        name: R and its number.
        what: in a few words.
        bar: what it takes.
        measure: measures it; True for a quick look.
    """

    name: str
    what: str
    bar: str
    measure: Callable[[bool], Seen]


@cache
def _tortured(quick: bool) -> tuple[torture.Result, ...]:
    cases = torture.thirds()[::8] if quick else list(range(len(torture.all_cases())))
    return tuple(torture.run_all(cases))


def hostile_input(quick: bool) -> Seen:
    results = _tortured(quick)
    bad = [result.name for result in results if result.faults]
    return Seen(f"{len(results) - 1} commands, {len(bad)} failed{_some(bad)}", not bad and (quick or len(results) > 300))


def parsers(quick: bool) -> Seen:
    found = [fuzz.fuzz(subject, 200 if quick else 20_000) for subject in fuzz.SUBJECTS]
    told = "; ".join(f"{one.subject} {one.examples}" for one in found)
    escaped = [f"{one.subject}: {one.escaped}" for one in found if one.escaped]
    enough = all(one.examples >= (100 if quick else 20_000) for one in found)
    return Seen(f"{told}; {len(escaped)} escaped{_some(escaped)}", not escaped and enough)


def mutated(quick: bool) -> Seen:
    found = mutated_sounds.read_mutated(500 if quick else 100_000)
    bad = (*found.escaped, *map(str, found.slow), *found.crashed)
    told = (
        f"{found.files} files, {found.read} read, {found.refused} refused, {len(found.crashed)} crashes, {len(found.slow)} over "
        f"{mutated_sounds.HANG_S:g} s, {len(found.escaped)} escaped, peak {found.peak_mb:.0f} MB{_some(bad)}"
    )
    return Seen(told, not bad and found.peak_mb < 400)


def guided_files(quick: bool) -> Seen:
    if not guided.can_guide():
        return Seen("not run: needs the extra \"fuzz\" (Linux and macOS)", None)
    found = guided.guide(guided.SUBJECTS, 5 if quick else 300)
    escaped = [f"{one.subject}: {one.escaped}" for one in found if one.escaped]
    told = "; ".join(f"{one.subject} {one.runs} files, {one.reached} branches" for one in found)
    return Seen(f"{told}; {len(escaped)} escaped{_some(escaped)}", not escaped and all(one.runs > 100 for one in found))


def killed_commands(quick: bool) -> Seen:
    with tempfile.TemporaryDirectory() as folder:
        found = killed_saves.kill_commands(Path(folder), 10 if quick else 500, seed=1)
    return _killed(found, 2 if quick else 150)


def killed_store(quick: bool) -> Seen:
    with tempfile.TemporaryDirectory() as folder:
        found = killed_saves.kill_while_storing(Path(folder), 10 if quick else 2_000, seed=1)
    return _killed(found, 10 if quick else 2_000)


def _killed(found: killed_saves.Killed, least: int) -> Seen:
    told = f"{found.kills} killed, {found.said} bouts acknowledged, {found.lost} lost, {found.halves} half, {len(found.problems)} problems"
    return Seen(told, found.kept and found.kills >= least)


def failing_writes(quick: bool) -> Seen:
    if not failing_disk.can_fail():
        return Seen("not run: needs a C compiler on Linux", None)
    with tempfile.TemporaryDirectory() as once, tempfile.TemporaryDirectory() as ever:
        every = 40 if quick else 1
        found = [failing_disk.fail_everywhere(Path(place), ever_after=after, every=every) for place, after in ((once, False), (ever, True))]
    wrong = [what for one in found for what in one.wrong]
    told = f"{found[0].places} calls; once: {found[0].runs} runs, {found[0].refused} refused; from then on: {found[1].runs}, {found[1].refused}; {len(wrong)} wrong{_some(wrong)}"
    return Seen(told, not wrong)


def recordings(quick: bool) -> Seen:
    count = 3 if quick else 100
    killed, stopped = broken_recordings.kill_while_recording(count, 1), broken_recordings.stop_while_recording(count, 1)
    told = (
        f"{killed.kills} killed at {killed.recorded_s[0]:.1f} to {killed.recorded_s[1]:.0f} s: at most {killed.most_lost_s:.2f} s lost, {killed.unread} not "
        f"found; {stopped.stops} stopped: {stopped.stored} stored (at most {1000 * stopped.most_lost_s:.0f} ms lost), {stopped.while_scoring} kept as a take, "
        f"{stopped.before_start} before the start, {len(stopped.wrong)} wrong{_some(stopped.wrong)}"
    )
    return Seen(told, killed.most_lost_s <= 1.0 and not killed.unread and stopped.most_lost_s < 0.022 and not stopped.wrong)


def soak(quick: bool) -> Seen:
    found = long_listening.listen(0.7 if quick else 8.0)
    told = (
        f"{found.hours:g} h, {found.footfalls} footfalls: memory {found.grown_mb:+.1f} MB, files {found.files_more:+d}, queue {found.waiting}, {found.lost_s:.3f} s lost, told after "
        f"{found.delay_first_ms:.0f} then {found.delay_last_ms:.0f} ms (p99), last round {found.off_ms:+.1f} ms off (95 % within {found.off_most_ms:.1f}), "
        f"{found.drift_ms:.3f} ms drift, {100 * found.heard_share:.0f} % heard"
    )
    steady = abs(found.delay_last_ms / found.delay_first_ms - 1) <= 0.1
    right = abs(found.off_ms) <= 2.0 and found.off_most_ms <= 2.0 and found.drift_ms <= 2.0
    return Seen(told, found.grown_mb <= 5.0 and found.files_more == 0 and found.waiting == 0 and found.lost_s == 0 and steady and right)


def gaps(quick: bool) -> Seen:
    found = broken_recordings.lose_sound(5 if quick else 100, 1)
    told = f"{found.gaps} gaps, {found.reported} reported, {found.across} intervals across one"
    return Seen(told, found.reported == found.gaps and found.across == 0)


def lost_devices(quick: bool) -> Seen:
    found = broken_recordings.lose_device(3 if quick else 50, 1)
    told = f"{found.losses} losses, {found.kept} kept, {found.told} told, ended within {found.longest_s:.2f} s"
    return Seen(told, found.kept == found.told == found.losses and found.longest_s <= 3.0)


def long_file(quick: bool) -> Seen:
    found = whole_commands.score_long_file(0.1 if quick else 3.0, stops=1 if quick else 3)
    told = f"{found.hours:g} h at 44.1 kHz: {found.took_s:.0f} s of the processor, peak {found.peak_mb:.0f} MB, Ctrl-C answered in {found.answered_s:.2f} s"
    return Seen(told, found.code == 0 and found.peak_mb < 400 and found.took_s < 60 and found.answered_s < 1.0)


def versions(quick: bool) -> Seen:
    with tempfile.TemporaryDirectory() as folder:
        found = damaged_stores.open_versions(Path(folder))
    told = f"{found.released} versions, {found.opened} opened and sound, {found.backed_up} backed up first; one to come unchanged: {found.future_unchanged}"
    return Seen(told, found.opened == found.released and found.backed_up == found.released - 1 and found.future_unchanged)


def deletion(quick: bool) -> Seen:
    with tempfile.TemporaryDirectory() as folder:
        found = damaged_stores.forget_one_of(Path(folder), 20 if quick else 200, 5 if quick else 25)
    told = f"{found.learners} learners, {found.bouts} bouts: {found.before} traces before, {found.traces} after, {found.others} of others gone, {found.took_s:.1f} s"
    return Seen(told, found.before > 0 and found.traces == 0 and found.others == 0)


def damage(quick: bool) -> Seen:
    with tempfile.TemporaryDirectory() as folder:
        found = damaged_stores.damage(Path(folder), 30 if quick else 500, 1)
    told = (
        f"{found.tried} files: {found.noticed} noticed, {found.harmless} harmless, {len(found.altered)} altered unsaid{_some(found.altered)}, "
        f"{found.long} said at length, {found.touched} touched"
    )
    return Seen(told, not found.altered and not found.long and not found.touched)


def screen(quick: bool) -> Seen:
    try:
        from tests.screen.probes import run_probes
    except ImportError:
        return Seen("not run: tests/screen/probes.py is not there", None)
    found = run_probes()
    bad = [probe.name for probe in found if not probe.passed]
    return Seen(f"{len(found)} probes, {len(bad)} failed{_some(bad)}", not bad and len(found) >= 44)


def messages(quick: bool) -> Seen:
    refused = [result for result in _tortured(quick) if result.code != 0]
    kinds = ("lines", "characters", "does not name", "no mend", "steering")
    bad = [result.name for result in refused if any(kind in fault for fault in result.faults for kind in kinds)]
    longest = max(len(result.err) for result in refused)
    return Seen(f"{len(refused)} refusals, the longest {longest} characters, {len(bad)} at fault{_some(bad)}", not bad)


def no_network(quick: bool) -> Seen:
    if not whole_commands.can_trace():
        return Seen("not run: needs strace", None)
    found = whole_commands.trace_lesson()
    told = f"{found.commands} commands, {found.calls} calls on sockets, {len(found.beyond)} beyond this computer{_some(found.beyond)}; sound card: {'yes' if found.live else 'none'}"
    return Seen(told, not found.beyond)


def backups(quick: bool) -> Seen:
    with tempfile.TemporaryDirectory() as here, tempfile.TemporaryDirectory() as there:
        found = killed_saves.back_up_while_storing(Path(here), Path(there) / "data", 50 if quick else 1_000)
    told = f"{len(found.rows)} backups during {found.saves} saves, {len(found.wrong)} wrong{_some(found.wrong)}; {found.restored} rows restored elsewhere"
    return Seen(told, not found.wrong and found.restored == found.rows[-1])


def start(quick: bool) -> Seen:
    found = whole_commands.start()
    told = f"--help {found.help_s:.2f} s, --version {found.version_s:.2f} s, loaded: {', '.join(found.heavy) or 'nothing heavy'}, bare: {found.bare}"
    return Seen(told, max(found.help_s, found.version_s) < 0.5 and not found.heavy and found.bare)


def _some(bad) -> str:
    """The first few of what is wrong."""
    return f" ({', '.join(bad[:3])[:300]})" if bad else ""


GOALS = (
    Goal("R1", "hostile input", "300 commands or more, all pass", hostile_input),
    Goal("R2", "parsers", "20,000 examples each, only our own errors", parsers),
    Goal("R3", "mutated sound", "100,000 files, 0 crashes, 0 over 2 s, under 400 MB", mutated),
    Goal("R4", "files grown by coverage", "0 finds in 5 minutes each (an hour each before a release)", guided_files),
    Goal("R5", "save killed, whole command", "500 saves, 150 killed, 0 lost, 0 half", killed_commands),
    Goal("R6", "store killed, tight loop", "2,000 kills, 0 lost, 0 half", killed_store),
    Goal("R7", "every write may fail", "old state whole, three lines, no stray file", failing_writes),
    Goal("R8", "recording killed or stopped", "at most 1.0 s lost; 0 s by Ctrl-C, stored", recordings),
    Goal("R9", "8 h of listening", "5 MB, p99 within 10 %, within 2 ms, no growth", soak),
    Goal("R10", "gaps", "all reported, 0 intervals across", gaps),
    Goal("R11", "device lost", "kept and ended in 3 s", lost_devices),
    Goal("R12", "file of 3 h", "under 400 MB, 60 s, Ctrl-C in 1 s", long_file),
    Goal("R13", "old and new records", "all open, backed up; a later one untouched", versions),
    Goal("R14", "deletion", "200 learners, 5,000 bouts: 0 traces", deletion),
    Goal("R15", "damaged records", "500 flips, cuts: said or harmless", damage),
    Goal("R16", "screen attacked", "44 probes or more, all pass", screen),
    Goal("R17", "messages", "3 lines, 600 characters, thing, mend, no controls", messages),
    Goal("R18", "no network", "0 calls beyond this computer", no_network),
    Goal("R19", "backup while storing", "a state that was; restored", backups),
    Goal("R20", "start", "under 0.5 s, nothing heavy, works bare", start),
)
