"""How loud something is to an ear, by ITU-R BS.1770-5, annex 1: weighted by frequency, then power. Pure numpy.

Everything here is mono and is played alike on both loudspeakers, which counts as two channels of weight 1. Sounds that
are shorter than a meter's window are measured as if silence followed.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

WINDOW_S = 0.4  # of the momentary loudness (BS.1770: gating blocks of 400 ms)
OFFSET_DB = -0.691 + 10 * np.log10(2)  # the standard's own, and two channels
SILENCE_LUFS = -120.0
# The two filters of the standard as a shelf and a high-pass: gain in dB, quality, corner in Hz. The standard prints
# their coefficients at 48 kHz; from these figures they follow at any rate (value from memory; the tests compare with a
# meter).
SHELF = (3.99984385397, 0.7071752369554193, 1681.9744509555319)
LOW_CUT = (0.5003270373253953, 38.13547087613982)
SMALL_HZ = 300.0  # a laptop's loudspeaker gives little below; common practice, no source


def weighting(hz: NDArray[np.float64], rate_hz: int) -> NDArray[np.complex128]:
    """What both filters together do to each frequency."""
    gain_db, quality, corner_hz = SHELF
    k, over = np.tan(np.pi * corner_hz / rate_hz), 10 ** (gain_db / 20)
    band = over**0.4996667741545416
    shelf = _response((over + band * k / quality + k * k, 2 * (k * k - over), over - band * k / quality + k * k),
                      (1 + k / quality + k * k, 2 * (k * k - 1), 1 - k / quality + k * k), hz, rate_hz)  # fmt: skip
    quality, corner_hz = LOW_CUT
    k = np.tan(np.pi * corner_hz / rate_hz)
    whole = 1 + k / quality + k * k
    low_cut = _response((whole, -2 * whole, whole), (whole, 2 * (k * k - 1), 1 - k / quality + k * k), hz, rate_hz)
    return np.asarray(shelf * low_cut, np.complex128)


def loudest_lufs(sound: NDArray[np.floating], rate_hz: int, above_hz: float = 0.0) -> float:
    """The loudest 0.4 s of a sound; `above_hz`: of what a loudspeaker gives that has nothing below."""
    window = round(WINDOW_S * rate_hz)
    size = sound.size + window
    long = 1 << (size - 1).bit_length()  # quick to transform, and what is heard of it is soon known for every voice
    heard = np.asarray(np.fft.rfft(np.asarray(sound, np.float64), long), np.complex128)
    weighted = np.fft.irfft(heard * share_heard(long, rate_hz, above_hz), long)[:size]
    power = np.concatenate([[0.0], np.cumsum(weighted**2)])
    return _lufs(float((power[window:] - power[:-window]).max() / window))


@lru_cache(maxsize=4)  # a megabyte and a half each
def share_heard(size: int, rate_hz: int, above_hz: float) -> NDArray[np.complex128]:
    """What is left of each frequency of so many samples; kept, since a voice is weighed several times."""
    hz = np.asarray(np.fft.rfftfreq(size, 1 / rate_hz), np.float64)
    left = weighting(hz, rate_hz) * (hz >= above_hz)
    left.setflags(write=False)
    return left


def _lufs(power: float) -> float:
    return OFFSET_DB + 10 * float(np.log10(power)) if power > 1e-12 else SILENCE_LUFS


def _response(
    above: tuple[float, float, float], below: tuple[float, float, float], hz: NDArray[np.float64], rate_hz: int
) -> NDArray[np.complex128]:
    """Of a biquad, b0..b2 over a0..a2, at these frequencies."""
    turn = np.exp(-2j * np.pi * hz / rate_hz)
    return np.asarray(np.polyval(above[::-1], turn) / np.polyval(below[::-1], turn))
