"""A gallop built by hand, so that tests of sound hold whatever the pattern files say."""

from fractions import Fraction

from cuekit.patterns.pattern import Beat, Foot, Pattern, ShareRange, Side, Step, TempoRange


def gallop():
    """2:1, the right foot leading, with the words of a skip."""
    beat = Beat(Fraction(0), Fraction(1), Step(Foot.RIGHT, "step"), Step(Foot.LEFT, "hop"), Fraction(2, 3))
    share = ShareRange(Fraction(2, 3), Fraction(1, 2), Fraction(3, 4))
    return Pattern(
        "gallop",
        "Gallop",
        "one step-together",
        "leading foot",
        Side.RIGHT,
        (beat,),
        TempoRange(100, 40, 160),
        share,
        4,
        "",
    )
