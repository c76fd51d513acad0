"""What the child sees: a few pictures, some filled, and one thing to try. No number, no fault, no red.

A picture fills with what was really done; nothing is taken away, compared or ranked. The words never
say that something was wrong, only what comes next.
"""

from __future__ import annotations

from dataclasses import dataclass

from cuekit.errors import PatternError
from cuekit.rhythm.measures import Measures
from cuekit.telling.phrases import Phrases

FEWEST_PICTURES, MOST_PICTURES = 3, 6


@dataclass(frozen=True)
class ChildView:
    """Pictures and words for the child.

    Attributes:
        filled, pictures: so many pictures of so many are filled.
        words: a true thing and one thing to try.
    """

    filled: int
    pictures: int
    words: str

    def row(self, full: str = "#", empty: str = "o") -> str:
        """The pictures in a row of signs."""
        return " ".join([full] * self.filled + [empty] * (self.pictures - self.filled))


def child_view(
    measures: Measures, target_beats: int, phrases: Phrases, *, fault: str | None = None, pictures: int = 5
) -> ChildView:
    """What the child sees after a bout.

    Parameters
    ----------
    measures: of the bout.
    target_beats: beats in a row the step asks for; all pictures are then filled.
    phrases: the language.
    fault: id of what was heard, which chooses the one thing to try.
    pictures: 3 to 6.

    Raises
    ------
    PatternError: there are too few or too many pictures, or no target.
    """
    if not FEWEST_PICTURES <= pictures <= MOST_PICTURES:
        raise PatternError(f"a child sees {FEWEST_PICTURES} to {MOST_PICTURES} pictures, got {pictures}")
    if target_beats < 1:
        raise PatternError(f"a target needs at least 1 beat, got {target_beats}")
    done = min(measures.longest_run, target_beats)
    filled = max(pictures * done // target_beats, 1 if done else 0)
    true = phrases.say(f"child.{'all' if done == target_beats else 'some' if done else 'none'}")
    key = f"child.try.{fault}"
    step = phrases.say(key if key in phrases.sentences else "child.try.again")
    return ChildView(filled, pictures, f"{true} {step}")
