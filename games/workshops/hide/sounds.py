"""The hide's own voices, all of them soft: a pencil, a page, dry leaves."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from musclewood.games.sound.synthesis import RATE_HZ, Samples, fade, finish, noise, times


def pencil() -> Samples:
    """Three short strokes on paper."""
    sound = np.zeros(round(0.7 * RATE_HZ))
    for number, (start_s, length_s) in enumerate(((0.02, 0.16), (0.24, 0.1), (0.42, 0.2))):
        swell = np.sin(np.pi * times(length_s) / length_s) ** 1.5
        stroke = noise(length_s, 2200, 6200, 51 + number) * swell
        start = round(start_s * RATE_HZ)
        sound[start : start + stroke.size] += stroke
    return finish(fade(sound, 0.01, 0.05))


def page() -> Samples:
    """A page is turned: paper sweeping through air, and its edge at the end."""
    t = times(0.45)
    sweep = noise(0.45, 700, 3800, 61) * np.sin(np.pi * t / 0.45) ** 2
    flick = 0.8 * noise(0.45, 1500, 5200, 62) * np.exp(-(((t - 0.36) / 0.02) ** 2))
    return finish(fade(sweep + flick, 0.02, 0.06))


def rustle() -> Samples:
    """Dry hornbeam leaves that somebody moved."""
    length_s = 0.8
    sound = np.zeros(round(length_s * RATE_HZ))
    chance = np.random.default_rng(71)
    for _ in range(22):
        start = int(chance.uniform(0.0, 0.68) * RATE_HZ)
        leaf = noise(0.06, 1600, 5600, int(chance.integers(1000))) * np.exp(-times(0.06) * chance.uniform(50, 120))
        sound[start : start + leaf.size] += leaf * chance.uniform(0.2, 0.8)
    return finish(fade(sound, 0.05, 0.2))


VOICES: Mapping[str, Callable[[], Samples]] = {"pencil": pencil, "page": page, "rustle": rustle}
