"""Words where they fit, tones where they do not, and the teacher is told which."""

import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.cues.cueing import choose_cues, choose_glide
from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.cues.tones import tone_set
from cuekit.cues.voice import Voice, Word
from cuekit.cues.words import load_voice
from cuekit.errors import PatternError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Plan, Role, make_schedule
from cuekit.telling.cue_told import cue_told
from cuekit.telling.phrases import load_phrases
from tests.made_pattern import gallop

WOOD = tone_set("wood")
COUNTED = ("one", "two", "ready", "go")


def word(text, head_s, tail_s, speed):
    samples = np.full(round((head_s + tail_s) * SAMPLE_RATE_HZ), 0.1, dtype=np.float32)
    return Word(text, speed, Sound(samples, head_s), 0.01)


def voice(head_s=0.08, tail_s=0.20):
    """A speaker of the words above, each `head_s` + `tail_s` long at their own speed, shorter when faster."""
    texts = ("step", "hop", *COUNTED)
    return Voice("made", tuple(word(text, head_s / v, tail_s / v, v) for text in texts for v in (1.0, 1.3)))


def chosen_at(tempo_bpm, level=CueLevel.C5, speaker=None, **plan):
    schedule = make_schedule(gallop(), Plan(tempo_bpm, 12, level, **plan))
    return schedule, choose_cues(schedule, WOOD, speaker or voice())


def told(chosen):
    return cue_told(chosen.took, load_phrases())


def spoken_roles(schedule, chosen):
    return {cue.role for cue in schedule.cues if len(chosen.sounds_for(cue)) == 2}


def test_without_a_voice_there_are_tones_only():
    schedule = make_schedule(gallop(), Plan(60, 4, CueLevel.C5))
    chosen = choose_cues(schedule, WOOD)
    assert all(chosen.sounds_for(cue) == (WOOD.sound_for(cue),) for cue in schedule.cues)
    assert told(chosen) == "tones only"


@pytest.mark.parametrize(
    ("tempo_bpm", "head_s", "roles", "said"),
    [
        (60, 0.08, {Role.COUNT, Role.LONG, Role.SHORT}, "words at their own speed"),  # 0.30 s needed, 0.33 there
        (80, 0.08, {Role.COUNT, Role.LONG, Role.SHORT}, "words 1.3 times as fast"),  # 0.235 s of 0.25
        (110, 0.08, {Role.COUNT, Role.LONG}, '"step" at their own speed, tones for the rest'),
        (
            160,
            0.10,
            {Role.COUNT, Role.LONG},
            '"step" 1.3 times as fast, tones for the rest',
        ),  # tone and head in 0.125 s
    ],
)
def test_the_faster_the_fewer_words_in_the_stated_order(tempo_bpm, head_s, roles, said):
    schedule, chosen = chosen_at(tempo_bpm, speaker=voice(head_s))
    assert spoken_roles(schedule, chosen) == roles
    assert told(chosen).startswith(said)


def test_words_longer_than_any_gap_leave_tones_and_say_why():
    schedule, chosen = chosen_at(100, speaker=voice(head_s=0.3, tail_s=0.9))
    assert spoken_roles(schedule, chosen) == set()
    assert re.match('tones only, as "(step|hop)" would run into "(hop|step)"', told(chosen))
    assert told(chosen).endswith("the count in tones, as its words do not fit")


def test_below_the_fullest_level_only_the_count_is_spoken():
    schedule, chosen = chosen_at(100, CueLevel.C4)
    assert spoken_roles(schedule, chosen) == {Role.COUNT}
    assert told(chosen) == "the count is spoken, then tones only"


def test_where_only_the_count_can_be_spoken_the_teacher_is_told():
    speaker = voice(head_s=0.2, tail_s=0.15)
    schedule, chosen = chosen_at(120, speaker=speaker)
    assert spoken_roles(schedule, chosen) == {Role.COUNT}
    assert told(chosen).endswith("only the count is spoken")


def test_a_tone_under_a_word_is_half_as_high():
    schedule, chosen = chosen_at(60)
    spoken, tone = chosen.sounds_for(schedule.footfalls[0])
    assert spoken.samples.size > tone.samples.size
    alone = WOOD.sound_for(schedule.footfalls[0])
    assert np.abs(tone.samples).max() == pytest.approx(np.abs(alone.samples).max() / 2, rel=0.01)


def test_words_are_fitted_to_the_fastest_turn_of_a_bout_that_speeds_up():
    _, steady = chosen_at(60)
    _, quickening = chosen_at(60, tempo_change_percent=60.0)
    assert told(steady) == "words at their own speed"
    assert told(quickening) != told(steady)


def test_a_word_the_voice_cannot_say_is_refused():
    mute = Voice("made", (word("step", 0.1, 0.1, 1.0),))
    with pytest.raises(PatternError, match='"made" has no word "hop"'):
        choose_cues(make_schedule(gallop(), Plan(60, 4, CueLevel.C5)), WOOD, mute)


@given(
    tempo_bpm=st.floats(40, 160),
    head_s=st.floats(0.01, 0.2),
    tail_s=st.floats(0.05, 0.5),
    change=st.sampled_from([-20.0, 0.0, 20.0]),
)
@settings(max_examples=60, deadline=None)
def test_no_word_ever_runs_into_the_next_sound(tempo_bpm, head_s, tail_s, change):
    schedule, chosen = chosen_at(
        min(tempo_bpm, 130) if change > 0 else tempo_bpm,
        speaker=voice(head_s, tail_s),
        tempo_change_percent=change,
    )
    for cue, following in pairwise(schedule.cues):
        here, after = chosen.sounds_for(cue), chosen.sounds_for(following)
        if len(here) == 2:
            end_s = cue.time_s + here[0].tail_s
            assert end_s <= following.time_s - max(sound.head_s for sound in after[:1]) + 1e-6


def test_a_glide_is_counted_in_with_tones():
    schedule = make_schedule(gallop(), Plan(100, 8))
    chosen = choose_glide(schedule, WOOD)
    heard = {cue.role for cue in schedule.cues if chosen.sounds_for(cue)}
    assert heard == {Role.COUNT}
    assert chosen.glide.times_s.size == 1 + len(schedule.footfalls)
    assert "glide" in told(chosen)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", ["gallop", "skip", "walk"])
@pytest.mark.parametrize("count_in", [0, 1, 2, 4, 12])
def test_the_shipped_voice_counts_every_pattern_in_in_its_language(language, name, count_in):
    """A Spanish lesson is counted in in Spanish, to the end."""
    pattern = load_pattern(name, language=language)
    schedule = make_schedule(pattern, Plan(90.0, 4, CueLevel.C5, count_in=count_in))
    counted = [cue.word for cue in schedule.cues if cue.role is Role.COUNT]
    assert len(counted) == count_in
    assert not counted or counted[-1] == {"en": "go", "es": "ya"}[language]
    said = {cue.word for cue in schedule.cues if cue.word}
    chosen = choose_cues(schedule, tone_set("wood"), load_voice(language, only=said))
    assert all(chosen.sounds_for(cue) for cue in schedule.cues)
