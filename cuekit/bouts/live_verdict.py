"""From a take to what is said of it: the chain of scoring, with what only a live bout knows.

The cue is known, so footfalls before it says "go" are left out, its delay is read from the recording,
and what came after it fell silent is told apart. Where the device lost sound the feet before and after
are two bouts: no interval is measured across a gap of unknown length.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from cuekit.bouts.audio_port import Slip, SlipKind
from cuekit.bouts.cue_arrival import for_analysis, read_delay
from cuekit.bouts.cue_leak import EARLY_S, LeakCheck, check_leak
from cuekit.bouts.cued_ear import hear_cued
from cuekit.bouts.gaps import gaps_of, scored
from cuekit.bouts.given import Given
from cuekit.bouts.live import BoutEnd, LiveBout
from cuekit.cues.render import render_blocks
from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.events import Footfall, Hearing, Recording
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import Cue, CueLevel, Schedule
from cuekit.rhythm.asynchrony import Asynchrony
from cuekit.rhythm.cue_timing import CueTimes, against_cue
from cuekit.rhythm.kept import kept_beats
from cuekit.rhythm.measures import timed_beats
from cuekit.telling.cue_faults import cue_faults
from cuekit.telling.phrases import Phrases
from cuekit.telling.scoring import Score

_TROUBLE = {BoutEnd.LOST: "live.lost", BoutEnd.DEAD: "live.dead", BoutEnd.DISK: "live.disk"}
"""What is told of a bout that was cut short."""


@dataclass(frozen=True, eq=False)
class Verdict:
    """All that is told of a live bout.

    Attributes:
        score: as of any recording.
        leak: what the cue did to the recording; None without a cue.
        asynchrony: against the cue; None where its delay is not known, or the hearing not trusted.
        kept: beats kept after the sound stopped; None where it never did.
        alone: beats asked for after it stopped.
        notes: what the teacher should know, each one sentence.
    """

    score: Score
    leak: LeakCheck | None
    asynchrony: Asynchrony | None
    kept: int | None
    alone: int
    notes: tuple[str, ...]


def judge_alone(recording: Recording, bout: LiveBout, pattern: Pattern, phrases: Phrases) -> Verdict:
    """Score a bout without a cue."""
    hearing, gaps_s = detect_footfalls(recording), gaps_of(bout.passage.slips)
    score = scored(recording, hearing, gaps_s, pattern, phrases)
    return Verdict(score, None, None, None, 0, _notes(bout, None, phrases))


def judge_cued(
    recording: Recording,
    bout: LiveBout,
    given: Given,
    phrases: Phrases,
    beyond_buffers_s: float | None = None,
) -> Verdict:
    """Score a bout to a cue.

    Parameters
    ----------
    recording, bout, given : what was heard, how it went, what was played
    phrases : the language
    beyond_buffers_s : delay of this pair of devices beside the computer's buffers from an earlier check,
        s, used where the cue cannot be heard in the recording; None without one
    """
    schedule, lead_in_s = given.schedule, given.track.lead_in_s
    delay = read_delay(recording.samples, for_analysis(render_blocks(given.track)))
    stamped_s = bout.passage.stamped_delay_s
    carried_s = None if stamped_s is None or beyond_buffers_s is None else stamped_s + beyond_buffers_s
    delay_s = delay.delay_s if delay.delay_s is not None else carried_s
    late_s = lead_in_s + (delay_s if delay_s is not None else stamped_s or 0.0)
    go_s = schedule.go_s + late_s
    hearing = hear_cued(recording, go_s, go_s - EARLY_S)
    leak = check_leak(recording, hearing, delay, schedule, lead_in_s)
    hearing = _without(hearing, leak.in_step)
    score = _scored_after_go(recording, hearing, bout, given, late_s, phrases)
    known = delay_s is not None and leak.trusted and not bout.passage.slips
    timing = _timing_told(hearing, score, schedule, late_s, phrases, known=known) if leak.trusted else ()
    return Verdict(
        score=score,
        leak=leak,
        asynchrony=_asynchrony(score, schedule, late_s) if known else None,
        kept=_kept(score, schedule, late_s),
        alone=_alone(schedule),
        notes=(*_notes(bout, leak, phrases), *timing),
    )


def judge_seen(recording: Recording, bout: LiveBout, given: Given, phrases: Phrases) -> Verdict:
    """Score a bout to a cue that was only seen: a marker that follows the clock of the recording.

    When a marker reaches the eye is not known to some hundredths of a second, so nothing is said of
    early or late.
    """
    late_s = given.track.lead_in_s
    score = _scored_after_go(recording, detect_footfalls(recording), bout, given, late_s, phrases)
    kept, alone = _kept(score, given.schedule, late_s), _alone(given.schedule)
    return Verdict(score, None, None, kept, alone, _notes(bout, None, phrases))


def _scored_after_go(
    recording: Recording, hearing: Hearing, bout: LiveBout, given: Given, late_s: float, phrases: Phrases
) -> Score:
    """Scored against the pattern and tempo asked for, without the count-in, when nobody was to move."""
    schedule = given.schedule
    moved = _from(hearing, schedule.go_s + late_s - EARLY_S)
    tempo_bpm = schedule.plan.tempo_bpm if schedule.plan.tempo_change_percent == 0.0 else None
    gaps_s = gaps_of(bout.passage.slips)
    return scored(recording, moved, gaps_s, schedule.pattern, phrases, tempo_bpm)


def _without(hearing: Hearing, cues: tuple[Footfall, ...]) -> Hearing:
    """Without footfalls that were the cue."""
    kept = tuple(footfall for footfall in hearing.footfalls if footfall not in cues)
    return replace(hearing, footfalls=kept)


def _from(hearing: Hearing, start_s: float) -> Hearing:
    """Those from a time on."""
    kept = tuple(footfall for footfall in hearing.footfalls if footfall.time_s >= start_s)
    return replace(hearing, footfalls=kept)


def _asynchrony(score: Score, schedule: Schedule, late_s: float) -> Asynchrony | None:
    """The leads heard against the cues that sounded."""
    cue = _cue_times(schedule, late_s, delay_checked=True)
    return against_cue(_leads_s(score, cue), cue) if cue is not None else None


def _timing_told(
    hearing: Hearing, score: Score, schedule: Schedule, late_s: float, phrases: Phrases, *, known: bool
) -> tuple[str, ...]:
    """What is told of the start, and of early or late where the delay is known: the finding, then the
    other explanation."""
    cue = _cue_times(schedule, late_s, delay_checked=known)
    if cue is None:
        return ()
    found = cue_faults(hearing.footfalls, _leads_s(score, cue), cue)
    return tuple(
        phrases.say(f"fault.{fault.id}.{part}", **dict(fault.values))
        for fault in found
        for part in ("heard", "may_also_be")
    )


def _cue_times(schedule: Schedule, late_s: float, *, delay_checked: bool) -> CueTimes | None:
    """When the cues that start beats and sounded reached the microphone; None where none did."""
    sounded = [cue for cue in schedule.footfalls if cue.gain_db is not None and cue.place == 0]
    if not sounded:
        return None
    leads_s = tuple(cue.time_s + late_s for cue in sounded)
    return CueTimes(leads_s, 60.0 / schedule.plan.tempo_bpm, delay_checked)


def _leads_s(score: Score, cue: CueTimes) -> list[float]:
    """Footfalls that start beats, while the cue sounded, s."""
    until_s = cue.leads_s[-1] + 0.5 * cue.beat_s
    rows = zip(score.alignment.footfalls, score.alignment.places, strict=True)
    return [each.time_s for each, place in rows if place and place[1] == 0 and each.time_s < until_s]


def _silent(schedule: Schedule) -> list[Cue]:
    """Footfalls asked for after the cue fell silent; none where there never was one."""
    if schedule.plan.level is CueLevel.C0:
        return []
    return [cue for cue in schedule.footfalls if cue.gain_db is None]


def _alone(schedule: Schedule) -> int:
    """Beats asked for after the cue fell silent."""
    return len({cue.beat for cue in _silent(schedule)})


def _kept(score: Score, schedule: Schedule, late_s: float) -> int | None:
    """Beats kept in the bout that was under way when the cue stopped; None where it never did."""
    silent = _silent(schedule)
    if not silent:
        return None
    silent_from_s, period_s = silent[0].time_s + late_s, 60.0 / schedule.plan.tempo_bpm
    rows = [timed_beats(score.alignment, bout) for bout in score.alignment.bouts]
    under_way = [
        row
        for row, bout in zip(rows, score.alignment.bouts, strict=True)
        if bout.start_s <= silent_from_s <= bout.end_s + period_s
    ]
    accepted = score.alignment.pattern.accepted
    return kept_beats(under_way[0], silent_from_s, period_s, accepted) if under_way else 0


def _lost_told(lost: tuple[Slip, ...], phrases: Phrases) -> str:
    """Where sound was lost, and how much as far as it is known."""
    gaps_s, lost_s = gaps_of(lost) or (0.0,), sum(slip.lost_s or 0.0 for slip in lost)
    key = "live.gap" if len(gaps_s) == 1 else "live.gaps"
    key = f"{key}_known" if lost_s else key
    return phrases.say(key, at_s=gaps_s[0], gaps=len(gaps_s), lost_s=lost_s)


def _notes(bout: LiveBout, leak: LeakCheck | None, phrases: Phrases) -> tuple[str, ...]:
    """What went wrong on the way."""
    told = _TROUBLE.get(bout.end)
    notes = [phrases.say(told, at_s=bout.until_s)] if told else []
    lost = tuple(slip for slip in bout.passage.slips if slip.kind is SlipKind.LOST_INPUT)
    if lost:
        notes.append(_lost_told(lost, phrases))
    elif bout.passage.slips:
        notes.append(phrases.say("live.late"))
    if leak is not None and leak.advice is not None:
        notes.append(
            phrases.say(
                leak.advice,
                ghosts=leak.ghosts,
                in_step=len(leak.in_step),
                counted=leak.counted,
                above_db=leak.above_feet_db or 0.0,
                at_s=leak.delay.jumped_at_s or 0.0,
            )
        )
    return tuple(notes)
