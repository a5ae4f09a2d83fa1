"""Conditioning: from raw samples to EMG, band-passed, without mains hum, with unreadable samples marked."""

from __future__ import annotations

import math
import operator
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.stream.activation import Flags, set_flags
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray

# SENIAM: high-pass 10-20 Hz, low-pass near 500 Hz for surface EMG. 20 Hz keeps movement out (De Luca et al. 2010,
# J Biomech 43:1573); 450 Hz leaves room below the Nyquist frequency of a 1 kHz sensor.
LOW_HZ = 20.0
HIGH_HZ = 450.0
HIGHEST_PART_OF_RATE = 0.45
ORDER = 2  # per edge, 12 dB/octave; our choice: steeper edges ring longer
LOWEST_RATE_HZ = 100.0
FLAT_S = 0.1  # EMG is never exactly constant for this long, not even from an 8 bit sensor at rest; our choice
# ... but for what is known to be coarse. At rest 8 bits over 3 mV show the same number for long: 2 µV of noise pass
# half a step of 12 µV, three of their deviations, once in 300 samples, 1.6 µV once in 4,000: 20 s at 200 Hz; our choice
FLAT_COARSE_S = 30.0
BRIDGED_S = 0.02  # a shorter gap shakes the filter less than the EMG itself: the 20 Hz edge hardly moves meanwhile
SETTLE_S = 0.04  # the 20 Hz edge forgets a step to about 2 % in this time
SHORT = 64  # samples; up to here one matrix product is quicker than the filter, most of whose time is its beginning


def band_hz(rate_hz: float) -> float:
    """Width of what the filter lets through at this rate."""
    return min(HIGH_HZ, HIGHEST_PART_OF_RATE * rate_hz) - LOW_HZ


@dataclass
class ConditioningState:
    """What the samples so far have left behind; arrays end in the channel axis."""

    filter: NDArray[np.float64]  # (two delays per section, channels)
    last: NDArray[np.float64]  # newest good sample (1, channels)
    run: NDArray[np.int64]  # how many equal samples it ends
    since_fault: NDArray[np.int64]  # samples since the newest unreadable one; 0 = that one was the newest
    flat: NDArray[np.int64]  # so many equal samples are a fault
    settled: bool = False  # whether no fault is near in any channel
    uncounted: int = 0  # samples with nothing wrong, not yet added to `since_fault`
    usual: Samples | None = None  # the newest block of those, `run` and `last` not yet told by it
    newest: list[float] = field(default_factory=list)  # the same as `last`
    longest: int = 0  # no run is longer


