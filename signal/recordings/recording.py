"""A recording in memory, and the rules that every file must pass to become one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.signal.errors import RecordingError
from musclewood.signal.stream.blocks import Samples

UV_PER_UNIT = {"uV": 1.0, "mV": 1e3, "V": 1e6}
LOWEST_RATE_HZ = 10.0  # our choice: an envelope sampled more slowly cannot show a quick contraction
HIGHEST_RATE_HZ = 100_000.0  # our choice: beyond any EMG amplifier
SHORTEST_S = 0.5  # our choice: less cannot hold even one contraction
GREATEST_UV = 1e8  # our choice: 100 V; beyond that the unit must be wrong, and sums of squares stay exact below it


@dataclass(frozen=True, slots=True)
class Gap:
    """Samples that the sensor made and the file does not hold: `lost` of them, just before sample `before`."""

    before: int
    lost: int


@dataclass(frozen=True, slots=True)
class Recording:
    """Samples of all channels (n, channels) in µV, their rate, their labels, and where samples are missing.

    NaN: this channel was not measured there, another one was.
    """

    samples_uv: Samples
    rate_hz: float
    labels: tuple[str, ...]
    gaps: tuple[Gap, ...] = ()
    assumed: tuple[str, ...] = ()  # what the file left open, and how it was read

    @property
    def duration_s(self) -> float:
        """From the first sample to the end of the last, missing ones included."""
        return (len(self.samples_uv) + sum(gap.lost for gap in self.gaps)) / self.rate_hz


def uv_per_unit(unit: str, place: str) -> float:
    """µV in one of `unit`, which may be spelled with a Greek mu and in any case but that of V."""
    spelled = unit.strip().replace("µ", "u").replace("μ", "u")
    for known, factor in UV_PER_UNIT.items():
        if spelled.lower() == known.lower():
            return factor
    raise RecordingError(place, f"the unit {unit.strip()[:20]!r} is not known", "use uV, mV or V")


def checked(recording: Recording, place: str) -> Recording:
    """The recording, if it can be used at all."""
    count, channels = recording.samples_uv.shape
    if channels == 0:
        raise RecordingError(place, "there is no channel in it", "add a column or signal with EMG samples")
    if not LOWEST_RATE_HZ <= recording.rate_hz <= HIGHEST_RATE_HZ:
        raise RecordingError(
            place,
            f"the rate is {recording.rate_hz:g} Hz",
            f"give a recording between {LOWEST_RATE_HZ:g} and {HIGHEST_RATE_HZ:g} Hz",
        )
    if count < SHORTEST_S * recording.rate_hz:
        raise RecordingError(
            place, f"there are too few samples ({count} at {recording.rate_hz:g} Hz)", f"record at least {SHORTEST_S} s"
        )
    unseen = np.isnan(recording.samples_uv).all(axis=0)
    if unseen.any():
        label = recording.labels[int(np.flatnonzero(unseen)[0])]
        raise RecordingError(f"{place}, channel {label!r}", "there is no sample in it", "remove the column")
    greatest = np.nanmax(np.abs(recording.samples_uv), axis=0)
    if np.max(greatest) > GREATEST_UV:
        channel = int(np.argmax(greatest))
        raise RecordingError(
            f"{place}, channel {recording.labels[channel]!r}",
            f"samples reach {greatest[channel]:.3g} µV, which no muscle does",
            "check the unit",
        )
    return recording
