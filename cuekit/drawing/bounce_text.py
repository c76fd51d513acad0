"""The bouncing ball as a frame of text: big and small, on a floor that lies still."""

from __future__ import annotations

from dataclasses import dataclass

from cuekit.drawing.bounce import Ball, Bounce, Spot

WIDTH, HEIGHT = 60, 9
"""Columns and rows of a frame, the floor among them: it fits into a terminal of 80 by 24."""

_BIG, _SMALL = 4, 2  # columns of the ball; it is half as high as wide, so that it looks round


@dataclass(frozen=True)
class Ink:
    """The characters of a frame.

    Attributes:
        ball, faint: the ball of a full cue, and of a softer one.
        floor: where nothing lands.
        long, short: where the ball lands.
    """

    ball: str
    faint: str
    floor: str
    long: str
    short: str


UNICODE = Ink("█", "▒", "─", "▀", "▔")
ASCII = Ink("#", "=", "-", "^", "'")


def frame(bounce: Bounce, now_s: float, *, unicode: bool = True) -> tuple[str, ...]:
    """One frame: `HEIGHT` lines of `WIDTH` columns.

    Parameters
    ----------
    bounce : of the schedule
    now_s : time of the schedule, s
    unicode : whether blocks come out; ASCII otherwise
    """
    ink = UNICODE if unicode else ASCII
    line, ball = bounce.line_at(now_s), bounce.ball_at(now_s)
    rows = [[" "] * WIDTH for _ in range(HEIGHT - 1)]
    if ball is not None:
        _put(rows, ball, ink)
    floor = [ink.floor] * WIDTH
    for spot in line.spots if line is not None else ():
        first, wide = _columns(spot.across, spot)
        floor[first : first + wide] = (ink.long if spot.big else ink.short) * wide
    return tuple("".join(row) for row in (*rows, floor))


def _put(rows: list[list[str]], ball: Ball, ink: Ink) -> None:
    """The ball into its rows."""
    first, wide = _columns(ball.across, ball.spot)
    high = wide // 2
    bottom = len(rows) - 1 - round(ball.height * (len(rows) - high))
    for row in range(bottom - high + 1, bottom + 1):
        rows[row][first : first + wide] = (ink.faint if ball.spot.faint else ink.ball) * wide


def _columns(across: float, spot: Spot) -> tuple[int, int]:
    """First column and width of what is at a place of the line."""
    wide = _BIG if spot.big else _SMALL
    return round(across * (WIDTH - _BIG)) + (_BIG - wide) // 2, wide
