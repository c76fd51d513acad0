"""Views with content as long as it gets: nine learners, sentences of 25 words, thirty bouts. All invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from cuekit.drawing.bout_plot import draw_bout
from cuekit.hearing.events import Footfall, Heard, Hearing, Recording
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan, make_schedule
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark, HelpLevel, Numbers, Seen, Source
from cuekit.records.goal_steps import proposed
from cuekit.records.goals import Criterion, Goal, Measure, evaluate
from cuekit.records.keeping import heard_bouts, numbers_of
from cuekit.records.learner import Learner as KeptLearner
from cuekit.reports.report_data import Period, report_data
from cuekit.screen.mending import begun, struck
from cuekit.screen.mending import chosen as choose
from cuekit.screen.past import goal_plot
from cuekit.screen.picture import free_picture, picture_of
from cuekit.screen.shelf import Goals
from cuekit.screen.show import help_key, page_texts
from cuekit.screen.show_past import shown_goal, shown_goal_set, shown_mend, shown_reason
from cuekit.screen.state import At, State
from cuekit.screen.view import Action, ChildPicture, Field, Kind, Option, Part, Picture, Row, Value, View
from cuekit.simulation.simulate import Learner, perform
from cuekit.teaching.ladder_files import load_ladder
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import score_hearing

MAIN = ("Space", "Enter", "PageDown")
CODES = ("K-07", "M-12", "T-03", "R-21", "D-05", "B-09", "P-14", "N-02", "SECOND-GRADE-11")
WORDS = {
    "en": {
        "learners": ("Who is next?", "Choose a code, or play without keeping records."),
        "plan": ("Gallop", "Step G5: gallop to the tones, right foot in front. Four of five on two days so far: the next try may finish this step, then softer tones."),
        "told": ("Heard", "Long-short for eight of twelve beats, then the short sound came too late four times; try the same again, a little slower, with the words."),
        "bout": ("Now", "Count in, then go."),
        "history": ("So far", ""),
        "settings": ("Change", "Gallop, right: 16 beats, 100 a minute, tones."),
        "help": ("What a microphone cannot tell", "It hears when feet land, not how they look."),
        "child": ("Well listened", "You made long-short five times in a row! Now try it like a horse on a soft, wide road."),
        "eye": ("Yes, as on the card", "No, it was another step", "The foot in front changed", "Not seen", "Right foot in front", "Left foot in front"),
        "cautions": ("No jumping until the note from the doctor is here.", "Keep the sound soft: this learner wears ear defenders in the hall."),
    },
    "es": {
        "learners": ("¿Quién sigue?", "Elige un código, o juega sin guardar nada."),
        "plan": ("Galope", "Paso G5: galope con los tonos, pie derecho delante. Cuatro de cinco en dos días hasta ahora: el próximo intento puede terminar este paso y seguir más bajo."),
        "told": ("Se oyó", "Largo-corto en ocho de doce tiempos, luego el sonido corto llegó tarde cuatro veces; haz lo mismo otra vez, un poco más lento, con las palabras."),
        "bout": ("Ahora", "Se cuenta y luego ya."),
        "history": ("Hasta ahora", ""),
        "settings": ("Cambiar", "Galope, derecha: 16 tiempos, 100 por minuto, tonos."),
        "help": ("Lo que un micrófono no puede decir", "Oye cuándo caen los pies, no cómo se ven."),
        "child": ("Bien escuchado", "¡Hiciste largo-corto cinco veces seguidas! Ahora prueba como un caballo en un camino blando y ancho."),
        "eye": ("Sí, como en la tarjeta", "No, fue otro paso", "Cambió el pie de delante", "No se vio", "Pie derecho delante", "Pie izquierdo delante"),
        "cautions": ("Sin saltos hasta que llegue la nota del médico.", "Sonido bajo: este alumno usa orejeras en la sala."),
    },
}  # fmt: skip


def words(language, key):
    return load_phrases(language, "screen").sentences[key]


def view(name, language="en", **rest):
    title, lead = WORDS[language].get(name) or (words(language, f"{'do' if name == 'more' else 'steps'}.{name}"), "")
    usual = {"title": title, "who": "K-07", "lead": lead, "texts": page_texts(load_phrases(language, "screen"))}
    return View(name, language, **(usual | rest))


def key(language, name, keys, part=Part.PLAIN, hint="", **rest):
    return Action(name, words(language, f"do.{name}"), part, tuple(keys), hint or keys[0].upper(), **rest)


def main(language, name, *more):
    return Action(name, words(language, f"do.{name}"), Part.MAIN, (*MAIN, *more), "Space")


def learners(language="en"):
    tiles = [
        Action("choose", code, Part.CHOICE, (str(n),), str(n), (Value("code", code),))
        for n, code in enumerate(CODES, start=1)
    ]
    new = Field("code", words(language, "learners.new"), Kind.TEXT, "")
    keys = (key(language, "more", "m"), key(language, "hide", "h", Part.QUIET, pressed=False), help_key(load_phrases(language, "screen")))
    return view("learners", language, who="", actions=(*tiles, *keys), fields=(new,))


def picture(pattern="gallop", marker="path", tempo_bpm=100.0, beats=16, *, live=False, language="en", level=CueLevel.C4, full=None):
    schedule = make_schedule(load_pattern(pattern, language=language), Plan(tempo_bpm, beats, level, Fade(full=full)))
    return picture_of(schedule, marker, live=live)


def plan(language="en"):
    letters = {"listen": "f", "settings": "s", "steps": "t", "history": "y", "next_learner": "n", "more": "m"}
    actions = (
        main(language, "go"),
        Action("hear", words(language, "do.hear"), Part.PLAIN, ("PageUp", "p"), "P"),
        *(key(language, name, [letter]) for name, letter in letters.items()),
        key(language, "learners", ["Escape"], hint="Esc"),
        key(language, "room", "r", Part.QUIET),
        help_key(load_phrases(language, "screen")),
        key(language, "hide", "h", Part.QUIET, pressed=False),
    )
    return view(
        "plan",
        language,
        lines=(WORDS[language]["settings"][1],),
        cautions=WORDS[language]["cautions"],
        actions=actions,
        picture=picture(language=language),
    )


def more(language="en"):
    letters = {"room": "r", "check": "k", "lesson_start": "l", "goal": "g", "child_off": "c", "hide": "h", "help": "?"}
    tiles = [key(language, name, [letter], Part.CHOICE, pressed=False if name == "hide" else None) for name, letter in letters.items()]
    return view("more", language, actions=(*tiles, main(language, "back", "Escape", "b")))


def skills(language="en"):
    found = [load_pattern(name, language=language) for name in list_patterns()]
    tiles = [Action("skill", one.title, Part.CHOICE, values=(Value("name", one.name),)) for one in found]
    return view("skills", language, actions=(*tiles, key(language, "back", ["Escape"], hint="Esc")))


def reason(language="en"):
    state = State(at=At.REASON, language=language, code="K-07", bout=412)
    return shown_reason(state, load_phrases(language, "screen"))


def mend(language="en", beats=16, chosen="7"):
    """A bout with a sound struck out and another one chosen."""
    score = made_score(beats)
    bout = BoutRecord("K-07", BEGUN, Conditions("gallop", CueLevel.C4), numbers_of(score))
    pattern = load_pattern("gallop", language=language)
    (heard,) = heard_bouts(score)
    begun_ = begun(KeptBout("a", 412, bout), heard.contract, pattern, load_phrases(language))
    mending = choose(struck(choose(begun_, "5")), chosen)
    return shown_mend(State(at=At.MEND, language=language, code="K-07"), mending, load_phrases(language, "screen"))


def goals(language="en"):
    ladder = load_ladder("gallop", language=language)
    steps = proposed(ladder, KeptLearner("K-07", skill="gallop"), BEGUN.date())
    now = evaluate(steps[0][1], ())
    return shown_goal(State(at=At.GOAL, language=language, code="K-07"), Goals(now, steps), *both(language))


def goal_set(language="en"):
    ladder = load_ladder("gallop", language=language)
    (_, first), *_ = proposed(ladder, KeptLearner("K-07", skill="gallop"), BEGUN.date())
    state = State(at=At.GOAL_SET, language=language, code="K-07", goal=first)
    return shown_goal_set(state, first, load_pattern("gallop", language=language), *both(language))


def both(language):
    """The sentences of the screen, and those of the report."""
    return load_phrases(language, "screen"), load_phrases(language, "report")


def bout(language="en", shown: Picture | None = None):
    stop = Action("stop", words(language, "do.stop"), Part.STOP, ("Escape", *MAIN, "PageUp"))
    shown = shown or picture(live=True, language=language)
    going = words(language, "bout.going" if shown.cued else "bout.moving")
    keys = (stop, key(language, "hide", "h", Part.QUIET, pressed=False))
    return view("bout", language, actions=keys, picture=shown, going=going, gone=words(language, "bout.gone"))


def free_bout(language="en"):
    return bout(language, free_picture(0.6, live=True))


def drawing(beats=16):
    """As it is drawn for the page to be printed, with all that stands round the path."""
    return draw_bout(made_score(beats))


def made_score(beats=16):
    """A made gallop with a beat that loses its short footfall."""
    pattern = load_pattern("gallop")
    times_s = perform(pattern, Learner(), beats=beats, seed=3).times_s
    falls = tuple(Footfall(float(t), -20.0, 1.0, 0.0) for n, t in enumerate(times_s) if n != 7)
    recording = Recording("take.wav", np.zeros(1, np.float32), 16_000, 48_000, 1, 20.0, 0.0, ())
    return score_hearing(recording, Hearing(falls, (), Heard.CLEAR, "", -60.0), pattern)


def told(language="en"):
    letters = "ynxsrl"
    tiles = [
        Action("eye", label, Part.CHOICE, (letter,), letter.upper(), (Value("key", letter),))
        for label, letter in zip(WORDS[language]["eye"], letters, strict=True)
    ]
    keys = (
        *tiles,
        main(language, "leave_out"),
        key(language, "take_back", ["Backspace"], hint="←"),
        key(language, "replay", ["PageUp"], hint="Page Up"),
        key(language, "back", ["Escape"], hint="Esc"),
    )
    lines = (words(language, "told.stored").replace("{numbers}", "412"),)
    return view("told", language, actions=keys, lines=lines, drawing=drawing())


def told_marked(language="en"):
    """After the eye's answers: more keys than at any other place."""
    letters = {"again": "a", "child": "c", "mend": "x", "void": "v", "ask_again": "e", "history": "y"}
    keys = (
        Action("back", words(language, "do.next"), Part.MAIN, (*MAIN, "Escape"), "Space"),
        key(language, "replay", ["PageUp"], hint="Page Up"),
        *(key(language, name, [letter]) for name, letter in letters.items()),
        key(language, "take_back", ["Backspace"], Part.QUIET),
        Action("paper", words(language, "do.print"), opens="/paper/bout"),
        help_key(load_phrases(language, "screen")),
    )
    return view("told", language, actions=keys, lines=(words(language, "told.stored").replace("{numbers}", "412"),), drawing=drawing())


