"""The mill's own voices: wood on wood, the stones, a full sack, water over a wall."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from musclewood.games.sound.synthesis import Samples, fade, finish, noise, times


def knock() -> Samples:
    """The hatch is free: two light knocks of wood on wood."""
    t = times(0.34)
    sound = np.zeros(t.size)
    for start_s, hz in ((0.0, 410.0), (0.12, 520.0)):
        since = np.clip(t - start_s, 0, None)
        sound += (t >= start_s) * np.sin(2 * np.pi * hz * since) * np.exp(-42 * since)
    sound += 0.2 * noise(0.34, 700, 2600, 41) * np.exp(-34 * t)
    return finish(fade(sound, 0.002, 0.1))


def grind() -> Samples:
    """Two thirds of a second of stone over stone, with the wheel's buckets heard through the wall."""
    length_s = 0.66
    t = times(length_s)
    swell = np.sin(np.pi * t / length_s) ** 2
    stones = noise(length_s, 110, 520, 42) * (1 + 0.5 * np.sin(2 * np.pi * 9.0 * t))
    water = 0.35 * noise(length_s, 500, 1900, 43) * (1 + 0.6 * np.sin(2 * np.pi * 3.0 * t + 1.0))
    return finish(fade((stones + water) * swell, 0.08, 0.16))


def thud() -> Samples:
    """A full sack set down on boards: low, soft, and a breath of flour after it."""
    t = times(0.5)
    body = np.sin(2 * np.pi * (92 * t - 46 * t**2)) * np.exp(-16 * t)
    cloth = 0.3 * noise(0.5, 180, 900, 44) * np.exp(-22 * t)
    dust = 0.06 * noise(0.5, 1800, 5200, 45) * np.sin(np.pi * np.clip(t / 0.5, 0, 1)) ** 2
    return finish(fade(body + cloth + dust, 0.003, 0.16))


def splash() -> Samples:
    """Water over the wall: broad, soft, gone again."""
    length_s = 0.8
    t = times(length_s)
    swell = np.sin(np.pi * np.clip(t / length_s, 0, 1)) ** 1.5
    return finish(fade(noise(length_s, 600, 3200, 46) * swell * np.exp(-2.2 * t), 0.06, 0.3))


VOICES: Mapping[str, Callable[[], Samples]] = {"knock": knock, "grind": grind, "thud": thud, "splash": splash}
