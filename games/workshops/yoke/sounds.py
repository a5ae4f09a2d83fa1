"""The yoke's own voices: a pail set down, a footfall on planks, and spilt water."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from musclewood.games.sound.synthesis import Samples, fade, finish, noise, times


def pail() -> Samples:
    """Wood on wood, and the bail's short iron ring."""
    t = times(0.4)
    knock = np.sin(2 * np.pi * (190 * t - 110 * t**2)) * np.exp(-24 * t)
    ring = 0.16 * (np.sin(2 * np.pi * 1240 * t) + 0.6 * np.sin(2 * np.pi * 1830 * t)) * np.exp(-16 * t)
    return finish(fade(knock + ring + 0.1 * noise(0.4, 300, 1500, 61) * np.exp(-30 * t), 0.002, 0.1))


def step() -> Samples:
    """A foot on a plank over water: hollow and soft."""
    t = times(0.24)
    hollow = np.sin(2 * np.pi * 96 * t) * np.exp(-22 * t) + 0.4 * np.sin(2 * np.pi * 212 * t) * np.exp(-34 * t)
    return finish(fade(hollow + 0.12 * noise(0.24, 200, 900, 62) * np.exp(-40 * t), 0.004, 0.06))


def splash() -> Samples:
    """Water that goes over a brim into the brook."""
    length_s = 0.7
    t = times(length_s)
    fall = noise(length_s, 700, 4800, 63) * np.exp(-6 * t) * (0.6 + 0.4 * np.sin(2 * np.pi * 17 * t))
    drops = sum(
        np.sin(2 * np.pi * hz * np.clip(t - at, 0, None)) * np.exp(-40 * np.abs(t - at)) * (t > at)
        for hz, at in ((820, 0.12), (1040, 0.22), (690, 0.33))
    )
    return finish(fade(0.5 * fall + 0.3 * np.asarray(drops), 0.02, 0.2))


VOICES: Mapping[str, Callable[[], Samples]] = {"pail": pail, "step": step, "splash": splash}
