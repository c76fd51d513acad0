"""The family page and the team page, from stored bouts; plain words, one language, codes only."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from types import MappingProxyType

from cuekit.drawing.page import bullets, document, says, section, table, tag
from cuekit.patterns.pattern import Pattern
from cuekit.records.agreement import PROGRAM
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import HelpLevel
from cuekit.records.goal_text import counted, goal_text, running_text, standing_text
from cuekit.records.goals import Goal
from cuekit.reports.plain_goal import plain_goal
from cuekit.reports.report_data import Group, ReportData
from cuekit.reports.report_plot import draw_progress
from cuekit.telling.phrases import Phrases


def family_page(data: ReportData, pattern: Pattern, phrases: Phrases, today: date) -> str:
    """One page for the family: goal, where it stands, the dots, two things to play, what it cannot show."""
    say = phrases.say
    clap = "home.clap" if pattern.uneven else "home.clap_even"
    skill = pattern.title.lower()
    return document(
        f"{data.goal.learner}: {say('page.family')}",
        phrases.language,
        says("h1", say("page.family")),
        _facts(data, pattern, phrases, "page.for_family"),
        section(
            say("page.goal"),
            says("p", plain_goal(data.goal, pattern.title, phrases), whole=data.goal.learner),
        ),
        section(say("page.where"), *_standings(data, phrases), *_independence(data, phrases)),
        section(say("page.picture"), _plots(data, phrases)),
        section(say("page.home"), bullets([say(clap, skill=skill), say("home.listen")])),
        _limits(phrases),
        _footer(data, phrases, today),
    )


def team_page(
    data: ReportData,
    pattern: Pattern,
    phrases: Phrases,
    today: date,
    tasks: Mapping[str, str] = MappingProxyType({}),
) -> str:
    """The team's page: the same, with conditions, steps, change, void bouts, corrections, agreement, minutes.

    `tasks` are the words for steps by their names, `gathering.step_tasks`; a name stands where it has none.
    """
    say = phrases.say
    level = [_level(data, group, pattern, phrases) for group in data.groups if group.judged]
    baseline = [
        _level(data, group, pattern, phrases)
        for group in data.baseline
        if group.help_level is not HelpLevel.FP and group.mode is data.goal.mode
    ]
    minutes = say(
        "page.minutes_owed" if data.owed else "page.minutes_given", given=data.minutes, owed=data.owed
    )
    return document(
        f"{data.goal.learner}: {say('page.team')}",
        phrases.language,
        says("h1", say("page.team")),
        _facts(data, pattern, phrases, "page.for_team"),
        section(
            say("page.goal"), says("p", goal_text(data.goal, pattern.title, phrases), whole=data.goal.learner)
        ),
        section(
            say("page.where"),
            *_standings(data, phrases),
            *_running(data, phrases),
            *_independence(data, phrases),
        ),
        section(say("level.title"), bullets(level, whole=data.goal.learner)),
        section(
            say("level.baseline"),
            bullets(baseline or [say("level.no_baseline", day=data.goal.since.isoformat())]),
        ),
        section(say("page.picture"), _plots(data, phrases)),
        section(say("page.conditions"), _conditions(data, phrases)),
        section(say("page.steps"), _steps(data, phrases, tasks), bullets(_choices(data, phrases, tasks))),
        section(say("change.title"), bullets(_changes(data, phrases))),
        section(
            say("page.uncounted"), bullets([f"{say(f'uncounted.{why}')}: {n}" for why, n in data.uncounted])
        ),
        section(say("page.voided"), _voided(data, phrases)),
        section(say("page.history"), _history(data, phrases)),
        section(say("page.agreement"), bullets(_agreement(data, phrases))),
        section(say("page.minutes"), says("p", minutes) if data.minutes or data.owed else ""),
        _limits(phrases),
        _footer(data, phrases, today),
    )


def _facts(data: ReportData, pattern: Pattern, phrases: Phrases, audience: str) -> str:
    say = phrases.say
    period = say("word.from_to", first=data.period.first.isoformat(), last=data.period.last.isoformat())
    skill = pattern.title.capitalize()
    facts = [
        say(audience),
        f"{say('word.learner')}: {data.goal.learner}",
        skill,
        f"{say('page.period')}: {period}",
        *([f"{say('page.places')}: {', '.join(data.places)}"] if data.places else []),
    ]
    return says("p", ". ".join([*facts, ""]).strip(), class_="facts")


def _standings(data: ReportData, phrases: Phrases) -> list[str]:
    texts = [standing_text(data.evaluation, standing, phrases) for standing in data.evaluation.standings]
    return [says("p", text[:1].upper() + text[1:], class_="big") for text in texts]


def _running(data: ReportData, phrases: Phrases) -> list[str]:
    rows = []
    for standing in data.evaluation.standings:
        told = running_text(data.evaluation, standing, phrases)
        if standing.side is not None:
            told = f"{phrases.say(f'side.{standing.side}').capitalize()}: {told[:1].lower()}{told[1:]}"
        rows += [says("p", told)] if standing.counted else []
    return rows


def _steps(data: ReportData, phrases: Phrases, tasks: Mapping[str, str]) -> str:
    """The step history, as the teacher worked at them."""
    rows = [
        [
            tasks.get(one.step, one.step),
            one.first.isoformat(),
            one.last.isoformat(),
            str(one.bouts),
            f"{one.met} {phrases.say('word.of')} {one.judged}" if one.judged else "-",
        ]
        for one in data.steps
    ]
    return table([phrases.say(f"table.{key}") for key in ("step", "from", "to", "bouts", "met_of")], rows)


def _choices(data: ReportData, phrases: Phrases, tasks: Mapping[str, str]) -> list[str]:
    """What the teacher chose over the program's proposal, and why."""
    rows = []
    for one in data.choices:
        key = "page.chosen_over" if one.proposed and one.proposed != one.step else "page.chosen"
        step, proposed = (f"«{tasks.get(name, name).rstrip('.')}»" for name in (one.step, one.proposed))
        told = phrases.say(key, day=one.day.isoformat(), step=step, proposed=proposed)
        rows.append(f"{told} “{one.reason}”" if one.reason else told)
    return rows


