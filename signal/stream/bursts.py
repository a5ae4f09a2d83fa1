"""What one burst of muscle activity measures, once it is over."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from musclewood.signal.stream.activation import Flags
from musclewood.signal.stream.blocks import Samples

PEAK_S = 0.05
# What is twice as high as four fifths of a burst and over within a quarter of a second is a knock; our choices, tried
# on recorded biceps contractions and on simulated ones. The amplitude comes back from it within a tenth of a second.
KNOCK, KNOCK_S, KNOCK_FADES_S = 2.0, 0.25, 0.1


@dataclass(frozen=True, slots=True)
class Contraction:
    """One detected burst; times in seconds since the stream began.

    mean_uv, peak_uv: of the smoothed amplitude, knocks left out; the peak is its highest mean over 50 ms.
    steadiness: mean over standard deviation of the amplitude in the middle 80 %; 0 where it is too short to tell.
    """

    onset_s: float
    offset_s: float
    mean_uv: float
    peak_uv: float
    steadiness: float


def measured(amplitudes_uv: Sequence[float], onset_s: float, offset_s: float, step_s: float) -> Contraction:
    """A contraction by the amplitudes of its ticks, one at least."""
    whole = np.array(amplitudes_uv)
    spoilt = knocked(whole, step_s, KNOCK_FADES_S)
    body = whole if spoilt.all() or not spoilt.any() else whole[~spoilt]
    width = min(len(body), max(1, round(PEAK_S / step_s)))
    tenth = len(body) // 10
    core = body[tenth : len(body) - tenth]
    core_uv = float(np.add.reduce(core)) / len(core)
    sd = math.sqrt(float(np.dot(core - core_uv, core - core_uv)) / len(core))
    return Contraction(
        onset_s=onset_s,
        offset_s=offset_s,
        mean_uv=float(np.add.reduce(body)) / len(body),
        peak_uv=float(np.convolve(body, np.full(width, 1.0 / width), "valid").max()),
        steadiness=core_uv / sd if sd > 0.0 else 0.0,
    )


def knocked(amplitude_uv: Samples, step_s: float, fades_s: float) -> Flags:
    """Which ticks a knock has spoilt that takes so long to fade, shape (m,)."""
    place = 4 * len(amplitude_uv) // 5
    high = amplitude_uv > KNOCK * np.partition(amplitude_uv, place)[place]
    spoilt = np.zeros(len(amplitude_uv), bool)
    if np.count_nonzero(high):
        for start, stop in np.flatnonzero(np.diff(high, prepend=False, append=False)).reshape(-1, 2).tolist():
            if (stop - start) * step_s < KNOCK_S:
                spoilt[start : stop + round(fades_s / step_s)] = True
    return spoilt
