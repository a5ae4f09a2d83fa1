"""A recording in memory, and the rules that every file must pass to become one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.assets.saying import say
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
    raise RecordingError(place, say("recording.unit-unknown", unit=unit.strip()[:20]), say("mend.use-uv"))


def checked(recording: Recording, place: str) -> Recording:
    """The recording, if it can be used at all."""
    count, channels = recording.samples_uv.shape
    if channels == 0:
        raise RecordingError(place, say("recording.no-channels"), say("mend.add-emg"))
    if not LOWEST_RATE_HZ <= recording.rate_hz <= HIGHEST_RATE_HZ:
        raise RecordingError(
            place,
            say("recording.odd-rate", rate_hz=recording.rate_hz),
            say("mend.rate-between", lowest_rate_hz=LOWEST_RATE_HZ, highest_rate_hz=HIGHEST_RATE_HZ),
        )
    if count < SHORTEST_S * recording.rate_hz:
        raise RecordingError(
            place,
            say("recording.too-few-at", count=count, rate_hz=recording.rate_hz),
            say("mend.record-longer", shortest_s=SHORTEST_S),
        )
    unseen = np.isnan(recording.samples_uv).all(axis=0)
    if unseen.any():
        label = recording.labels[int(np.flatnonzero(unseen)[0])]
        raise RecordingError(
            say("recording-at.channel", name=place, label=label), say("recording.no-sample"), say("mend.remove-column")
        )
    greatest = np.nanmax(np.abs(recording.samples_uv), axis=0)
    if np.max(greatest) > GREATEST_UV:
        channel = int(np.argmax(greatest))
        raise RecordingError(
            say("recording-at.channel", name=place, label=recording.labels[channel]),
            say("recording.too-great", greatest=greatest[channel]),
            say("mend.check-unit"),
        )
    return recording