def _independence(data: ReportData, phrases: Phrases) -> list[str]:
    """Met alone and met with help, always apart."""
    counted = [judged for judged in data.evaluation.judged if judged.met is not None]
    rows = []
    for key, alone in (("page.alone", True), ("page.with_help", False)):
        part = [one for one in counted if (one.bout.conditions.help_level is HelpLevel.I) is alone]
        if part:
            rows.append(says("p", phrases.say(key, met=sum(bool(one.met) for one in part), of=len(part))))
    return rows


def _plots(data: ReportData, phrases: Phrases) -> str:
    """The dots of each side that has any; nothing where no bout counts yet."""
    goal = data.goal
    standings = [one for one in data.evaluation.standings if one.counted]
    if not standings:
        return ""
    height = 230.0 if len(standings) == 1 else 140.0
    drawn = [
        tag("figure", draw_progress(one, goal.measure, goal.at_least, phrases, height)) for one in standings
    ]
    legend = f"● {phrases.say('plot.met')}   ○ {phrases.say('plot.missed')}.   {phrases.say('plot.letters')}"
    shown = {judged.bout.conditions.cue_level for one in standings for judged in one.counted}
    levels = [f"{level}: {phrases.say(f'cue_short.{level}')}." for level in goal.cue_levels if level in shown]
    legend = " ".join([legend, *levels])
    return tag("div", *drawn, says("p", legend, class_="legend"))


def _level(data: ReportData, group: Group, pattern: Pattern, phrases: Phrases) -> str:
    say, found = phrases.say, group.level
    side = "" if group.side is None else say("level.side", side=say(f"side.{group.side}"))
    return say(
        "level.sentence",
        days=counted("day", found.days, phrases),
        bouts=counted("bout", found.bouts, phrases),
        cue=_named("cue", group.cue_level, phrases),
        help=_named("help", group.help_level, phrases),
        code=data.goal.learner,
        skill=pattern.title.lower(),
        side=side,
        middle=f"{found.middle:g}",
        measure=say(f"measure.{data.goal.measure}"),
        low=f"{found.low:g}",
        high=f"{found.high:g}",
    )


def _conditions(data: ReportData, phrases: Phrases) -> str:
    say = phrases.say
    keys = ("cue", "help", "side", "bouts", "days", "met_of", "middle", "range", "repeats")
    modes = {group.mode for group in data.groups} != {data.goal.mode}
    keys = ("mode", *keys) if modes else keys
    rows = [
        [
            *([_named("mode", group.mode, phrases)] if modes else []),
            _named("cue_short", group.cue_level, phrases),
            _named("help", group.help_level, phrases),
            _named("side", group.side, phrases),
            str(group.level.bouts),
            str(group.level.days),
            f"{group.met} {say('word.of')} {group.judged}" if group.judged else "-",
            f"{group.level.middle:g}",
            f"{group.level.low:g}-{group.level.high:g}",
            "-" if group.repeat_difference is None else f"{group.repeat_difference:.1f}",
        ]
        for group in data.groups
    ]
    caption = say(f"measure.{data.goal.measure}")
    return table([say(f"table.{key}") for key in keys], rows, caption) or says("p", say("page.no_bouts"))


