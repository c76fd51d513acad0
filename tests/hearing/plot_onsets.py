"""Draw every foot clip around its contact, to check the energy rule by eye.

    python -m tests.hearing.plot_onsets       one picture a part into the cache folder

Blue: 0.5 ms energy, dB re its peak. Orange: waveform. Red: the contact.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.hearing.build_material import foot_sound
from tests.hearing.material import CONTACT_LEAD_S, cache_folder
from tests.hearing.onsets import energy_envelope_db
from tests.hearing.sources import FOOT_SOURCES, TRAINING

COLUMNS = 5
RATE_HZ = 48000


def draw(part: str) -> Path:
    """Write one picture with all clips of a part."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    clips = [(s, clip) for s in FOOT_SOURCES if s.part == part for clip in s.clips]
    rows = -(-len(clips) // COLUMNS)
    figure, axes = pyplot.subplots(rows, COLUMNS, figsize=(5 * COLUMNS, 2.6 * rows), squeeze=False)
    for axis, (source, clip) in zip(axes.flat, clips, strict=False):
        samples = foot_sound(source, clip, RATE_HZ).samples
        envelope = energy_envelope_db(samples, RATE_HZ)
        time_ms = 1000.0 * (np.arange(len(samples)) / RATE_HZ - CONTACT_LEAD_S)
        shown = time_ms < 120.0
        axis.plot(time_ms[shown], (envelope - envelope.max())[shown], linewidth=0.7)
        wave = axis.twinx()
        wave.plot(time_ms[shown], samples[shown] / np.abs(samples).max(), linewidth=0.4, color="orange")
        wave.set_yticks([])
        axis.axvline(0.0, color="red", linewidth=0.8)
        axis.set(ylim=(-60, 3), title=f"{source.name} {(clip.member or clip.path).rpartition('/')[2]} "
                                      f"{clip.start_ms:g}:{clip.keep_ms or ''}")
    figure.tight_layout()
    file = cache_folder() / f"onsets-{part}.png"
    figure.savefig(file, dpi=62)
    pyplot.close(figure)
    return file


if __name__ == "__main__":
    for name in (TRAINING,):
        print(draw(name))
