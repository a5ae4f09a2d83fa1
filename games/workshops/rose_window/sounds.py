"""The rose window's own voices: a rubbed glass for each height, the ratchet of the arm, a pane set in lead."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np
from musclewood.games.sound.synthesis import ROOT_HZ, Samples, fade, finish, times
from musclewood.games.workshops.guide import GUIDE_STEPS


def glass(semitones: int) -> Samples:
    """A glass rubbed at its rim: a tone that swells, with the octave above it for small loudspeakers."""
    t, hz = times(0.6), ROOT_HZ * 2.0 ** (semitones / 12.0)
    partials = ((1, 1.0), (2, 0.5), (4, 0.12))
    sound = sum(level * np.sin(2 * np.pi * hz * n * t + 0.04 * np.sin(2 * np.pi * 5 * t)) for n, level in partials)
    return finish(fade(np.asarray(sound), 0.09, 0.4))


def ratchet() -> Samples:
    """The arm is wound back to the top: five small clicks that come to rest."""
    sound = np.zeros(times(0.62).size)
    for n, start_s in enumerate((0.0, 0.09, 0.19, 0.31, 0.46)):
        t = times(0.14)
        click = np.sin(2 * np.pi * (620 - 40 * n) * t) * np.exp(-52 * t)
        start = round(start_s / 0.62 * sound.size)
        sound[start : start + t.size] += click[: sound.size - start]
    return finish(fade(sound, 0.002, 0.05))


def set_pane() -> Samples:
    """Glass tapped home into lead: a bright tick on a soft one."""
    t = times(0.4)
    tick = np.sin(2 * np.pi * 1760 * t) * np.exp(-26 * t) + 0.5 * np.sin(2 * np.pi * 2640 * t) * np.exp(-34 * t)
    soft = np.sin(2 * np.pi * (340 * t - 100 * t**2)) * np.exp(-24 * t)
    return finish(fade(0.5 * tick + soft, 0.003, 0.08))


VOICES: Mapping[str, Callable[[], Samples]] = {
    "ratchet": ratchet,
    "set": set_pane,
    **{f"glass_{n}": partial(glass, step) for n, step in enumerate(GUIDE_STEPS)},
}
