"""An examination: a whole recording through the causal chain of the games, summed up as one object.

Nothing looks ahead, and nothing is told when the muscle rests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from typing import Any

import numpy as np
from musclewood.signal.activation import Activation, Reference, relative_activation
from musclewood.signal.blocks import Samples
from musclewood.signal.chain import Chain
from musclewood.signal.conditioning import Conditioning
from musclewood.signal.contractions import Contraction
from musclewood.signal.coordination import falconer_winter_percent, rudolph
from musclewood.signal.fatigue import Burst, assess_fatigue, burst_of, measure_burst
from musclewood.signal.quality import Quality, QualityMonitor, summarise_quality
from musclewood.signal.recordings import Recording
from musclewood.signal.sources.replay import ReplaySource
from musclewood.signal.spectrum import Vector

FORMAT = "musclewood-examination/1"
BLOCK_S = 1.0  # our choice; the chain gives the same output whatever the blocks
SHORTEST_FOR_SPECTRUM_S = 0.1  # our choice: a dozen cycles at the usual median frequency


def examine(recording: Recording) -> dict[str, Any]:
    """The recording's contractions, quality and fatigue by channel, and co-contraction by pair of channels.

    Plain numbers, strings and lists only, in SI units with the unit in the key; None where a number is not known.
    """
    heard = _Heard(recording)
    channels = range(len(recording.labels))
    examination = {
        "format": FORMAT,
        "rate_hz": recording.rate_hz,
        "duration_s": recording.duration_s,
        "channels": [_channel(heard, recording, channel) for channel in channels],
        "pairs": [_pair(heard, pair) for pair in combinations(channels, 2)],
    }
    finite: dict[str, Any] = _finite(examination)
    return finite


class _Heard:
    """What the chain and the quality monitor made of the recording; missing samples are zeros in `emg_uv`."""

    def __init__(self, recording: Recording) -> None:
        channels = len(recording.labels)
        chain = Chain(recording.rate_hz, channels)
        conditioning = Conditioning(recording.rate_hz, channels)
        monitor = QualityMonitor(recording.rate_hz, channels)
        ticks: list[Activation] = []
        emg: list[Samples] = []
        self.seconds: list[Quality] = []
        self.contractions: list[list[Contraction]] = [[] for _ in range(channels)]
        source = ReplaySource(recording)
        while not source.ended:
            for block in source.poll(BLOCK_S):
                ticks.append(chain.process(block))
                emg += [np.zeros((block.lost, channels)), conditioning.process(block.samples_uv, block.lost)[0]]
                self.seconds += monitor.process(block)
        self.seconds += monitor.finish()
        chain.finish()
        for channel, contraction in chain.take_contractions():
            self.contractions[channel].append(contraction)
        self.emg_uv = np.concatenate(emg)
        self.amplitude_uv = np.concatenate([batch.amplitude_uv for batch in ticks])
        self.contracting = np.concatenate([batch.contracting for batch in ticks])
        self.readable = np.concatenate([batch.readable for batch in ticks])

    def rest_uv(self, channel: int) -> float:
        """The usual amplitude outside contractions; of everything, where the muscle never rested."""
        amplitude, seen = self.amplitude_uv[:, channel], self.readable[:, channel]
        resting = amplitude[seen & ~self.contracting[:, channel]]
        if resting.size == 0:
            resting = amplitude[seen]
        return float(np.median(resting)) if resting.size else 0.0

    def peak_uv(self, channel: int) -> float:
        """The largest amplitude anywhere."""
        amplitude = self.amplitude_uv[self.readable[:, channel], channel]
        return float(amplitude.max()) if amplitude.size else 0.0


def _channel(heard: _Heard, recording: Recording, channel: int) -> dict[str, Any]:
    emg, rate_hz = heard.emg_uv[:, channel], recording.rate_hz
    contractions = heard.contractions[channel]
    bursts = [measure_burst(emg, rate_hz, each.onset_s, each.offset_s) for each in contractions]
    fatigue = assess_fatigue([burst for burst in bursts if burst is not None])
    quality = summarise_quality(heard.seconds, channel)
    return {
        "label": recording.labels[channel],
        "rest_uv": heard.rest_uv(channel),
        "peak_uv": heard.peak_uv(channel),
        "contractions": [
            {
                "onset_s": each.onset_s,
                "offset_s": each.offset_s,
                "mean_uv": each.mean_uv,
                "peak_uv": each.peak_uv,
                "median_frequency_hz": _median_frequency_hz(emg, rate_hz, each, burst),
            }
            for each, burst in zip(contractions, bursts, strict=True)
        ],
        "quality": {
            "verdict": quality.verdict,
            "mains_share": quality.mains_share,
            "movement_share": quality.movement_share,
            "clipped_share": quality.clipped_share,
            "heartbeat_share": quality.heartbeat_share,
            "snr_db": quality.snr_db,
            "advice": list(quality.advice),
        },
        "fatigue": {
            "median_frequency_start_hz": fatigue.median_frequency_start_hz,
            "median_frequency_slope_hz_per_min": fatigue.median_frequency_slope_hz_per_min,
            "fatigued": fatigue.fatigued,
        },
    }


def _median_frequency_hz(emg_uv: Vector, rate_hz: float, contraction: Contraction, burst: Burst | None) -> float:
    """Of the burst as fatigue sees it; of a quicker contraction as a whole; NaN if that is too short for a spectrum."""
    if burst is not None:
        return burst.median_frequency_hz
    if contraction.offset_s - contraction.onset_s < SHORTEST_FOR_SPECTRUM_S:
        return math.nan
    part = emg_uv[round(contraction.onset_s * rate_hz) : round(contraction.offset_s * rate_hz)]
    return burst_of(part, rate_hz, contraction.onset_s).median_frequency_hz if len(part) > 1 else math.nan


def _pair(heard: _Heard, pair: tuple[int, int]) -> dict[str, Any]:
    """Co-contraction while either muscle works, each as a share of its own peak: an examination knows no MVC."""
    columns = list(pair)
    rest = [heard.rest_uv(channel) for channel in pair]
    peak = [heard.peak_uv(channel) for channel in pair]
    working = heard.contracting[:, columns].any(axis=1) & heard.readable[:, columns].all(axis=1)
    if not working.any() or any(low >= high for low, high in zip(rest, peak, strict=True)):
        return {"channels": columns, "falconer_winter_percent": 0.0, "rudolph": 0.0}
    reference = Reference(tuple(rest), tuple(peak))
    share = relative_activation(heard.amplitude_uv[working][:, columns], reference)
    return {
        "channels": columns,
        "falconer_winter_percent": falconer_winter_percent(share[:, 0], share[:, 1]),
        "rudolph": rudolph(share[:, 0], share[:, 1]),
    }


def _finite(value: Any) -> Any:
    """The same with None for numbers that are none: JSON has no NaN."""
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_finite(each) for each in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return value.item() if isinstance(value, np.generic) else value
