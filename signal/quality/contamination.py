"""What one second of one channel holds besides muscle, as powers in µV²."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.spectrum import HIGH_HZ, LOW_HZ, Vector

MAINS_HZ = (50.0, 60.0)
MAINS_DRIFT_HZ = 0.5  # our choice: public grids stay within +-0.2 Hz almost always, value from memory
HARMONICS = 5
BESIDE_HZ = np.array([-9.0, -7.5, -6.0, -4.5, 4.5, 6.0, 7.5, 9.0])  # our choice: what mains is held against
FEWEST_VALUES = 24  # our choice: with fewer distinct values a pile-up at the extreme is coarse digits, not clipping


@dataclass(frozen=True, slots=True)
class Contents:
    """One second of one channel.

    power: within 20-450 Hz, mains included; mains: of the fundamental and its harmonics; prominence: the fundamental
    against the density beside it (1 = no mains); movement: below 20 Hz; clipped: share of samples at a rail;
    flat: whether nothing moves; levels_uv: RMS within 20-450 Hz of each quarter second;
    noise_uv: RMS over 20-450 Hz if the quietest quarter's highest frequencies filled the whole band;
    whiteness: density of the highest against that of the usual EMG frequencies in that quarter (1 = white noise).
    """

    power: float
    mains: float
    prominence: float
    movement: float
    clipped: float
    flat: bool
    levels_uv: tuple[float, ...]
    noise_uv: float
    whiteness: float

    @property
    def mains_share(self) -> float:
        return min(1.0, self.mains / self.power) if self.power > 0.0 else 0.0

    @property
    def movement_share(self) -> float:
        whole = self.power + self.movement
        return self.movement / whole if whole > 0.0 else 0.0


def contents(samples_uv: Vector, rate_hz: float) -> Contents:
    """Examine about one second of one channel, shape (n,), its usual offset already removed."""
    high_hz = min(HIGH_HZ, 0.45 * rate_hz)
    low, band = _band_powers(samples_uv, rate_hz, high_hz)
    mains, prominence = _mains(samples_uv, rate_hz, high_hz)
    quarters = [_quarter(part, rate_hz, high_hz) for part in np.array_split(samples_uv, 4)]
    quietest = min(quarters, key=lambda quarter: quarter[0])
    return Contents(
        power=band,
        mains=mains,
        prominence=prominence,
        movement=low,
        clipped=clipped_share(samples_uv),
        flat=bool(np.ptp(samples_uv) < 1e-3 or len(np.unique(samples_uv[: len(samples_uv) // 2])) == 1),
        levels_uv=tuple(level for level, _, _ in quarters),
        noise_uv=quietest[1],
        whiteness=quietest[2],
    )


def clipped_share(samples: Vector) -> float:
    """Share of samples at a rail: equal to the extreme value, where such equals pile up against the values beside it.

    Isolated samples at the end of the range are counted (three or more), so a recording that only touches a rail shows
    a small share without any alarm.
    """
    values = np.unique(samples)
    if len(values) < FEWEST_VALUES:
        return 0.0
    low, high = float(values[0]), float(values[-1])
    near = 0.03 * (high - low)
    at_rails = 0
    for at_rail, beside in (
        (samples == high, (samples < high) & (samples >= high - near)),
        (samples == low, (samples > low) & (samples <= low + near)),
    ):
        count = int(np.sum(at_rail))
        if count >= 3 and count > 2 * int(np.sum(beside)):
            at_rails += count
    return at_rails / len(samples)


def _band_powers(samples_uv: Vector, rate_hz: float, high_hz: float) -> tuple[float, float]:
    """Power below 20 Hz and from there to `high_hz`, over half-second windows."""
    frequency_hz, density = _density(_without_drift(samples_uv), rate_hz, round(0.5 * rate_hz))
    step_hz = float(frequency_hz[1])
    # The window smears each line over two neighbours; 3 Hz below the corner keep EMG out of the lower band.
    low = float(np.sum(density[frequency_hz <= LOW_HZ - 3.0])) * step_hz
    band = float(np.sum(density[(frequency_hz >= LOW_HZ) & (frequency_hz <= high_hz)])) * step_hz
    return low, band


def _without_drift(samples_uv: Vector) -> Vector:
    """The samples less the parabola that fits them best: skin and electrodes drift so within a second, and hurt
    nothing."""
    curves = _parabola(len(samples_uv))
    straight: Vector = samples_uv - curves @ (samples_uv @ curves)
    return straight


def _density(samples_uv: Vector, rate_hz: float, length: int) -> tuple[Vector, Vector]:
    """One-sided power density by half-overlapping Hann windows, offset kept: Welch's estimate without its overhead."""
    length = min(len(samples_uv), length)
    window = _hann(length)
    frames = np.lib.stride_tricks.sliding_window_view(samples_uv, length)[:: max(1, length // 2)]
    power = np.mean(np.abs(np.fft.rfft(frames * window, axis=1)) ** 2, axis=0)
    return _frequencies(length, rate_hz), 2.0 * power / (rate_hz * float(np.sum(window**2)))


def _mains(samples_uv: Vector, rate_hz: float, high_hz: float) -> tuple[float, float]:
    """Power of mains and how far its fundamental stands out; the more likely of 50 and 60 Hz."""
    count = 4 * len(samples_uv)  # padding with zeros puts a line on every quarter of a hertz
    window = _hann(len(samples_uv))
    lines = 2.0 * np.abs(np.fft.rfft(samples_uv * window, count)) ** 2 / float(np.sum(window)) ** 2

    def line(frequency_hz: float | Vector) -> Vector:
        """Mean square of a sine of that frequency, as the window sees it."""
        found: Vector = lines[np.rint(np.asarray(frequency_hz) * count / rate_hz).astype(int)]
        return found

    best = (0.0, 1.0)
    for nominal_hz in MAINS_HZ:
        if nominal_hz + BESIDE_HZ[-1] > rate_hz / 2.0:
            continue
        near_hz = np.linspace(nominal_hz - MAINS_DRIFT_HZ, nominal_hz + MAINS_DRIFT_HZ, 5)
        found_hz = float(near_hz[np.argmax(line(near_hz))])
        above = [
            (float(line(harmonic * found_hz)), float(np.mean(line(harmonic * found_hz + BESIDE_HZ))))
            for harmonic in range(1, HARMONICS + 1)
            if harmonic * found_hz + BESIDE_HZ[-1] < min(high_hz, rate_hz / 2.0)
        ]
        if above and above[0][1] > 0.0 and above[0][0] / above[0][1] > best[1]:
            best = (sum(max(0.0, tone - beside) for tone, beside in above), above[0][0] / above[0][1])
    return best


def _quarter(samples_uv: Vector, rate_hz: float, high_hz: float) -> tuple[float, float, float]:
    """Level within 20 Hz to `high_hz`, noise level and whiteness of a quarter of a second."""
    frequency_hz, density = _density(samples_uv - np.mean(samples_uv), rate_hz, max(8, round(0.125 * rate_hz)))
    step_hz = float(frequency_hz[1])
    band = (frequency_hz >= LOW_HZ) & (frequency_hz <= high_hz)
    level_uv = float(np.sqrt(np.sum(density[band]) * step_hz))
    highest = density[(frequency_hz >= 0.67 * high_hz) & (frequency_hz <= high_hz)]
    usual = density[(frequency_hz > 65.0) & (frequency_hz <= 0.4 * high_hz)]
    if not len(highest) or not len(usual) or not np.mean(usual) > 0.0:
        return level_uv, 0.0, 0.0
    noise_uv = float(np.sqrt(np.mean(highest) * (high_hz - LOW_HZ)))
    return level_uv, noise_uv, float(np.mean(highest) / np.mean(usual))


@lru_cache(maxsize=16)
def _parabola(length: int) -> Vector:
    """Orthonormal polynomials up to the second degree, (length, 3)."""
    curves: Vector = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, length), 3))[0]
    return curves


@lru_cache(maxsize=16)
def _hann(length: int) -> Vector:
    window: Vector = scipy.signal.get_window("hann", length)
    return window


@lru_cache(maxsize=16)
def _frequencies(length: int, rate_hz: float) -> Vector:
    return np.asarray(np.fft.rfftfreq(length, 1.0 / rate_hz), dtype=np.float64)
