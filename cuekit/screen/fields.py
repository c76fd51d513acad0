"""What can be set of a bout to come, as fields of the page."""

from __future__ import annotations

from collections.abc import Sequence

from cuekit.cues.tones import tone_set_names
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import HelpLevel, Mode
from cuekit.screen.plan import FEWEST_BEATS, MOST_BEATS, Marker, Planned
from cuekit.screen.view import Field, Kind, Option
from cuekit.telling.phrases import Phrases

_LEVELS = (CueLevel.C5, CueLevel.C4, CueLevel.C3, CueLevel.C2, CueLevel.C1)


def fields_of(planned: Planned, phrases: Phrases) -> tuple[Field, ...]:
    """The fields, in the order in which they are most often changed."""
    tempo, say = planned.pattern.tempo, phrases.say
    side = (_choice("side", planned.pattern.side, Side, phrases),) if planned.pattern.side_means else ()
    none = Option("", say("set.help_none"))
    given = tuple(Option(level.value, say(f"help.{level}")) for level in HelpLevel)
    return (
        Field(
            "tempo_bpm", say("set.tempo_bpm"), Kind.NUMBER, f"{planned.tempo_bpm:g}", tempo.low, tempo.high, 2
        ),
        *side,
        Field("beats", say("set.beats"), Kind.NUMBER, str(planned.beats), FEWEST_BEATS, MOST_BEATS, 2),
        _choice("level", planned.level, _LEVELS, phrases, words="cue"),
        Field("full", say("set.full"), Kind.NUMBER, str(planned.full), 0, MOST_BEATS, 1),
        Field("sounds", say("set.sounds"), Kind.SWITCH, "true" if planned.sounds else "false"),
        _choice("marker", planned.marker, Marker, phrases),
        _choice("mode", planned.mode, Mode, phrases),
        Field("help", say("set.help"), Kind.CHOICE, planned.help_level or "", options=(none, *given)),
        Field("tones", say("set.tones"), Kind.CHOICE, planned.tones, options=_tones(phrases)),
    )


def _choice(name: str, value: str, values: Sequence[str], phrases: Phrases, words: str = "") -> Field:
    """One of several values, each with its words."""
    options = tuple(Option(str(one), phrases.say(f"{words or name}.{one}")) for one in values)
    return Field(name, phrases.say(f"set.{name}"), Kind.CHOICE, str(value), options=options)


def _tones(phrases: Phrases) -> tuple[Option, ...]:
    return tuple(Option(name, phrases.say(f"tones.{name}")) for name in tone_set_names())