class Conditioning:
    """Causal 20-450 Hz Butterworth band-pass for one stream; after a fault it starts anew from steady conditions."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        if rate_hz < LOWEST_RATE_HZ:
            raise ValueError(f"raw EMG needs {LOWEST_RATE_HZ:g} samples a second or more, not {rate_hz:g}")
        self.rate_hz = rate_hz
        self.channels = channels
        high_hz = min(HIGH_HZ, HIGHEST_PART_OF_RATE * rate_hz)
        self._sos = scipy.signal.butter(ORDER, (LOW_HZ, high_hz), btype="bandpass", fs=rate_hz, output="sos")
        self._steady = scipy.signal.sosfilt_zi(self._sos)
        self._flat = max(2, round(FLAT_S * rate_hz))
        self._flat_coarse = round(FLAT_COARSE_S * rate_hz)
        self._settle = round(SETTLE_S * rate_hz)
        self._bridged = round(BRIDGED_S * rate_hz)
        self._matrices: dict[int, NDArray[np.float64]] = {}
        self._state = ConditioningState(
            filter=np.zeros((2 * len(self._sos), channels)),
            last=np.full((1, channels), np.nan),
            run=np.zeros(channels, np.int64),
            since_fault=np.zeros(channels, np.int64),
            flat=np.full(channels, self._flat),
        )

    def process(
        self, samples_uv: Samples, lost: int = 0, coarse: Sequence[tuple[int, int]] = ()
    ) -> tuple[Samples, Flags]:
        """Condition samples (n, channels) in µV, `lost` having gone missing just before them.

        coarse: channel and sample of these after which its converter is known to be coarse.
        Returns the EMG in µV and which of its samples can be read, both (n, channels).
        """
        if lost > self._bridged:
            self._count_the_uncounted()
            self._state.since_fault[:] = 0
            self._state.settled = False
        if not len(samples_uv):
            return np.zeros((0, self.channels)), np.zeros((0, self.channels), bool)
        if self._state.settled and len(samples_uv) <= SHORT and not coarse:
            emg = self._usual(samples_uv)
            if emg is not None:
                return emg, set_flags(len(emg), self.channels)
        self._count_the_uncounted()
        whole, finite = self._mend(samples_uv)
        sound = finite & ~self._flat_samples(whole, coarse)
        since = self._samples_since_fault(sound)
        self._state.settled = bool((since[-1] >= self._settle).all())
        return self._band_pass(whole, since), since > self._settle

    def _usual(self, samples_uv: Samples) -> Samples | None:
        """A short stretch of numbers that are not flat, for each channel ends elsewhere than it began; None if it is
        none."""
        state, count = self._state, len(samples_uv)
        newest = samples_uv[-1].tolist()
        if state.longest + count > self._flat or any(map(operator.eq, newest, state.newest)):
            return None
        known = np.concatenate((state.filter, samples_uv))
        product: Samples = np.dot(self._matrix(count), known)
        if not math.isfinite(sum(product[0].tolist())):  # one that is no number makes all of its column none
            return None
        state.filter, state.newest, state.longest = product[count:], newest, count
        state.usual = known[-count:]
        state.uncounted += count
        return product[:count]

    def _count_the_uncounted(self) -> None:
        state = self._state
        if state.usual is not None:
            state.since_fault += state.uncounted
            same = state.usual[::-1] == state.usual[-1]
            state.run = np.where(same.all(axis=0), len(same), same.argmin(axis=0))
            state.last = state.usual[-1:]
            state.uncounted, state.usual = 0, None

    def _mend(self, samples_uv: Samples) -> tuple[Samples, Flags]:
        """Put the newest good sample (0 before the first) in place of each one that is not a number."""
        finite = np.isfinite(samples_uv)
        if finite.all():
            return np.array(samples_uv, float), finite
        padded = np.concatenate((np.nan_to_num(self._state.last), samples_uv))
        rows = np.where(finite, np.arange(1, len(padded))[:, np.newaxis], 0)
        return np.take_along_axis(padded, np.maximum.accumulate(rows, axis=0), axis=0), finite

    def _flat_samples(self, whole: Samples, coarse: Sequence[tuple[int, int]]) -> Flags:
        """Which samples end too long a run of equal ones: a rail, or a wire that hangs in the air."""
        state = self._state
        position = np.arange(len(whole))[:, np.newaxis]
        changed = np.empty(whole.shape, bool)
        changed[0] = whole[0] != state.last[0]
        np.not_equal(whole[1:], whole[:-1], out=changed[1:])
        state.last = whole[-1:].copy()
        run_start = np.maximum.accumulate(np.where(changed, position, -state.run), axis=0)
        run = position - run_start + 1
        state.run = run[-1].copy()
        state.newest, state.longest = whole[-1].tolist(), int(state.run.max())
        if not coarse:
            return run >= state.flat
        most = np.tile(state.flat, (len(whole), 1))
        for channel, sample in coarse:
            most[sample + 1 :, channel] = state.flat[channel] = self._flat_coarse
        return run >= most

    def _samples_since_fault(self, sound: Flags) -> NDArray[np.int64]:
        position = np.arange(len(sound))[:, np.newaxis]
        newest_fault = np.maximum.accumulate(np.where(sound, -1 - self._state.since_fault, position), axis=0)
        since = position - newest_fault
        self._state.since_fault = since[-1].copy()
        return since

    def _band_pass(self, whole: Samples, since: NDArray[np.int64]) -> Samples:
        """Filter stretch by stretch, with the state of steady input put in wherever a channel comes back."""
        state = self._state
        back = since == 1
        if not back.any():
            return self._run_sections(whole)
        starts = np.flatnonzero(back.any(axis=1))
        emg = np.empty_like(whole)
        for start, stop in zip([0, *starts], [*starts, len(whole)], strict=True):
            if start == stop:
                continue
            if back[start].any():
                steady = self._steady.reshape(-1, 1) * whole[start]
                state.filter = np.where(back[start], steady, state.filter)
            emg[start:stop] = self._run_sections(whole[start:stop])
        return emg

    def _run_sections(self, part: Samples) -> Samples:
        state, count = self._state, len(part)
        if count > SHORT:
            delays = state.filter.reshape(len(self._sos), 2, -1)
            emg, delays = scipy.signal.sosfilt(self._sos, part, axis=0, zi=delays)
            state.filter = delays.reshape(state.filter.shape)
            return emg
        product: Samples = np.dot(self._matrix(count), np.concatenate((state.filter, part)))
        state.filter = product[count:]
        return product[:count]

    def _matrix(self, count: int) -> NDArray[np.float64]:
        """What `count` steps of the filter, being linear, do to delays and samples.

        One product gives EMG and new delays: in blocks of 16 ms six times as quick as a filter that must begin anew.
        """
        matrix = self._matrices.get(count)
        if matrix is None:
            delays = 2 * len(self._sos)
            unit = np.eye(delays + count)
            out, after = scipy.signal.sosfilt(
                self._sos, unit[delays:], axis=0, zi=unit[:delays].reshape(len(self._sos), 2, -1)
            )
            matrix = self._matrices[count] = np.concatenate((out, after.reshape(delays, -1)))
        return matrix
