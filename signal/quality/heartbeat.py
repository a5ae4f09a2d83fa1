"""Heartbeats in an EMG: isolated waves that look alike and come at the pace of a heart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.spectrum import Vector

BAND_HZ = (8.0, 40.0)  # where a QRS complex has most of its power and EMG little: common practice, no source
INTERVAL_S = (0.4, 1.5)  # 40 to 150 beats a minute
IRREGULAR = 0.25  # our choice: intervals of one heart differ by less than a quarter while somebody exercises lightly
ALIKE = 0.85  # our choice: correlation between one beat and the mean of the others
STANDS_OUT = 6.0  # our choice: a beat against the median of the stretch, both relative to the muscle's own activity
FEWEST = 4  # our choice: three alike happen by chance in every few seconds of a contraction


@dataclass(frozen=True, slots=True)
class Heartbeat:
    """What was seen: peak of the wave (µV, within 8-40 Hz), beats found, and their share of the
    power of the stretch."""

    peak_uv: float
    beats: int
    share: float


def find_heartbeat(samples_uv: Vector, rate_hz: float) -> Heartbeat | None:
    """Look for a heart in a stretch of several seconds of one channel, shape (n,); None if it does not show.

    Contractions hide it; the quiet between them is enough, if three neighbouring beats lie in it.
    """
    if len(samples_uv) < 3.0 * INTERVAL_S[0] * rate_hz or rate_hz < 3.0 * BAND_HZ[1]:
        return None
    wave = scipy.signal.sosfiltfilt(_band_pass(rate_hz), samples_uv)
    half = round(0.06 * rate_hz)
    standing_out = np.abs(wave) / _muscle(samples_uv, rate_hz, half)
    floor = float(np.median(standing_out))
    peaks, _ = scipy.signal.find_peaks(standing_out, distance=max(1, round(0.3 * rate_hz)), height=STANDS_OUT * floor)
    isolated = [int(peak) for peak in peaks if 3 * half <= peak < len(wave) - 3 * half]
    size = np.abs(wave)
    beats = _regular(isolated, rate_hz)
    if len(beats) < FEWEST:
        return None
    shapes = np.array([wave[beat - half : beat + half + 1] for beat in beats])
    usual_uv = float(np.median(size[beats]))
    alike = [
        beat
        for beat, shape in zip(beats, shapes, strict=True)
        if 0.6 * usual_uv < size[beat] < 1.6 * usual_uv and _correlation(shape, shapes) > ALIKE
    ]
    if len(alike) < FEWEST or len(alike) < 0.6 * len(beats):
        return None
    peak_uv = float(np.median(size[alike]))
    power = sum(float(np.sum(wave[beat - half : beat + half + 1] ** 2)) for beat in alike)
    total = float(np.sum((samples_uv - np.mean(samples_uv)) ** 2))
    return Heartbeat(peak_uv, len(alike), min(1.0, power / total) if total > 0.0 else 0.0)


def _muscle(samples_uv: Vector, rate_hz: float, half: int) -> Vector:
    """The size of the muscle's own activity around each sample: its RMS above 80 Hz, where a heartbeat has nothing.

    Dividing by it lets beats stand out in the quiet between contractions, and keeps single motor units, which have
    high frequencies too, from standing out at all.
    """
    high = scipy.signal.sosfiltfilt(_high_pass(rate_hz), samples_uv)
    # A running mean of zeros may fall a rounding error below zero.
    size: Vector = np.sqrt(np.maximum(0.0, scipy.ndimage.uniform_filter1d(high**2, 2 * half + 1))) + 0.5
    return size


def _regular(peaks: list[int], rate_hz: float) -> list[int]:
    """The peaks that have a neighbour at the usual interval, if intervals of a heart are found at all."""
    intervals = np.diff(peaks) / rate_hz
    of_heart = intervals[(intervals >= INTERVAL_S[0]) & (intervals <= INTERVAL_S[1])]
    if len(of_heart) < FEWEST - 1:
        return []
    usual = float(np.median(of_heart))
    near = np.abs(intervals - usual) < IRREGULAR * usual / 2.0
    return [peak for number, peak in enumerate(peaks) if np.any(near[max(0, number - 1) : number + 1])]


def _correlation(shape: Vector, shapes: Vector) -> float:
    """Of one beat with the mean of the others."""
    others = np.sum(shapes, axis=0) - shape
    one, other = shape - np.mean(shape), others - np.mean(others)
    size = float(np.sqrt(np.dot(one, one) * np.dot(other, other)))
    return float(np.dot(one, other)) / size if size > 0.0 else 0.0


@lru_cache(maxsize=8)
def _band_pass(rate_hz: float) -> Vector:
    sections: Vector = scipy.signal.butter(2, BAND_HZ, "bandpass", fs=rate_hz, output="sos")
    return sections


@lru_cache(maxsize=8)
def _high_pass(rate_hz: float) -> Vector:
    sections: Vector = scipy.signal.butter(2, 80.0, "highpass", fs=rate_hz, output="sos")
    return sections
