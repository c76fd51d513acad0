"""A bank of simulated rooms: the way from the floor, a mouth or a speaker to the microphone.

Built once with pyroomacoustics (image sources for the early part, ray tracing
for the tail) and kept in the material file; mixing scenes needs numpy only.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SPEED_OF_SOUND_M_S = 343.0
LEAD_S = 0.002
"""Every response starts this long before its direct path, s."""

FOOT_HEIGHT_M = 0.05
MIC_HEIGHT_M = 0.9
MOUTH_HEIGHT_M = 1.3
BANDS_HZ = (125, 250, 500, 1000, 2000, 4000)
RT60_SHAPE = (1.15, 1.1, 1.0, 1.0, 0.95, 0.8)
"""Reverberation time by band against the middle: gyms ring longest at the bottom.

A typical course for halls with a hard floor; air absorption comes on top.
"""


@dataclass(frozen=True)
class RoomPlan:
    """Size (m), reverberation time (s, 500-1000 Hz) and foot distances (m)."""

    name: str
    size_m: tuple[float, float, float]
    rt60_s: float
    distances_m: tuple[float, ...]


@dataclass(frozen=True)
class Room:
    """Responses to one microphone; `feet[k]` belongs to `distances_m[k]`.

    `mouths` and `speakers` are other places in the same room, for people who
    talk and for the loudspeaker that plays cues; `far` are floor spots for a
    ball or a second child.
    """

    name: str
    rt60_s: float
    distances_m: NDArray[np.float64]
    feet: tuple[NDArray[np.float32], ...]
    mouths: tuple[NDArray[np.float32], ...]
    speakers: tuple[NDArray[np.float32], ...]
    far: tuple[NDArray[np.float32], ...]


NEAR = (1.0, 1.6, 2.4, 3.4)
GYM = (1.0, 1.6, 2.4, 3.4, 4.8, 6.4, 8.0)

PLANS: tuple[RoomPlan, ...] = (
    RoomPlan("hallway-0.6", (18.0, 2.6, 2.8), 0.6, GYM),
    RoomPlan("hallway-1.0", (24.0, 3.0, 3.2), 1.0, GYM),
    RoomPlan("classroom-0.4", (8.0, 6.5, 2.9), 0.4, NEAR),
    RoomPlan("classroom-0.7", (9.5, 7.5, 3.1), 0.7, (*NEAR, 4.6)),
    RoomPlan("gym-0.9", (20.0, 12.0, 5.5), 0.9, GYM),
    RoomPlan("gym-1.4", (24.0, 14.0, 6.5), 1.4, GYM),
    RoomPlan("gym-1.8", (27.0, 15.0, 7.0), 1.8, GYM),
    RoomPlan("gym-2.1", (30.0, 18.0, 7.5), 2.1, GYM),
    RoomPlan("gym-2.5", (36.0, 20.0, 8.5), 2.5, GYM),
)


def varied_plan(plan: RoomPlan, rng: np.random.Generator) -> RoomPlan:
    """Return a plan a little different in size and reverberation, for training."""
    size = tuple(float(s) for s in np.array(plan.size_m) * rng.uniform(0.88, 1.15, 3))
    return RoomPlan(f"{plan.name}-varied", size, plan.rt60_s * float(rng.uniform(0.8, 1.2)), plan.distances_m)


def build_room(plan: RoomPlan, rng: np.random.Generator, sample_rate_hz: int) -> Room:
    """Simulate all responses of one room."""
    import pyroomacoustics as pra

    pra.constants.set("num_threads", 1)
    np.random.seed(int(rng.integers(2**31)))  # noqa: NPY002 - the simulator draws from numpy's global state
    absorption, _ = pra.inverse_sabine(plan.rt60_s, plan.size_m)
    shaped = np.clip(absorption / np.array(RT60_SHAPE), 0.01, 0.98)
    material = pra.Material(energy_absorption={"coeffs": list(shaped), "center_freqs": list(BANDS_HZ)},
                            scattering=0.15)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of its own default number of rays, replaced below
        shoebox = pra.ShoeBox(plan.size_m, fs=sample_rate_hz, materials=material, max_order=4,
                              ray_tracing=True, air_absorption=True)
    shoebox.set_ray_tracing(n_rays=6000, receiver_radius=0.5, energy_thres=1e-6)
    microphone = np.array([plan.size_m[0] * 0.22, plan.size_m[1] * rng.uniform(0.35, 0.65), MIC_HEIGHT_M])
    shoebox.add_microphone(microphone)
    places = _places(plan, microphone, rng)
    for place in places:
        shoebox.add_source(place)
    shoebox.compute_rir()
    responses = [
        _aligned(np.asarray(shoebox.rir[0][k]), float(np.linalg.norm(place - microphone)),
                 plan.rt60_s, sample_rate_hz)
        for k, place in enumerate(places)
    ]
    n = len(plan.distances_m)
    distances = np.array([np.linalg.norm(p - microphone) for p in places[:n]])
    return Room(plan.name, plan.rt60_s, distances, tuple(responses[:n]), tuple(responses[n : n + 3]),
                tuple(responses[n + 3 : n + 5]), tuple(responses[n + 5 :]))


def _places(plan: RoomPlan, microphone: NDArray[np.float64],
            rng: np.random.Generator) -> list[NDArray[np.float64]]:
    """Place feet in a line away from the microphone, then 3 mouths, 2 speakers, 2 far spots."""
    def at(distance: float, height: float, sideways: float) -> NDArray[np.float64]:
        y = float(np.clip(microphone[1] + sideways, 0.4, plan.size_m[1] - 0.4))
        x = float(np.clip(microphone[0] + distance, 0.4, plan.size_m[0] - 0.4))
        return np.array([x, y, height])

    sideways = rng.uniform(-0.5, 0.5, 20)
    feet = [at(d, FOOT_HEIGHT_M, sideways[k]) for k, d in enumerate(plan.distances_m)]
    mouths = [at(d, MOUTH_HEIGHT_M, sideways[10 + k]) for k, d in enumerate((0.9, 2.2, -1.5))]
    speakers = [at(d, 0.8, s) for d, s in ((0.5, 0.6), (2.0, -0.8))]
    reach = plan.distances_m[-1]
    far = [at(reach * 0.9, 0.12, 1.0), at(reach * 0.6, 0.12, -1.2)]
    return feet + mouths + speakers + far


def _aligned(response: NDArray[np.float64], distance_m: float, rt60_s: float,
             sample_rate_hz: int) -> NDArray[np.float32]:
    """Cut a response to begin `LEAD_S` before its direct path and end with its tail."""
    from pyroomacoustics.parameters import constants

    centre = distance_m / SPEED_OF_SOUND_M_S * sample_rate_hz + constants.get("frac_delay_length") // 2
    first = round(centre - LEAD_S * sample_rate_hz)
    padded = np.concatenate([np.zeros(max(0, -first)), response[max(0, first) :]])
    length = min(len(padded), round((0.95 * rt60_s + 0.05) * sample_rate_hz))
    kept = padded[:length].copy()
    fade = round(0.05 * sample_rate_hz)
    kept[-fade:] *= np.linspace(1.0, 0.0, fade) ** 2
    return kept.astype(np.float32)
