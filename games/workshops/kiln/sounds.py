"""The kiln's own voices: clay set down, and the fire."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from musclewood.games.sound.synthesis import RATE_HZ, Samples, fade, finish, noise, times


def clay() -> Samples:
    """A pot set down on wood: a dull knock and the clay's own short ring."""
    t = times(0.32)
    knock = np.sin(2 * np.pi * (150 * t - 90 * t**2)) * np.exp(-26 * t)
    ring = 0.35 * np.sin(2 * np.pi * 640 * t) * np.exp(-34 * t)
    scrape = 0.12 * noise(0.32, 500, 2400, 21) * np.exp(-30 * t)
    return finish(fade(knock + ring + scrape, 0.002, 0.08))


def crackle() -> Samples:
    """Half a second of burning hornbeam: a soft roar and a few snaps at uneven moments."""
    length_s = 0.6
    t = times(length_s)
    sound = 0.16 * noise(length_s, 90, 420, 31) * np.sin(np.pi * t / length_s) ** 2
    chance = np.random.default_rng(32)
    for _ in range(7):
        start = int(chance.uniform(0.02, 0.5) * RATE_HZ)
        snap = noise(0.03, 1200, 5200, int(chance.integers(1000))) * np.exp(-times(0.03) * chance.uniform(140, 320))
        sound[start : start + snap.size] += snap * chance.uniform(0.12, 0.5)
    return finish(fade(sound, 0.05, 0.1))


VOICES: Mapping[str, Callable[[], Samples]] = {"clay": clay, "crackle": crackle}
