"""Examination: what a recording holds, by the same causal chain as the games, first sample to last.

Nobody tells it where the muscle rests, and it never looks ahead. Levels are therefore relative to the recording itself:
pairs of channels are compared by activation above each one's rest, as a fraction of its own peak.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from musclewood.signal.measures.coordination import falconer_winter_percent, rudolph
from musclewood.signal.measures.fatigue import assess_fatigue, burst_of, measure_burst
from musclewood.signal.quality.quality import QualityMonitor, summarise_quality
from musclewood.signal.recordings.recording import Recording
from musclewood.signal.stream.activation import Flags, Reference, relative_activation
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.bursts import PEAK_S, Contraction
from musclewood.signal.stream.chain import Chain
from musclewood.signal.stream.conditioning import LOWEST_RATE_HZ, Conditioning
from musclewood.signal.stream.mains import MainsRemoval

FORMAT = "musclewood-examination/1"
BLOCK_S = 1.0
REFERENCE_WINDOW_S = 0.5  # as for a reference contraction
SHORTEST_SPECTRUM_S = 0.05  # less holds too few waves for a median frequency


@dataclass(frozen=True)
class _Course:
    """All that the chain gave; arrays (ticks, channels), emg_uv (samples, channels) with zeros
    where samples are lost."""

    emg_uv: Samples
    amplitude_uv: Samples
    contracting: Flags
    readable: Flags
    step_s: float
    contractions: tuple[tuple[Contraction, ...], ...]


def examine(recording: Recording, *, envelope: bool = False) -> dict[str, Any]:
    """The object that `musclewood examine --json` prints; a number that cannot be told is None.

    The key `assumed` is there only if the file left something open.

    envelope: the samples are an envelope, not raw EMG; slower than 100 Hz they cannot be anything else.
    """
    envelope = envelope or recording.rate_hz < LOWEST_RATE_HZ
    course = _run(recording, envelope)
    quality = QualityMonitor(recording.rate_hz, len(recording.labels), envelope=envelope)
    seconds = [second for block in blocks_of(recording) for second in quality.process(block)] + quality.finish()
    levels = [_rest_and_highest(course, channel, REFERENCE_WINDOW_S) for channel in range(len(recording.labels))]
    channels = []
    for channel, label in enumerate(recording.labels):
        summary = summarise_quality(seconds, channel)
        channels.append(
            {
                "label": label,
                "rest_uv": _number(levels[channel][0]),
                "peak_uv": _number(_rest_and_highest(course, channel, PEAK_S)[1]),
                "contractions": [
                    _contraction(course, channel, found, recording.rate_hz, envelope)
                    for found in course.contractions[channel]
                ],
                "quality": {
                    "verdict": summary.verdict,
                    "mains_share": _number(summary.mains_share),
                    "movement_share": _number(summary.movement_share),
                    "clipped_share": _number(summary.clipped_share),
                    "heartbeat_share": _number(summary.heartbeat_share),
                    "snr_db": _number(summary.snr_db),
                    "faults": list(summary.faults),
                },
                "fatigue": _fatigue(course, channel, recording.rate_hz, envelope),
            }
        )
    return {
        "format": FORMAT,
        "rate_hz": recording.rate_hz,
        "duration_s": recording.duration_s,
        **({"assumed": list(recording.assumed)} if recording.assumed else {}),
        "channels": channels,
        "pairs": [_pair(course, levels, pair) for pair in combinations(range(len(channels)), 2)],
    }


def blocks_of(recording: Recording) -> Iterator[Block]:
    """The recording as a sensor would have sent it, about a second at a time, with what was lost told as lost."""
    size = max(1, round(BLOCK_S * recording.rate_hz))
    count = len(recording.samples_uv)
    lost_before = {gap.before: gap.lost for gap in recording.gaps}
    starts = sorted({*range(0, count, size), *(gap.before for gap in recording.gaps if gap.before < count)})
    passed = 0
    for start, stop in zip(starts, [*starts[1:], count], strict=True):
        lost = lost_before.get(start, 0)
        passed += lost
        yield Block(recording.samples_uv[start:stop], (start + passed) / recording.rate_hz, lost)


def _run(recording: Recording, envelope: bool) -> _Course:
    width = len(recording.labels)
    chain = Chain(recording.rate_hz, width, envelope=envelope)
    conditioning = None if envelope else Conditioning(recording.rate_hz, width)
    mains = None if envelope else MainsRemoval(recording.rate_hz, width)
    emg, batches = [], []
    for block in blocks_of(recording):
        batches.append(chain.process(block))
        if conditioning is not None and mains is not None:
            samples, readable = conditioning.process(block.samples_uv, block.lost)
            emg += [np.zeros((block.lost, width)), mains.process(samples, readable, block.lost)]
    chain.finish()
    found = chain.take_contractions()
    return _Course(
        emg_uv=np.concatenate(emg) if emg else np.zeros((0, width)),
        amplitude_uv=np.concatenate([batch.amplitude_uv for batch in batches]),
        contracting=np.concatenate([batch.contracting for batch in batches]),
        readable=np.concatenate([batch.readable for batch in batches]),
        step_s=chain.step_s,
        contractions=tuple(tuple(one for channel, one in found if channel == wanted) for wanted in range(width)),
    )


def _rest_and_highest(course: _Course, channel: int, window_s: float) -> tuple[float, float]:
    """Median amplitude outside contractions, and the highest mean over a window, µV."""
    amplitude = course.amplitude_uv[:, channel]
    readable = course.readable[:, channel]
    quiet = readable & ~course.contracting[:, channel]
    seen = amplitude[readable]
    if not len(seen):
        return 0.0, 0.0
    window = min(len(seen), max(1, round(window_s / course.step_s)))
    highest = float(np.convolve(seen, np.full(window, 1.0 / window), "valid").max())
    return float(np.median(amplitude[quiet] if quiet.any() else seen)), highest


def _contraction(course: _Course, channel: int, found: Contraction, rate_hz: float, envelope: bool) -> dict[str, Any]:
    frequency = math.nan
    if not envelope and found.offset_s - found.onset_s >= SHORTEST_SPECTRUM_S:
        own = course.emg_uv[round(found.onset_s * rate_hz) : round(found.offset_s * rate_hz), channel]
        frequency = burst_of(own, rate_hz, found.onset_s).median_frequency_hz
    return {
        "onset_s": _number(found.onset_s),
        "offset_s": _number(found.offset_s),
        "mean_uv": _number(found.mean_uv),
        "peak_uv": _number(found.peak_uv),
        "median_frequency_hz": _number(frequency),
    }


def _fatigue(course: _Course, channel: int, rate_hz: float, envelope: bool) -> dict[str, Any]:
    emg = course.emg_uv[:, channel]
    found = () if envelope else course.contractions[channel]
    bursts = [measure_burst(emg, rate_hz, one.onset_s, one.offset_s) for one in found]
    fatigue = assess_fatigue([burst for burst in bursts if burst is not None])
    return {
        "median_frequency_start_hz": _number(fatigue.median_frequency_start_hz),
        "median_frequency_slope_hz_per_min": _number(fatigue.median_frequency_slope_hz_per_min),
        "fatigued": fatigue.fatigued,
    }


def _pair(course: _Course, levels: list[tuple[float, float]], pair: tuple[int, int]) -> dict[str, Any]:
    columns = list(pair)
    seen = course.readable[:, columns].all(axis=1)
    rest, peak = (tuple(levels[channel][end] for channel in columns) for end in (0, 1))
    falconer_winter = weight = math.nan
    if seen.any() and all(0.0 <= low < high for low, high in zip(rest, peak, strict=True)):
        activation = relative_activation(course.amplitude_uv[seen][:, columns], Reference(rest, peak))
        falconer_winter = falconer_winter_percent(activation[:, 0], activation[:, 1])
        weight = rudolph(activation[:, 0], activation[:, 1])
    return {"channels": columns, "falconer_winter_percent": _number(falconer_winter), "rudolph": _number(weight)}


def _number(value: float) -> float | None:
    """Six digits are more than any of these is worth; JSON knows no NaN."""
    return float(f"{value:.6g}") if math.isfinite(value) else None
