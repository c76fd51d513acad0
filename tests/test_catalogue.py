"""The catalogue of sentences: the same in both languages, easy to read, and free of what must not be said."""

import re
import string
import tomllib
import warnings

import pytest

from cuekit.errors import PatternError
from cuekit.shipped import shipped_folder
from cuekit.teaching import ladder_files, supports
from cuekit.telling.phrases import load_phrases

EN, ES = load_phrases("en").sentences, load_phrases("es").sentences
PAGES = {language: load_phrases(language, "report").sentences for language in ("en", "es")}
SCREEN = {language: load_phrases(language, "screen").sentences for language in ("en", "es")}
GRADE, GRADE_OF_ONE_SENTENCE = 6.0, 7.0
"""A table reads at grade 6 or below; one sentence of it may be a grade harder."""
FAIRLY_EASY = 70.0
"""Fernandez Huerta 1959: 70 to 80 is fairly easy, about the sixth school year (scale from memory)."""
FORMULAS_NEED_WORDS = 8
"""Both formulas were made for passages; on a few words they jump by whole grades."""

with warnings.catch_warnings():  # it finds its own files in a way that setuptools has come to warn of
    warnings.simplefilter("ignore")
    from textstat import textstat


def fields(sentence):
    """The {names} of a sentence with how they are written."""
    return sorted((name, spec) for _, name, spec, _ in string.Formatter().parse(sentence) if name)


def plain(sentence):
    """A sentence as read: a number for each {name}, ended by a stop."""
    text = re.sub(r"\{[^}]*\}", "5", sentence).replace("\n", " ").strip()
    return text if text[-1] in ".?!" else f"{text}."


def passages(sentences):
    """All sentences of a table as one passage each; what `cuekit demo` tells of commands is left out."""
    tables = {}
    for key, sentence in sentences.items():
        table = key.split(".")[0]
        if table != "demo":
            tables.setdefault(table, []).append(plain(sentence))
    return {table: " ".join(rows) for table, rows in tables.items()}


def long_enough(sentences):
    """Sentences that are long enough for a formula, by key."""
    rows = {key: plain(sentence) for key, sentence in sentences.items() if not key.startswith("demo.")}
    return {key: row for key, row in rows.items() if len(row.split()) >= FORMULAS_NEED_WORDS}


FOLDERS = {
    "ladders": ladder_files.SHIPPED,
    "supports": supports.SHIPPED,
    "patterns": shipped_folder("patterns"),
}
TOLD = {"title", "beat", "side", "heard_when_right", "easier", "harder", "task", "eye", "see", "say", "show"}
TOLD |= {"touch", "use", "change", "why", "who", "cue", "measure", "watch", "picture", "equipment"}
TOLD |= {"rhythm_words", "shape_words"}
"""Keys of the data files whose text is for people."""


def told_by_data(folder, language, skipped=()):
    """Every text for people in the ladders, supports or patterns, with the file it is in."""
    for path in sorted(FOLDERS[folder].glob("*.toml")):
        if path.stem not in skipped:
            table = tomllib.loads(path.read_text(encoding="utf-8"))
            yield from ((path.stem, text) for text in _told(table, language) if text)


def _told(table, language):
    """The texts of a table and of those in it; in English where they have no other."""
    for key, value in table.items():
        if key in TOLD and isinstance(value, str) and not _is_side(value):
            yield table.get(f"{key}_{language}", value) if language != "en" else value
        inner = value if isinstance(value, list) else [value]
        for one in inner:
            if isinstance(one, dict):
                yield from _told(one, language)


def _is_side(value):
    """Whether it is the side of a segment or of a step, one of a few words of the format."""
    return value in ("right", "left", "better", "other", "each")


def without_spanish(table, place):
    """Keys with a text for people that has none in Spanish."""
    for key, value in table.items():
        told = key in TOLD and isinstance(value, str) and value and not _is_side(value)
        if told and not table.get(f"{key}_es", "").strip():
            yield f"{place}, {key}: {value}"
        for n, one in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(one, dict):
                yield from without_spanish(one, f"{place}, {key} {n + 1}")


def test_spanish_has_a_sentence_for_every_english_one():
    assert set(ES) == set(EN)


def test_the_printed_pages_say_in_spanish_all_they_say_in_english():
    english, spanish = PAGES["en"], PAGES["es"]
    assert [key for key, text in english.items() if fields(spanish[key]) != fields(text)] == []


def test_the_screen_says_in_spanish_all_it_says_in_english():
    english, spanish = SCREEN["en"], SCREEN["es"]
    assert [key for key, text in english.items() if fields(spanish[key]) != fields(text)] == []
    assert set(english) == set(spanish)


def test_the_printed_pages_read_as_easily():
    textstat.set_lang("en_US")
    hard = {key: textstat.flesch_kincaid_grade(text) for key, text in long_enough(PAGES["en"]).items()}
    assert len(hard) > 10
    assert {key: grade for key, grade in hard.items() if grade > GRADE_OF_ONE_SENTENCE} == {}


@pytest.mark.parametrize("key", EN)
def test_both_languages_fill_in_the_same_names(key):
    assert fields(ES[key]) == fields(EN[key])


def test_a_language_without_sentences_says_which_there_are():
    with pytest.raises(PatternError, match="choose one of en, es"):
        load_phrases("fr")


