"""The loom's own voices: the shuttle, the beater, and plucked threads that say where the pattern goes next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np
from musclewood.games.sound.synthesis import ROOT_HZ, Samples, fade, finish, noise, times
from musclewood.games.workshops.guide import GUIDE_STEPS


def thread(semitones: int) -> Samples:
    """A warp thread, plucked softly: short, with little above the fundamental."""
    t, hz = times(0.55), ROOT_HZ * 2.0 ** (semitones / 12.0)
    partials = ((1, 1.0), (2, 0.3), (3, 0.1))
    sound = sum(level * np.sin(2 * np.pi * hz * n * t) * np.exp(-(6 + 5 * n) * t) for n, level in partials)
    return finish(fade(np.asarray(sound), 0.006, 0.1))


def beat(seed: int = 41) -> Samples:
    """The comb beats the weft home: wool on wood, twice."""
    t = times(0.3)
    wood = np.sin(2 * np.pi * (120 * t - 60 * t**2)) * np.exp(-24 * t)
    wool = 0.25 * noise(0.3, 300, 1400, seed) * np.exp(-18 * t)
    once = fade(wood + wool, 0.004, 0.06)
    sound = np.zeros(round(1.6 * once.size))
    sound[: once.size] += once
    sound[-once.size :] += 0.7 * once
    return finish(sound)


def slide() -> Samples:
    """The shuttle runs through the shed: a short whisper of wool."""
    length_s = 0.34
    swell = np.sin(np.pi * times(length_s) / length_s) ** 2
    return finish(noise(length_s, 500, 2600, 43) * swell)


VOICES: Mapping[str, Callable[[], Samples]] = {
    "beat": beat,
    "slide": slide,
    **{f"thread_{n}": partial(thread, step) for n, step in enumerate(GUIDE_STEPS)},
}
