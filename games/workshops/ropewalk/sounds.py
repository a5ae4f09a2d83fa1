"""The rope walk's own voices: a wooden latch, the creak of hemp, a coil thrown over a peg."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from musclewood.games.sound.synthesis import ROOT_HZ, Samples, fade, finish, noise, times


def latch() -> Samples:
    """A pawl falls into its ratchet: two small knocks of hard wood."""
    sound = np.zeros(times(0.34).size)
    for start_s, hz in ((0.0, 520.0), (0.09, 410.0)):
        t = times(0.22)
        knock = (np.sin(2 * np.pi * hz * t) + 0.4 * np.sin(2 * np.pi * 2.4 * hz * t)) * np.exp(-38 * t)
        start = round(start_s / 0.34 * sound.size)
        sound[start : start + t.size] += knock[: sound.size - start]
    return finish(fade(sound, 0.002, 0.05))


def creak() -> Samples:
    """Hemp under load: a low grain that is rubbed upwards, with its second and third partial for small loudspeakers."""
    length_s = 0.42
    t = times(length_s)
    hz = ROOT_HZ * (1.5 + 0.5 * t / length_s)
    phase = 2 * np.pi * np.cumsum(hz) / 44100
    rub = 0.5 + 0.5 * np.sin(2 * np.pi * 31 * t)
    tone = np.sin(phase) + 0.6 * np.sin(2 * phase) + 0.4 * np.sin(3 * phase)
    sound = tone * rub + 0.3 * noise(length_s, 400, 1800, 61)
    return finish(sound * np.sin(np.pi * t / length_s) ** 2)


def coil() -> Samples:
    """A coil thrown over a peg: a rustle, then a soft thud."""
    t = times(0.5)
    rustle = noise(0.5, 600, 3000, 62) * np.exp(-((t - 0.12) ** 2) / 0.004)
    thud = np.sin(2 * np.pi * (320 * t - 120 * t**2)) * np.exp(-22 * np.clip(t - 0.2, 0, None)) * (t > 0.2)
    return finish(fade(0.35 * rustle + thud, 0.01, 0.1))


VOICES: Mapping[str, Callable[[], Samples]] = {"latch": latch, "creak": creak, "coil": coil}
