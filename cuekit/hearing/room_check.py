"""Will this room do? Five seconds of nobody moving, then four stamps from where the learner will be.

Two things decide, and both are read by the ear that will judge the feet: what it takes for footfalls
while nobody moves, and how far the stamps stand above the room. The edges are proposals (common
practice, no source): 15 dB is where the yardstick of `tests/hearing` begins to lose soft followers.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from cuekit.hearing.detection import detect_footfalls, frame_levels_db
from cuekit.hearing.events import Recording

STILL_S = 5.0
STAMPS = 4
GOOD_MARGIN_DB, LEAST_MARGIN_DB = 15.0, 8.0
_MOST_GHOSTS = 1
_EDGE_S = 0.3  # moving off at the end of the still time is no ghost
_LOUD_PERCENTILE = 90


class RoomVerdict(StrEnum):
    """Whether the room will do."""

    GOOD = "good"
    USABLE = "usable"
    UNUSABLE = "unusable"


class RoomReason(StrEnum):
    """What speaks against it most."""

    NONE = "none"
    OTHER_SOUNDS = "other_sounds"  # a ball, another person, a voice is taken for feet
    NOISE = "noise"  # steady, nearly as loud as the stamps
    STAMPS_UNHEARD = "stamps_unheard"


@dataclass(frozen=True)
class RoomCheck:
    """What was found.

    Attributes:
        verdict, reason: the room, and what is against it.
        ghosts: footfalls heard while nobody moved.
        stamps: footfalls heard afterwards.
        margin_db: middle stamp over the louder moments of the still time; None without stamps.
    """

    verdict: RoomVerdict
    reason: RoomReason
    ghosts: int
    stamps: int
    margin_db: float | None


def check_room(recording: Recording) -> RoomCheck:
    """Judge a recording of 5 s of nobody moving and then four stamps."""
    hearing = detect_footfalls(recording)
    ghosts = sum(footfall.time_s < STILL_S - _EDGE_S for footfall in hearing.footfalls)
    stamped = [footfall.level_db for footfall in hearing.footfalls if footfall.time_s >= STILL_S]
    still_db = frame_levels_db(recording.samples[: round(STILL_S * recording.sample_rate_hz)])
    margin_db = float(np.median(stamped) - np.percentile(still_db, _LOUD_PERCENTILE)) if stamped else None
    verdict, reason = _judged(ghosts, len(stamped), margin_db)
    return RoomCheck(verdict, reason, ghosts, len(stamped), margin_db)


def _judged(ghosts: int, stamps: int, margin_db: float | None) -> tuple[RoomVerdict, RoomReason]:
    """The verdict, by the worst of the three."""
    if ghosts > _MOST_GHOSTS:
        return RoomVerdict.UNUSABLE, RoomReason.OTHER_SOUNDS
    if margin_db is None or stamps < STAMPS - 1:
        return RoomVerdict.UNUSABLE, RoomReason.STAMPS_UNHEARD
    if margin_db < LEAST_MARGIN_DB:
        return RoomVerdict.UNUSABLE, RoomReason.NOISE
    if ghosts:
        return RoomVerdict.USABLE, RoomReason.OTHER_SOUNDS
    if margin_db < GOOD_MARGIN_DB:
        return RoomVerdict.USABLE, RoomReason.NOISE
    return (
        (RoomVerdict.GOOD, RoomReason.NONE)
        if stamps >= STAMPS
        else (RoomVerdict.USABLE, RoomReason.STAMPS_UNHEARD)
    )
