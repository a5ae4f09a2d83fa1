"""Conditioning: from raw samples to EMG, band-passed, without mains hum, with unreadable samples marked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.signal.activation import Flags
from musclewood.signal.blocks import Samples
from musclewood.signal.stage import Stage
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt_zi

# SENIAM: high-pass 10-20 Hz, low-pass near 500 Hz for surface EMG. 20 Hz keeps movement out (De Luca et al. 2010,
# J Biomech 43:1573); 450 Hz leaves room below the Nyquist frequency of a 1 kHz sensor.
LOW_HZ = 20.0
HIGH_HZ = 450.0
HIGHEST_PART_OF_RATE = 0.45
ORDER = 2  # per edge, 12 dB/octave; our choice: steeper edges ring longer
LOWEST_RATE_HZ = 100.0
FLAT_S = 0.1  # EMG is never exactly constant for this long, not even from an 8 bit sensor at rest; our choice
SETTLE_S = 0.04  # the 20 Hz edge forgets a step to about 2 % in this time


@dataclass
class ConditioningState:
    """What the samples so far have left behind; arrays end in the channel axis."""

    filter: NDArray[np.float64]  # (sections, 2, channels)
    last: NDArray[np.float64]  # newest good sample
    run: NDArray[np.int64]  # how many equal samples it ends
    since_fault: NDArray[np.int64]  # samples since the newest unreadable one; 0 = that one was the newest


class Conditioning(Stage[ConditioningState]):
    """Causal 20-450 Hz Butterworth band-pass for one stream; after a fault it starts anew from steady conditions."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        if rate_hz < LOWEST_RATE_HZ:
            raise ValueError(f"raw EMG needs {LOWEST_RATE_HZ:g} samples a second or more, not {rate_hz:g}")
        self.rate_hz = rate_hz
        self.channels = channels
        high_hz = min(HIGH_HZ, HIGHEST_PART_OF_RATE * rate_hz)
        self._sos = butter(ORDER, (LOW_HZ, high_hz), btype="bandpass", fs=rate_hz, output="sos")
        self._steady = sosfilt_zi(self._sos)
        self._flat = max(2, round(FLAT_S * rate_hz))
        self._settle = round(SETTLE_S * rate_hz)
        self._state = ConditioningState(
            filter=np.zeros((len(self._sos), 2, channels)),
            last=np.full(channels, np.nan),
            run=np.zeros(channels, np.int64),
            since_fault=np.zeros(channels, np.int64),
        )

    def process(self, samples_uv: Samples, lost: int = 0) -> tuple[Samples, Flags]:
        """Condition samples (n, channels) in µV, `lost` having gone missing just before them.

        Returns the EMG in µV and which of its samples can be read, both (n, channels).
        """
        if lost:
            self._state.since_fault[:] = 0
        if not len(samples_uv):
            return np.zeros((0, self.channels)), np.zeros((0, self.channels), bool)
        if self._nothing_wrong(samples_uv):
            return self._run_sections(samples_uv), np.ones(samples_uv.shape, bool)
        whole, finite = self._mend(samples_uv)
        sound = finite & ~self._flat_samples(whole)
        since = self._samples_since_fault(sound)
        return self._band_pass(whole, since), since > self._settle

    def _nothing_wrong(self, samples_uv: Samples) -> bool:
        """The usual case, told quickly: every sample is a number and differs from the one before, no fault is near."""
        state = self._state
        if (
            not np.isfinite(samples_uv).all()
            or (samples_uv[0] == state.last).any()
            or (samples_uv[1:] == samples_uv[:-1]).any()
            or (state.since_fault < self._settle).any()
        ):
            return False
        state.last = samples_uv[-1].copy()
        state.run[:] = 1
        state.since_fault += len(samples_uv)
        return True

    def _mend(self, samples_uv: Samples) -> tuple[Samples, Flags]:
        """Put the newest good sample (0 before the first) in place of each one that is not a number."""
        finite = np.isfinite(samples_uv)
        if finite.all():
            return np.array(samples_uv, float), finite
        padded = np.vstack([np.nan_to_num(self._state.last), samples_uv])
        rows = np.where(finite, np.arange(1, len(padded))[:, np.newaxis], 0)
        return np.take_along_axis(padded, np.maximum.accumulate(rows, axis=0), axis=0), finite

    def _flat_samples(self, whole: Samples) -> Flags:
        """Which samples end a run of at least FLAT_S equal ones: a rail, or a wire that hangs in the air."""
        state = self._state
        position = np.arange(len(whole))[:, np.newaxis]
        changed = np.empty(whole.shape, bool)
        changed[0] = whole[0] != state.last
        np.not_equal(whole[1:], whole[:-1], out=changed[1:])
        state.last = whole[-1].copy()
        run_start = np.maximum.accumulate(np.where(changed, position, -state.run), axis=0)
        run = position - run_start + 1
        state.run = run[-1].copy()
        return run >= self._flat

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
                steady = self._steady[:, :, np.newaxis] * whole[start]
                state.filter = np.where(back[start], steady, state.filter)
            emg[start:stop] = self._run_sections(whole[start:stop])
        return emg

    def _run_sections(self, part: Samples) -> Samples:
        """What SciPy's sosfilt does, which takes six times as long to begin: too long for blocks of 16 ms."""
        for section, delays in zip(self._sos, self._state.filter, strict=True):
            part, delays[:] = lfilter(section[:3], section[3:], part, axis=0, zi=delays)
        return part
