"""What is about to sound, in one line: the bout, what carries the rhythm and why, how the cue leaves."""

from __future__ import annotations

from fractions import Fraction

from cuekit.cues.cueing import Kind, Took
from cuekit.cues.words import Clash, WordFit
from cuekit.patterns.schedule import Fade, Schedule
from cuekit.telling.phrases import Phrases


def bout_told(title: str, schedule: Schedule, took: Took, phrases: Phrases) -> str:
    """The line before a bout.

    Parameters
    ----------
    title: of the pattern, in the language of `phrases`.
    schedule: what is to be moved.
    took: how it sounds.
    phrases: the language.
    """
    plan, share = schedule.plan, schedule.pattern.share
    ratio = phrases.say("cue.ratio", ratio=_ratio(share.default)) if share else ""
    cue = cue_told(took, phrases) + _fade_told(plan.fade, plan.beats, phrases)
    return phrases.say("cue.bout", title=title, beats=plan.beats, tempo=plan.tempo_bpm, ratio=ratio, cue=cue)


def cue_told(took: Took, phrases: Phrases) -> str:
    """What carries the rhythm, and why not words where they were asked for."""
    if took.kind is Kind.GLIDE:
        return phrases.say("cue.glide")
    if took.fit is None:
        count = {None: "cue.tones", True: "cue.count_then_tones", False: "cue.count_unfit"}[took.counted]
        return phrases.say(count)
    told = _words_told(took.fit, phrases)
    if took.counted is False:
        return told + phrases.say("cue.count_in_tones")
    return told + (phrases.say("cue.only_count") if took.counted and not any(took.fit.words) else "")


def _words_told(fit: WordFit, phrases: Phrases) -> str:
    pace = phrases.say("cue.plain" if fit.speed == 1 else "cue.faster", speed=fit.speed)
    if fit.clash is None:
        return phrases.say("cue.words" if any(fit.words) else "cue.tones", pace=pace)
    why = _clash_told(fit.clash, phrases)
    if not any(fit.words):
        return phrases.say("cue.tones_as", why=why)
    if not fit.fewer:
        return phrases.say("cue.words_as", pace=pace, why=why)
    spoken = phrases.say("cue.and").join(dict.fromkeys(f'"{word.text}"' for word in fit.words if word))
    return phrases.say("cue.some_words", spoken=spoken, pace=pace, why=why)


def _clash_told(clash: Clash, phrases: Phrases) -> str:
    names = (clash.text, clash.following)
    text, following = (f'"{name}"' if name else phrases.say("cue.a_tone") for name in names)
    return phrases.say("cue.clash", text=text, following=following, needed=clash.needed_s, gap=clash.gap_s)


def _fade_told(fade: Fade, beats: int, phrases: Phrases) -> str:
    """How the cue leaves within the bout; nothing where it stays."""
    if fade.full is None or fade.full >= beats:
        return ""
    softer = min(fade.softer, beats - fade.full)
    silent = beats - fade.full - softer
    parts = ((fade.full, "cue.full"), (softer, "cue.softer"), (silent, "cue.silent"))
    return "; " + ", ".join(phrases.say(key, beats=n) for n, key in parts if n)


def _ratio(share: Fraction) -> str:
    """2/3 as "2:1"."""
    return f"{share.numerator}:{share.denominator - share.numerator}"
