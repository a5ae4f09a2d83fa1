"""The pond's own voices: a pebble picked up, a stone in the air, and water touched."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np
from musclewood.games.sound.synthesis import Samples, fade, finish, noise, note_hz, times
from musclewood.games.workshops.skimming_pond.rules import PLIPS


def pebble() -> Samples:
    """Two stones clicking as one is picked from the heap."""
    t = times(0.22)
    first = np.sin(2 * np.pi * 1150 * t) * np.exp(-70 * t)
    second = 0.6 * np.sin(2 * np.pi * 830 * t) * np.exp(-60 * np.abs(t - 0.075)) * (t > 0.07)
    return finish(fade(first + second + 0.1 * noise(0.22, 900, 3200, 41) * np.exp(-40 * t), 0.002, 0.05))


def whoosh() -> Samples:
    """An arm and a stone going through still air."""
    length_s = 0.42
    t = times(length_s)
    swell = np.sin(np.pi * (t / length_s) ** 0.6) ** 2
    return finish(fade(noise(length_s, 300, 1500, 42) * swell, 0.03, 0.12))


def plip(number: int) -> Samples:
    """A skipping stone: a drop's upward chirp that settles on the next note of the scale."""
    hz = note_hz(5 + number)
    t = times(0.5)
    turn = 2 * np.pi * np.cumsum(hz * (1 - 0.35 * np.exp(-38 * t))) * (t[1] - t[0])
    drop = np.sin(turn) * np.exp(-9 * t) + 0.25 * np.sin(2 * turn) * np.exp(-16 * t)
    return finish(fade(drop + 0.06 * noise(0.5, 1800, 6000, 43) * np.exp(-60 * t), 0.003, 0.1))


def plop() -> Samples:
    """A stone that goes straight under: low, round and soon over."""
    t = times(0.45)
    turn = 2 * np.pi * np.cumsum(150 + 130 * np.exp(-14 * t)) * (t[1] - t[0])
    return finish(fade(np.sin(turn) * np.exp(-9 * t) + 0.1 * noise(0.45, 200, 900, 44) * np.exp(-12 * t), 0.004, 0.1))


def loose() -> Samples:
    """Held long enough: two soft notes upwards that say 'let go'."""
    t = times(0.5)
    low = np.sin(2 * np.pi * note_hz(5) * t) * np.exp(-9 * t)
    later = np.clip(t - 0.09, 0, None)
    high = np.sin(2 * np.pi * note_hz(8) * later) * np.exp(-8 * later)
    return finish(fade(low + high, 0.006, 0.12))


VOICES: Mapping[str, Callable[[], Samples]] = {
    "pebble": pebble,
    "whoosh": whoosh,
    "plop": plop,
    "loose": loose,
    **{f"plip{number}": partial(plip, number) for number in range(PLIPS)},
}
