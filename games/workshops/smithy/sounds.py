"""The smithy's own voices: tongs laid down, a pawl that clicks, the hammer on hot iron, water that hisses."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from musclewood.games.sound.synthesis import Samples, fade, finish, noise, note_hz, times


def tongs() -> Samples:
    """Iron laid on iron, softly."""
    t = times(0.4)
    ring = sum(level * np.sin(2 * np.pi * hz * t) * np.exp(-decay * t) for hz, level, decay in ((660, 1.0, 16), (1510,
        0.35, 24), (2470, 0.15, 34)))  # fmt: skip
    return finish(fade(np.asarray(ring), 0.004, 0.08))


def pawl() -> Samples:
    """A small click: high enough, let go."""
    t = times(0.16)
    click = (np.sin(2 * np.pi * note_hz(10) * t) + 0.5 * np.sin(2 * np.pi * note_hz(15) * t)) * np.exp(-34 * t)
    return finish(fade(click, 0.002, 0.04))


def clang() -> Samples:
    """The hammer falls on hot iron: a thud that is felt, and a ring in the village's key."""
    t = times(0.9)
    thud = np.sin(2 * np.pi * (210 * t - 110 * t**2)) * np.exp(-20 * t)
    ring = sum(level * np.sin(2 * np.pi * note_hz(5) * ratio * t) * np.exp(-decay * t) for ratio, level,
        decay in ((1.0, 0.6, 7), (2.71, 0.3, 9), (4.2, 0.14, 14)))  # fmt: skip
    return finish(fade(thud + ring + 0.2 * noise(0.9, 1200, 5000, 71) * np.exp(-60 * t), 0.002, 0.2))


def hiss() -> Samples:
    """A bar that went cold, put back into the water."""
    length_s = 0.8
    t = times(length_s)
    swell = np.clip(t / 0.06, 0, 1) * np.exp(-4.5 * t)
    return finish(fade(noise(length_s, 1400, 5200, 72) * swell, 0.01, 0.15))


VOICES: Mapping[str, Callable[[], Samples]] = {"tongs": tongs, "pawl": pawl, "clang": clang, "hiss": hiss}
