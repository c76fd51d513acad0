"""Flashes counted from frames, after the definition of WCAG 2.2 ("general flash and red flash thresholds").

A flash is a pair of opposing changes of relative luminance by 10 % or more where the darker one is below 0.80.
It counts where its parts change together over more than a quarter of any field of 10 degrees, which the standard
gives as 341 x 256 pixels of a screen of 1024 x 768.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
from PIL import Image

SCREEN_PX = (1024, 768)
FIELD_PX = (341, 256)
LARGEST_PART = 0.25
CHANGE, DARK = 0.10, 0.80
TOGETHER_S = 0.05
"""Changes so near in time are one: three frames of a screen."""
_SHARES = np.arange(256, dtype=np.float32) / 255.0
LINEAR = np.where(_SHARES <= 0.04045, _SHARES / 12.92, ((_SHARES + 0.055) / 1.055) ** 2.4).astype(np.float32)
"""Of each of the 256 values of a colour."""


def luminance(png: bytes) -> np.ndarray:
    """Relative luminance of each pixel, 0 to 1 (sRGB, IEC 61966-2-1, as WCAG states it)."""
    rgb = np.asarray(Image.open(io.BytesIO(png)).convert("RGB"))
    return LINEAR[rgb] @ np.array([0.2126, 0.7152, 0.0722], np.float32)


def changes(frames: Sequence[np.ndarray]) -> np.ndarray:
    """Per frame and pixel: -1 where it has become darker than it last was light, +1 the other way, else 0."""
    extreme, way = frames[0].copy(), np.zeros(frames[0].shape, np.int8)
    found = np.zeros((len(frames), *frames[0].shape), np.int8)
    for n, frame in enumerate(frames[1:], start=1):
        darker = (way >= 0) & (extreme - frame >= CHANGE) & (frame < DARK)
        lighter = (way <= 0) & (frame - extreme >= CHANGE) & (extreme < DARK)
        found[n][darker], found[n][lighter] = -1, 1
        way = np.where(darker, -1, np.where(lighter, 1, way)).astype(np.int8)
        further = np.where(way >= 0, np.maximum(extreme, frame), np.minimum(extreme, frame))
        extreme = np.where(darker | lighter | (way == 0), frame, further)
    return found


def largest_part(changed: np.ndarray) -> float:
    """Share of the field of 10 degrees that has most of the changed pixels."""
    wide, high = FIELD_PX
    rows, columns = np.flatnonzero(changed.any(1)), np.flatnonzero(changed.any(0))
    if not rows.size:
        return 0.0
    if rows[-1] - rows[0] < high and columns[-1] - columns[0] < wide:  # one field holds all of it
        return float(changed.sum()) / (wide * high)
    total = np.pad(np.cumsum(np.cumsum(changed, 0, dtype=np.int64), 1), ((1, 0), (1, 0)))
    inside = total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    return float(inside.max()) / (wide * high)


def parts_at_once(frames: Sequence[np.ndarray], rate_hz: float, way: int) -> np.ndarray:
    """Per frame: the largest share of a field that changed in one direction within the time of one change."""
    found = changes(frames) == way
    span = max(1, round(TOGETHER_S * rate_hz))
    return np.array([largest_part(found[max(0, n - span + 1) : n + 1].any(0)) for n in range(len(frames))])


def most_flashes(frames: Sequence[np.ndarray], rate_hz: float) -> int:
    """Most flashes in any second: changes over too large a part, taken in pairs."""
    turns, last = [], 0
    dark, light = (parts_at_once(frames, rate_hz, way) > LARGEST_PART for way in (-1, 1))
    for n in range(len(frames)):
        for way, over in ((-1, dark[n]), (1, light[n])):
            if over and way != last:
                turns.append(n)
                last = way
    windows = (sum(begin <= turn < begin + rate_hz for turn in turns) for begin in turns)
    return (max(windows, default=0) + 1) // 2
