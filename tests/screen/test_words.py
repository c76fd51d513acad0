"""The words on the screen: the same in both languages, easy to read, all of them used."""

import re
from pathlib import Path

import pytest
from test_catalogue import GRADE_OF_ONE_SENTENCE, fields, long_enough, textstat

import cuekit.screen
from cuekit.screen.past import VALUE_TABLES
from cuekit.telling.phrases import load_phrases

ENGLISH, SPANISH = (load_phrases(language, "screen").sentences for language in ("en", "es"))
FOLDER = Path(cuekit.screen.__file__).parent
SOURCES = "".join(path.read_text(encoding="utf-8") for path in sorted(FOLDER.rglob("*.[pj][ys]")))
SAID_BY_VALUE = re.compile(r'f"(?:\{words or name\}|(\w+))\.\{')
"""Tables whose keys are put together from a value."""


def test_both_languages_say_the_same():
    assert set(ENGLISH) == set(SPANISH)
    assert [key for key in ENGLISH if fields(ENGLISH[key]) != fields(SPANISH[key])] == []


def test_the_sentences_read_at_grade_seven_or_below():
    textstat.set_lang("en_US")
    grades = {key: textstat.flesch_kincaid_grade(text) for key, text in long_enough(ENGLISH).items()}
    assert len(grades) > 10
    assert {key: grade for key, grade in grades.items() if grade > GRADE_OF_ONE_SENTENCE} == {}


@pytest.mark.parametrize("key", ENGLISH)
def test_every_sentence_is_used(key):
    table, _, rest = key.partition(".")
    by_value = {*SAID_BY_VALUE.findall(SOURCES), *VALUE_TABLES.values(), "marker"}
    by_name = table == "do" and f'"{rest}"' in SOURCES  # the label of the action of that name
    used = f'"{key}"' in SOURCES or table in by_value - {"do"} or by_name or f"texts.{rest}" in SOURCES
    assert used, "take it out, or use it"
