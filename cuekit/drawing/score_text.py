"""A score in the lines a teacher reads: the sentence first, then what it rests on, in either language."""

from __future__ import annotations

from textwrap import wrap

from cuekit.drawing.bout_text import draw_bout_text
from cuekit.rhythm.long_share import FEWEST_BEATS
from cuekit.rhythm.measures import Measures
from cuekit.telling.advice import Advice
from cuekit.telling.phrases import Phrases
from cuekit.telling.recording_told import recording_told
from cuekit.telling.scoring import Score

WIDTH_COLUMNS = 78
DRIFT_TOLD_PERCENT = 5.0
"""A change of tempo below this over a bout is not told, %: few beats make as much by chance (proposal)."""


def score_lines(score: Score, phrases: Phrases, *, unicode: bool) -> list[str]:
    """All that is told of a score.

    Parameters
    ----------
    score: of a recording; its advice was made in the language of `phrases`.
    phrases: the language.
    unicode: whether the screen can show more than plain letters.
    """
    title, recording = score.alignment.pattern.title, score.recording
    lines = [score.advice.summary, "", f"{title}, {recording.name}, {recording.duration_s:.0f} s"]
    for warning in recording_told(recording, phrases):
        lines += _indented(phrases.say("score.note", warning=warning))
    if score.advice.heard_reason:
        state = phrases.say(f"score.state.{score.hearing.heard.value.replace(' ', '-')}")
        lines += _indented(phrases.say("score.heard", state=state, reason=score.advice.heard_reason))
    if score.measures.beats:
        lines += ["", *draw_bout_text(score, unicode=unicode), ""]
        lines += _numbers(score.measures, phrases, uneven=score.alignment.pattern.uneven)
    lines += _fault(score.advice, score.alignment.pattern.name, phrases)
    if not score.hearing.footfalls:
        return lines
    return [*lines, "", *_indented(_cannot_tell(score.advice.cannot_tell, phrases))]


def _fault(advice: Advice, pattern: str, phrases: Phrases) -> list[str]:
    """What was heard, the other explanation, the question for the eye, where help is; what else was heard."""
    fault = advice.fault
    if fault is None:
        return []
    rows = [("fault_heard", fault.heard), ("may_also_be", fault.may_also_be), ("ask", fault.ask)]
    rows += [("also_heard", other.heard) for other in advice.other_faults]
    told = [phrases.say(f"score.{key}", text=text) for key, text in rows]
    told.insert(3, phrases.say("score.help", pattern=pattern, fault=fault.id))
    return ["", *(line for text in told for line in _indented(text))]


def _numbers(measures: Measures, phrases: Phrases, *, uneven: bool) -> list[str]:
    """The measures in plain words, each with how many it rests on."""
    on, judged, run = measures.beats_on_pattern, measures.judged_beats, measures.longest_run
    lines = [phrases.say("score.on_pattern", on=on, judged=judged, run=run)]
    if measures.tempo_bpm is not None:
        tempo = f"{measures.tempo_bpm:.0f}"
        lines.append(phrases.say("score.tempo", tempo=tempo, rest=_steadiness(measures, phrases)))
    share = measures.long_share
    if share is not None and uneven and measures.complete_beats >= FEWEST_BEATS:
        values = {"share": share.value, "low": share.low, "high": share.high, "ratio": share.ratio}
        rhythm = phrases.say(f"score.rhythm.{measures.rhythm.value.replace(' ', '-')}")
        lines.append(phrases.say("score.share", rhythm=rhythm, **values))
    return [f"  {line}" for line in lines]


def _steadiness(measures: Measures, phrases: Phrases) -> str:
    """What follows the tempo in its line: the spread, and how it changed."""
    spread, drift = measures.spread_percent, measures.tempo_drift_percent
    steady = "" if spread is None else phrases.say("score.spread", spread=spread)
    if drift is None or abs(drift) < DRIFT_TOLD_PERCENT:
        return steady
    return steady + phrases.say("score.faster" if drift > 0 else "score.slower", drift=abs(drift))


def _cannot_tell(parts: tuple[str, ...], phrases: Phrases) -> str:
    """What the microphone cannot tell, as one sentence: "a; b; or c"."""
    first = "; ".join(parts[:-1])
    return phrases.say("score.cannot_tell" if first else "score.cannot_tell_one", first=first, last=parts[-1])


def _indented(text: str) -> list[str]:
    """A sentence below the first one, in lines; a command in it is not torn at its hyphens."""
    return wrap(
        text, WIDTH_COLUMNS, initial_indent="  ", subsequent_indent="    ",
        break_on_hyphens=False, break_long_words=False,
    )
