"""Make the demo recordings and the truth beside them. Run by a maintainer; not part of the wheel.

    python tools/make_demo.py            all of them, into demo_audio/

Every bout is invented: a made-up learner (`cuekit.simulation.simulate`) in a made-up room, landing with the
recorded single footfalls of `demo_audio/feet` or with made-up ones. The same seeds give the same
bouts; samples may differ in their last bit where another computer adds up in another order.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from pathlib import Path

import soundfile

from cuekit.cues.cueing import choose_cues
from cuekit.cues.render import lay_out, render
from cuekit.cues.sounds import Sound
from cuekit.cues.tones import tone_set, tone_set_names
from cuekit.files.atomic import replacing, write_text
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan, make_schedule
from cuekit.simulation.simulate import Learner, Performance, Rest, follow, nobody, perform
from cuekit.simulation.simulate_feet import Feet, TwoKinds, model_feet, recorded_feet
from cuekit.simulation.simulate_rooms import Leak, NoiseColour, Room, Take, record

FOLDER = Path(__file__).resolve().parent.parent / "demo_audio"

CONTACT_S = 0.005
"""Where the contact lies in each clip (feet/NOTICE.md), s."""


@dataclass(frozen=True)
class Clips:
    """Recorded landings by clip name, for the lead and the short footfall (none: as the lead)."""

    lead: tuple[str, ...]
    short: tuple[str, ...]


STEPS_ON_GRIT = Clips(("step_hard_1", "step_hard_2", "step_hard_3"), ("step_soft_4", "step_soft_6"))
HARD_SHOE = Clips(("footstep_fluid",), ("footstep_fluid", "floor_general_2"))
FLAT_FEET = Clips(("floor_general_2", "step_hard_3"), ())
ON_BOARDS = Clips(("floor_dull_wood_2", "floor_general_2"), ())

NEAR = Room(rt60_s=0.4, volume_m3=400.0, path=((0.0, 1.5),))
CLASSROOM = Room(rt60_s=0.5, volume_m3=200.0, path=((0.0, 2.5),))
GYM = Room(rt60_s=1.4, volume_m3=3000.0, path=((0.0, 3.0), (12.0, 6.0)), noise_below_feet_db=30.0)
FAN = Room(
    rt60_s=1.0,
    volume_m3=1500.0,
    path=((0.0, 3.0),),
    noise_below_feet_db=12.0,
    noise_colour=NoiseColour.FAN,
)


@dataclass(frozen=True)
class Demo:
    """One demo recording.

    Attributes:
        name: of the file, without ending.
        about: what is in it, for the teacher.
        pattern: the skill the learner was asked for.
        beats: beats moved; 0 for nobody moving.
        learner: how.
        room: where.
        clips: recorded landings; None for made-up ones.
        cued_beats: beats with the cue sounding in the room; None where no cue was played.
        rate_hz: of the file, Hz.
    """

    name: str
    about: str
    pattern: str
    beats: int
    learner: Learner
    room: Room = CLASSROOM
    clips: Clips | None = None
    cued_beats: int | None = None
    rate_hz: int = 22_050


DEMOS = (
    Demo(
        "skip-clear",
        "A skip, long-short all the way, a little unsteady as anybody is.",
        "skip", 14,
        Learner(tempo_bpm=96, scatter_s=0.018, timekeeper_s=0.012, short_db=-4),
        clips=STEPS_ON_GRIT,
    ),
    Demo(
        "gallop-even",
        "Asked for a gallop; the feet come evenly, as in running.",
        "gallop", 14,
        Learner(tempo_bpm=100, long_share=0.5, scatter_s=0.018, timekeeper_s=0.012, short_db=-2),
        clips=HARD_SHOE,
    ),
    Demo(
        "skip-one-side",
        "A skip with the hop on one side only: long, short, then one whole beat.",
        "skip", 16,
        Learner(
            tempo_bpm=92, scatter_s=0.015, timekeeper_s=0.010, short_db=-3,
            not_made=frozenset((beat, 1) for beat in range(1, 16, 2)),
        ),
        clips=STEPS_ON_GRIT,
    ),
    Demo(
        "gallop-to-run",
        "A gallop that is long-short for five beats and then becomes a run.",
        "gallop", 14,
        Learner(tempo_bpm=104, scatter_s=0.015, timekeeper_s=0.010, short_db=-3, even_from_beat=5),
        room=GYM, clips=STEPS_ON_GRIT,
    ),
    Demo(
        "hop-steady",
        "Twelve even hops, a rest of three seconds after the sixth.",
        "hop", 12,
        Learner(tempo_bpm=118, scatter_s=0.014, timekeeper_s=0.010, rests=(Rest(5, 3.0),)),
        clips=ON_BOARDS, rate_hz=32_000,
    ),
    Demo(
        "jump-flam",
        "Jumps in which the two feet land 60 ms apart: two sounds where one is wanted.",
        "jump", 10,
        Learner(tempo_bpm=56, scatter_s=0.020, timekeeper_s=0.015, landing_spread_s=0.060),
        room=NEAR, clips=FLAT_FEET, rate_hz=44_100,
    ),
    Demo(
        "gallop-noisy",
        "A good gallop beside a loud fan.",
        "gallop", 14,
        Learner(tempo_bpm=108, scatter_s=0.020, timekeeper_s=0.012, short_db=-3),
        room=FAN, clips=HARD_SHOE,
    ),
    Demo(
        "gallop-cue-fades",
        "A gallop with the cue for four beats, then eight on the learner's own; the cue is in the recording.",
        "gallop", 12,
        Learner(scatter_s=0.020, asynchrony_s=-0.025, short_db=-3),
        room=GYM, cued_beats=4, rate_hz=24_000,
    ),
    Demo(
        "nobody-moving",
        "The cue of a gallop, and nobody moving.",
        "gallop", 0, Learner(), cued_beats=12, rate_hz=24_000,
    ),
)  # fmt: skip


def main() -> None:
    """Write all recordings and their truth."""
    for number, demo in enumerate(DEMOS):
        take = made(demo, seed=1000 + number)
        with replacing(FOLDER / f"{demo.name}.flac") as temporary:
            soundfile.write(temporary, take.samples, take.sample_rate_hz, "PCM_16", format="FLAC")
        write_text(FOLDER / f"{demo.name}.json", truth(demo, take))
        print(f"{demo.name}: {len(take.landings)} landings")


def made(demo: Demo, *, seed: int) -> Take:
    """The recording of a demo and its truth."""
    performance, leak = _moves(demo, seed)
    feet = model_feet(seed) if demo.clips is None else _recorded(demo.clips)
    return record(performance, demo.room, seed=seed, feet=feet, leak=leak, sample_rate_hz=demo.rate_hz)


def truth(demo: Demo, take: Take) -> str:
    """What is known of a recording, as JSON; times in s at the microphone."""
    told = {
        "schema": 1,
        "recording": f"{demo.name}.flac",
        "made": "invented: nobody moved like this",
        "about": demo.about,
        "pattern": demo.pattern,
        "beats": demo.beats,
        "cued_beats": demo.cued_beats,
        "feet": "made up" if demo.clips is None else sorted({*demo.clips.lead, *demo.clips.short}),
        "learner": _differing(demo.learner) if demo.beats else None,
        "room": {**_differing(demo.room), "noise_colour": demo.room.noise_colour.name.lower()},
    }
    landings = [
        {
            "time_s": round(landing.time_s, 5),
            "beat": landing.beat,
            "place": landing.place,
            "spread_s": landing.spread_s,
        }
        for landing in take.landings
    ]
    lines = [f'"{key}": {json.dumps(value)}' for key, value in told.items()]
    rows = ",\n  ".join(json.dumps(landing) for landing in landings)
    return "{" + ",\n ".join([*lines, f'"landings": [\n  {rows}]']) + "}\n"


def _moves(demo: Demo, seed: int) -> tuple[Performance, Leak | None]:
    """What the learner does, and the cue in the room if there was one."""
    pattern = load_pattern(demo.pattern)
    if demo.cued_beats is None:
        return perform(pattern, demo.learner, beats=demo.beats, seed=seed, start_s=1.2), None
    beats = demo.beats or demo.cued_beats
    plan = Plan(pattern.tempo.default, beats, CueLevel.C4, Fade(full=demo.cued_beats))
    schedule = make_schedule(pattern, plan)
    track = lay_out(schedule, choose_cues(schedule, tone_set(tone_set_names()[0])))
    leak = Leak(render(track), start_s=0.5, above_feet_db=6.0, distance_m=1.0)
    start_s = leak.start_s + track.lead_in_s
    if not demo.beats:
        return nobody(start_s + schedule.end_s), leak
    return follow(schedule, demo.learner, seed=seed, start_s=start_s), leak


def _recorded(clips: Clips) -> Feet:
    """Feet that land with the recorded clips."""
    lead = recorded_feet([_clip(name) for name in clips.lead])
    short = recorded_feet([_clip(name) for name in clips.short]) if clips.short else lead
    return TwoKinds(lead, short)


def _clip(name: str) -> Sound:
    samples, _ = soundfile.read(FOLDER / "feet" / f"{name}.flac", dtype="float32")
    return Sound(samples, CONTACT_S)


def _differing(thing: Learner | Room) -> dict[str, object]:
    """The fields that say something: those that are not at their default."""
    default = type(thing)()
    names = [field.name for field in fields(thing)]
    told = {name for name in names if getattr(thing, name) != getattr(default, name)}
    return {name: _plain(value) for name, value in asdict(thing).items() if name in told}


def _plain(value: object) -> object:
    """A value as JSON can hold it."""
    return sorted(value) if isinstance(value, frozenset) else value


if __name__ == "__main__":
    main()
