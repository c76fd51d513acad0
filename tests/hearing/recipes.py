"""What each scene of the benchmark holds. Levels are dB against the level of the feet."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tests.hearing.sources import DEVELOPMENT

CORE = ("quiet", "noise 20 dB", "phone", "clipping", "DC offset", "other rates")
"""Conditions of the quiet-gym core."""

NEGATIVE = "negative: "
UNEVEN = ("gallop 2:1", "skip 2:1", "skip 3:2", "gallop 3:1")
EVEN = ("walk", "run", "hop", "jump")
IS_UNEVEN = (True, True, False, True, True, False, True, False)
FOLLOWERS_DB = (0.0, -10.0, -15.0, -20.0)
DEALT_DB = (-10.0, 0.0, -15.0, -20.0, -10.0, 0.0, -15.0, -10.0)
"""Followers in the order they are dealt; -20 dB is the rarest, a third of those drown in the lead's echo."""
FIRST_SEED = {DEVELOPMENT: 1000, "untouched": 9000}


@dataclass(frozen=True)
class Recipe:
    """One kind of scene; None means the thing is not there.

    `noise_db`, `speech_db` ... are levels against the median footfall; a
    `noise_db` of -20 is what the table calls "noise 20 dB".
    """

    condition: str
    skill: str | None = "walk"
    follower_db: float = 0.0
    noise: str = "pink"
    noise_db: float = -42.0
    speech: str | None = None
    speech_db: float = 0.0
    ball_db: float | None = None
    walker_db: float | None = None
    whistle_db: float | None = None
    cue: str | None = None
    cue_db: float = 0.0
    channel: str = "plain"
    output_rate_hz: int = 48000
    duration_s: float = 10.0

    @property
    def negative(self) -> bool:
        return self.skill is None


def _spread(base: Recipe, count: int, start: int) -> list[Recipe]:
    """Return `count` scenes from number `start` on, with skills and follower levels dealt out in turn.

    Five in eight are uneven.
    """
    recipes = []
    for number in range(start, start + count):
        eights, place = divmod(number, len(IS_UNEVEN))
        dealt = eights * sum(IS_UNEVEN) + sum(IS_UNEVEN[:place])
        if IS_UNEVEN[place]:
            turn = (dealt + dealt // len(DEALT_DB)) % len(DEALT_DB)
            recipes.append(replace(base, skill=UNEVEN[dealt % 4], follower_db=DEALT_DB[turn]))
        else:
            recipes.append(replace(base, skill=EVEN[(number - dealt) % 4]))
    return recipes


def _positive_kinds() -> list[tuple[Recipe, int]]:
    """Return (recipe, how many scenes) for every condition with a moving child."""
    kinds = [(Recipe("quiet"), 20)]
    for level in (20, 10, 5):
        kinds += [(Recipe(f"noise {level} dB", noise=noise, noise_db=-level), 4) for noise in ("pink", "fan")]
    for level in (-10, 0, 6):
        kinds.append((Recipe(f"adult speech {level:+d} dB", speech="adult", speech_db=level), 6))
    kinds.append((Recipe("child speech -3 dB", speech="child", speech_db=-3.0), 7))
    kinds += [(Recipe(f"ball {level:+d} dB", ball_db=level), 6) for level in (-9, 0)]
    kinds += [(Recipe("second walker", walker_db=level), 3) for level in (-10.0, -5.0)]
    for level in (-6, 6):
        kinds += [(Recipe(f"tone cue {level:+d} dB", cue=cue, cue_db=level), 3) for cue in ("tone", "woodblock")]
        kinds.append((Recipe(f"word cue {level:+d} dB", cue="word", cue_db=level), 6))
    kinds += [(Recipe("phone", channel=channel, noise_db=-32.0), 3) for channel in ("phone", "phone gated")]
    kinds.append((Recipe("clipping", channel="clipped"), 4))
    kinds.append((Recipe("DC offset", channel="offset"), 3))
    kinds += [(Recipe("other rates", output_rate_hz=rate), 1) for rate in (16000, 22050, 32000, 44100, 96000)]
    return kinds


def _negative_kinds() -> list[tuple[Recipe, int]]:
    """Return (recipe, how many scenes) for the recordings without a moving child."""
    empty = Recipe("", skill=None)
    quiet = replace(empty, noise_db=-45.0)
    return [
        (replace(quiet, condition=NEGATIVE + "adult speech", speech="adult"), 4),
        (replace(quiet, condition=NEGATIVE + "child speech", speech="child"), 3),
        (replace(empty, condition=NEGATIVE + "noise", noise_db=-3.0), 2),
        (replace(empty, condition=NEGATIVE + "noise", noise="fan", noise_db=-3.0), 2),
        (replace(quiet, condition=NEGATIVE + "ball", ball_db=0.0), 4),
        (replace(empty, condition=NEGATIVE + "silence", noise_db=-60.0), 3),
        (replace(quiet, condition=NEGATIVE + "whistle", whistle_db=0.0), 3),
        (replace(quiet, condition=NEGATIVE + "cue alone", cue="tone"), 2),
        (replace(quiet, condition=NEGATIVE + "cue alone", cue="woodblock"), 2),
        (replace(quiet, condition=NEGATIVE + "cue alone", cue="word"), 2),
    ]


def benchmark_recipes() -> tuple[Recipe, ...]:
    """Return the recipes of one part, in the order of the table."""
    recipes: list[Recipe] = []
    for base, count in _positive_kinds():
        recipes += _spread(base, count, start=len(recipes))
    for base, count in _negative_kinds():
        recipes += [base] * count
    return tuple(recipes)