def _changes(data: ReportData, phrases: Phrases) -> list[str]:
    told = [text for group in data.groups if group.change for text in [_change(data, group, phrases)]]
    return told or [phrases.say("change.none")]


def _change(data: ReportData, group: Group, phrases: Phrases) -> str:
    say, found, (early, late) = phrases.say, group.change, group.halves
    parts = [
        _conditions_of(data.goal, group, phrases),
        say(
            "change.same",
            first_days=_span(early, phrases),
            later_days=_span(late, phrases),
            before=f"{found.before.middle:g}",
            after=f"{found.after.middle:g}",
            measure=say(f"measure.{data.goal.measure}"),
        ),
        say("change.pairs", nap=f"{100.0 * found.nap:.0f}"),
    ]
    if found.repeat_difference is not None:
        parts.append(say("change.repeat", repeat=f"{found.repeat_difference:.1f}"))
    if group.trend is not None:
        slope, low, high = (
            f"{one:+.1f}" for one in (group.trend.per_week, group.trend.low, group.trend.high)
        )
        parts.append(say("change.trend", period=_span(group.days, phrases), slope=slope, low=low, high=high))
    return " ".join(parts)


def _conditions_of(goal: Goal, group: Group, phrases: Phrases) -> str:
    words = [_named("cue_short", group.cue_level, phrases), _named("help", group.help_level, phrases)]
    if group.side is not None:
        words.append(phrases.say(f"side.{group.side}"))
    if group.mode is not goal.mode:
        words.append(phrases.say(f"mode.{group.mode}"))
    return f"({', '.join(words)})"


def _voided(data: ReportData, phrases: Phrases) -> str:
    rows = [[str(kept.number), kept.stored.day.isoformat(), kept.void_reason or ""] for kept in data.voided]
    return table([phrases.say(f"table.{key}") for key in ("bout", "date", "reason")], rows)


def _history(data: ReportData, phrases: Phrases) -> str:
    if not data.corrected:
        return ""
    rows = [row for kept in data.corrected for row in _corrections(kept)]
    keys = ("bout", "what", "before", "after", "reason")
    said = says("p", phrases.say("page.corrected", n=sum(kept.corrections for kept in data.corrected)))
    return said + table([phrases.say(f"table.{key}") for key in keys], rows)


def _corrections(kept: KeptBout) -> list[list[str]]:
    return [
        [str(kept.number), what, old or "-", new or "-", one.reason]
        for one in kept.amendments
        if one.corrects
        for what, old, new in one.changes
    ]


def _agreement(data: ReportData, phrases: Phrases) -> list[str]:
    return [
        phrases.say(
            "page.agreement_row",
            first=_who(one.first, phrases),
            second=_who(one.second, phrases),
            question=phrases.say(f"question.{one.question}"),
            agreed=one.agreed,
            trials=one.trials,
            percent=f"{one.percent:.0f}",
            days=_span(one.days, phrases) if one.days[0] < one.days[1] else one.days[0].isoformat(),
        )
        for one in data.agreements
    ]


def _who(name: str, phrases: Phrases) -> str:
    return phrases.say("word.program") if name == PROGRAM else name


def _limits(phrases: Phrases) -> str:
    keys = ("feet", "missing", "body", "compare", "few")
    return section(phrases.say("page.cannot"), bullets([phrases.say(f"cannot.{key}") for key in keys]))


def _footer(data: ReportData, phrases: Phrases, today: date) -> str:
    say = phrases.say
    lines = [say("page.made", day=today.isoformat())]
    lines += [say(f"page.from_{source}", n=bouts) for source, bouts in data.sources]
    if data.doubtful:
        lines.append(say("page.doubtful", n=data.doubtful))
    if data.goal.review is not None:
        lines.append(say("page.next", day=data.goal.review.isoformat()))
    return tag("footer", *(says("p", f"{line} ") for line in lines))


def _named(kind: str, value: object, phrases: Phrases) -> str:
    return phrases.say("word.not_entered") if value is None else phrases.say(f"{kind}.{value}")


def _span(days: tuple[date, date], phrases: Phrases) -> str:
    return phrases.say("word.from_to", first=days[0].isoformat(), last=days[1].isoformat())