def child(language="en", filled=3, pictures=5):
    back = Action("back", words(language, "do.back"), Part.PLAIN, (*MAIN, "PageUp", "Escape"))
    return view("child", language, lead="", actions=(back,), child=ChildPicture(filled, pictures, WORDS[language]["child"][1]))


CHANGED = {
    "en": "2 sounds struck out: A ball, a clap or a voice. Footfalls 23 → 24: Counted again by eye.",
    "es": "2 sonidos tachados: Una pelota, una palmada o una voz. Pisadas 23 → 24: Contado otra vez a ojo.",
}
BEGUN = datetime(2026, 11, 2, 10, 2, tzinfo=UTC)


def made_plot(language="en", bouts=30):
    """A goal's plot over made bouts, as the history shows it."""
    goal = Goal("K-07", "gallop", Measure.LONGEST_RUN, 6, Criterion(4, 5, 3), BEGUN.date(), (CueLevel.C4,), help_levels=(HelpLevel.I,))
    kept = []
    for n in range(bouts):
        at = BEGUN + timedelta(days=n // 3, minutes=4 * n)
        conditions = Conditions("gallop", CueLevel.C4, HelpLevel.I)
        bout = BoutRecord("K-07", at, conditions, Numbers(longest_run=3 + n % 6), EyeMark(skill=Seen.YES), Source.MICROPHONE)
        kept.append(KeptBout(str(n), n, bout, ()))
    report = report_data(goal, kept, Period(BEGUN.date(), BEGUN.date() + timedelta(days=60)))
    return goal_plot(report, load_phrases(language, "report"))


def history(language="en", bouts=30):
    columns = tuple(words(language, f"history.{name}") for name in ("number", "when", "what", "found", "seen", "changed"))
    rows = []
    for n in range(bouts):
        at = BEGUN + timedelta(days=n // 3, minutes=4 * n)
        keys = tuple(Action(name, words(language, f"do.{name}"), values=(Value("number", str(400 + n)),)) for name in ("look", "void"))
        found = words(language, "history.run").replace("{run}", str(3 + n % 6))
        rows.append(Row((str(400 + n), f"{at:%Y-%m-%d %H:%M}", WORDS[language]["plan"][0], found, "", CHANGED[language] if n % 4 == 1 else ""), keys))
    papers = tuple(Action("paper", words(language, f"do.{name}"), opens=f"/paper/{name}") for name in ("family", "team"))
    actions = (main(language, "back", "Escape", "b"), key(language, "goal", "g"), *papers)
    lines = (words(language, "history.lead").replace("{bouts}", str(bouts)),)
    return view("history", language, lines=lines, columns=columns, rows=tuple(rows), actions=actions, plot=made_plot(language, bouts))


def settings(language="en"):
    def choice(name, value, *values):
        options = tuple(Option(one, words(language, f"{name}.{one}")) for one in values)
        return Field(name, words(language, f"set.{name}"), Kind.CHOICE, value, options=options)

    levels = tuple(Option(level, words(language, f"cue.{level}")) for level in ("C5", "C4", "C3", "C2", "C1"))
    fields = (
        Field("tempo_bpm", words(language, "set.tempo_bpm"), Kind.NUMBER, "100", 60, 150, 2),
        choice("side", "right", "right", "left"),
        Field("beats", words(language, "set.beats"), Kind.NUMBER, "16", 4, 64, 2),
        Field("level", words(language, "set.level"), Kind.CHOICE, "C4", options=levels),
        Field("sounds", words(language, "set.sounds"), Kind.SWITCH, "true"),
        choice("marker", "path", "path", "big", "none"),
        choice("mode", "feet", "feet", "step", "clap", "tap", "push"),
        choice("help", "I", "I", "V", "G", "M", "PP", "FP"),
        choice("tones", "wood", "wood", "tone", "soft", "bell", "drop"),
    )
    return view("settings", language, fields=fields, actions=(main(language, "back", "Escape"),))


def help_page(language="en"):
    found = load_phrases(language, "screen").sentences
    lines = tuple(words for key, words in found.items() if key.startswith("help_page.") and key[10:] not in ("title", "lead"))
    return view("help", language, lines=lines, actions=(main(language, "back", "Escape", "?"),))


def blank(language="en"):
    back = Action("back", words(language, "do.back"), Part.MAIN, MAIN)
    lead, title = words(language, "blank.lead"), words(language, "blank.title")
    return View("blank", language, title, lead=lead, actions=(back,), texts=page_texts(load_phrases(language, "screen")))


def every_view(language="en"):
    """Each view once, the bout in each of its pictures."""
    big = bout(language, picture(marker="big", live=True, language=language))
    return {
        "learners": learners(language),
        "plan": plan(language),
        "bout": bout(language),
        "big": big,
        "free": free_bout(language),
        "told": told(language),
        "marked": told_marked(language),
        "more": more(language),
        "skills": skills(language),
        "reason": reason(language),
        "mend": mend(language),
        "goals": goals(language),
        "goal_set": goal_set(language),
        "child": child(language),
        "history": history(language),
        "settings": settings(language),
        "help": help_page(language),
        "blank": blank(language),
    }