@pytest.mark.parametrize("table", passages(EN))
def test_english_reads_at_grade_six_or_below(table):
    textstat.set_lang("en_US")
    assert textstat.flesch_kincaid_grade(passages(EN)[table]) <= GRADE


@pytest.mark.parametrize("key", long_enough(EN))
def test_no_long_english_sentence_is_above_grade_seven(key):
    textstat.set_lang("en_US")
    assert textstat.flesch_kincaid_grade(long_enough(EN)[key]) <= GRADE_OF_ONE_SENTENCE


@pytest.mark.parametrize("table", passages(ES))
def test_spanish_is_fairly_easy_or_easier(table):
    textstat.set_lang("es")
    assert textstat.fernandez_huerta(passages(ES)[table]) >= FAIRLY_EASY


def by_file(folder, language):
    """The texts of each file as one passage."""
    files = {}
    for name, text in told_by_data(folder, language):
        files.setdefault(name, []).append(plain(text))
    return {name: " ".join(rows) for name, rows in files.items()}


@pytest.mark.parametrize("folder", ["ladders", "supports"])
def test_ladders_and_supports_read_at_grade_six_or_below(folder):
    textstat.set_lang("en_US")
    grades = {name: textstat.flesch_kincaid_grade(text) for name, text in by_file(folder, "en").items()}
    assert len(grades) >= 8
    assert {name: grade for name, grade in grades.items() if grade > GRADE} == {}


@pytest.mark.parametrize("folder", ["ladders", "supports"])
def test_ladders_and_supports_are_fairly_easy_in_spanish(folder):
    textstat.set_lang("es")
    ease = {name: textstat.fernandez_huerta(text) for name, text in by_file(folder, "es").items()}
    assert {name: value for name, value in ease.items() if value < FAIRLY_EASY} == {}


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_text_for_people_in_the_data_is_there_in_spanish(folder):
    tables = {
        path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in FOLDERS[folder].glob("*.toml")
    }
    assert len(tables) >= 8
    assert [place for name, table in tables.items() for place in without_spanish(table, name)] == []


OTHER_WORDS = re.compile(r"\b(pulsos?|destrezas?|tempos?|paso \{number\}|salto largo)\b", re.IGNORECASE)
"""A beat is tiempo, a skill habilidad, the tempo velocidad, a step of a ladder escalón, a leap zancada."""


def test_spanish_has_one_word_for_one_thing():
    tables = {**ES, **PAGES["es"], **SCREEN["es"]}
    data = {text for folder in FOLDERS for _, text in told_by_data(folder, "es")}
    said = [re.sub(r"\{(?!number)[^}]*\}|--tempo", "", text) for text in (*tables.values(), *data)]
    assert len(said) > 500
    assert [text for text in said if OTHER_WORDS.search(text)] == []


def test_a_text_without_spanish_is_seen():
    steps = [{"task": "Hop.", "task_es": "Saltar."}, {"task": "Jump."}]
    assert list(without_spanish({"title": "Hop", "step": steps}, "hop")) == [
        "hop, title: Hop",
        "hop, step 2, task: Jump.",
    ]


def test_the_reading_check_sees_a_hard_sentence():
    textstat.set_lang("en_US")
    hard = "Asymmetrical interlimb coordination necessitates individualized rhythmical intervention methodologies."
    assert textstat.flesch_kincaid_grade(hard) > 12


NEVER = {
    "a score out of 100": r"\bscore of\b|/ ?100\b|out of 100|\d points\b|\d puntos",
    "a rank or norm": r"percentile|percentil|norm(s|al)?\b|average child|age level|for (his|her|their) age|grade level",
    "a judgement": r"immature|inmadur|\bweak|débil|poor(ly)? |uncoordinated|clumsy|torpe|abnormal|anormal|delayed",
    "a diagnosis": r"autis|syndrome|síndrome|palsy|parálisis|\bDCD\b|dyspraxi|disorder|trastorno|disabilit",
    "praise for a swing or force": r"slight swing|louder is|stamp harder",
}
"""What no sentence may say; a microphone cannot know it, or it helps no child."""
ALL = [
    *((f"en {key}", text) for key, text in EN.items()),
    *((f"es {key}", text) for key, text in ES.items()),
    *((f"{language} page {key}", text) for language, page in PAGES.items() for key, text in page.items()),
    *((f"{language} screen {key}", text) for language, page in SCREEN.items() for key, text in page.items()),
    *(
        row
        for folder in FOLDERS
        for language in ("en", "es")
        for row in told_by_data(folder, language, skipped={supports.ADAPTATIONS})
    ),  # in the adaptations a teacher looks up a child by need
]


@pytest.mark.parametrize("what", NEVER)
def test_nothing_in_the_catalogue_says(what):
    found = [(where, text) for where, text in ALL if re.search(NEVER[what], text, re.IGNORECASE)]
    assert found == []


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("a score out of 100", "That is 73 out of 100"),
        ("a rank or norm", "at the 20th percentile"),
        ("a judgement", "an immature pattern, left leg weak"),
        ("a diagnosis", "typical of autism"),
    ],
)
def test_the_scan_sees_what_it_looks_for(what, text):
    assert re.search(NEVER[what], text, re.IGNORECASE)
