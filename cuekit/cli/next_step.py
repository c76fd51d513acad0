"""`cuekit next`: the step a learner does next, with its counts; the teacher may choose another."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from cuekit.cli.options import language_option
from cuekit.cli.record_options import code_argument, data_option, now, open_store
from cuekit.records.bout_history import KeptBout
from cuekit.records.ladder_records import Climb
from cuekit.records.standing import climb_of, ladder_of
from cuekit.records.step_choice import StepChoice, StopSeen
from cuekit.teaching.ladder import Ladder
from cuekit.teaching.progress_text import say_decision
from cuekit.teaching.progression import Decision, decide
from cuekit.telling.phrases import Phrases, load_phrases

_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)


@click.command()
@code_argument()
@click.option(
    "--ladder", "name", metavar="SKILL", help="Which ladder; that of the latest bout where left out."
)
@click.option("--choose", "chosen", metavar="STEP", help="Take this step instead; counting starts afresh.")
@click.option("--reason", default="", metavar="TEXT", help="Why you chose it; it is kept.")
@click.option("--stop-sign", "sign", metavar="TEXT", help="Store a stop sign you saw, such as pain.")
@click.option(
    "--own", "folders", type=_FOLDER, multiple=True, metavar="FOLDER", help="A folder of your own ladders."
)
@language_option()
@data_option()
def command(
    code: str,
    name: str | None,
    chosen: str | None,
    reason: str,
    sign: str | None,
    folders: tuple[Path, ...],
    language: str,
    folder: Path | None,
) -> None:
    """Say the next step of CODE: up, hold, down, or change the support, and why."""
    phrases = load_phrases(language)
    with open_store(folder) as store:
        learner = store.learner(code).noun
        ladder = ladder_of(store, code, name or learner.skill, folders, language)
        if sign is not None:
            store.add(StopSeen(code, now(), sign))
        if chosen is not None:
            proposed = decide(climb_of(store, code, ladder).events, ladder).to.key
            store.add(StepChoice(code, now(), ladder.step(chosen).key, proposed, reason))
        found = climb_of(store, code, ladder)
        stepless = _stepless(store.bouts(code), ladder)
    told = _told(decide(found.events, ladder), found, ladder, phrases, learner.restrictions)
    if stepless:
        told.append(phrases.say("progress.stepless", bouts=stepless))
    click.echo("\n".join(told))


def _stepless(bouts: Sequence[KeptBout], ladder: Ladder) -> int:
    """How many bouts of the ladder's own patterns say no step, so that they count on none."""
    patterns = {step.pattern for step in ladder.steps}
    mine = [kept.now.conditions for kept in bouts if kept.void_reason is None]
    return sum(done.pattern in patterns and not done.step for done in mine)


def _told(decision: Decision, found: Climb, ladder: Ladder, phrases: Phrases, note: str) -> list[str]:
    """The lines a teacher reads: the teacher's own note, the proposal, where it stands."""
    to, side = decision.to, f", {phrases.say(f'patterns.{decision.side}')}" if decision.side else ""
    lines = (
        [phrases.say("caution.note", note=note), phrases.say("caution.you_decide")] if note.strip() else []
    )
    lines += say_decision(decision, ladder, phrases)
    if found.waiting:
        bouts = ", ".join(str(number) for number in found.waiting[-5:])
        lines.append(phrases.say("progress.waiting", bouts=bouts, first=found.waiting[-1]))
    place = f"{ladder.title}{side}: {to.number}/{len(ladder.steps)}  {to.key}"
    spoken = "" if phrases.language == "en" else f" --language {phrases.language}"
    return [*lines, "", place, f"cuekit ladder {ladder.name} --step {to.number}{spoken}"]
