"""What the teacher reads after a live bout: the one sentence first."""

from __future__ import annotations

from cuekit.bouts.session import Done
from cuekit.records.bout_record import Mode
from cuekit.rhythm.asynchrony import Asynchrony
from cuekit.telling.phrases import Phrases
from cuekit.telling.recording_told import recording_told


def told_live(done: Done, phrases: Phrases, mode: Mode = Mode.FEET) -> list[str]:
    """The lines after a bout: the sentence, what made the rhythm, what was kept, the time against the
    cue, notes. Whatever made it, it is judged alike; only where it was not the feet is it named."""
    verdict = done.verdict
    measures = verdict.score.measures
    lines = [verdict.score.advice.summary]
    if mode is not Mode.FEET:
        lines.append(f"  {phrases.say(f'live.mode.{mode}')}")
    if measures.beats:
        on, judged, run = measures.beats_on_pattern, measures.judged_beats, measures.longest_run
        lines.append(f"  {phrases.say('live.on_pattern', on=on, judged=judged, run=run)}")
    if verdict.kept is not None and verdict.score.hearing.footfalls:
        kept = "live.kept" if verdict.leak is not None else "live.kept_unseen"
        lines.append(f"  {phrases.say(kept, kept=verdict.kept, alone=verdict.alone)}")
    if verdict.asynchrony is not None:
        lines.append(f"  {_against_cue(verdict.asynchrony, phrases)}")
    elif verdict.leak is not None and measures.beats:
        lines.append(f"  {phrases.say('live.no_cue_time')}")
    if done.interrupted:
        lines.append(f"  {phrases.say('live.stopped_early')}")
    warnings = recording_told(verdict.score.recording, phrases)
    return lines + [f"  {note}" for note in (*verdict.notes, *warnings)]


def _against_cue(found: Asynchrony, phrases: Phrases) -> str:
    side = phrases.say("live.early" if found.median_s < 0 else "live.after")
    return phrases.say(
        "live.with_cue",
        middle_ms=abs(1000 * found.median_s),
        side=side,
        spread_ms=1000 * found.spread_s,
        count=found.count,
    )
