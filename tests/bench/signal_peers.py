"""Contraction detectors of other packages, each used as its own documentation shows, and how any detector is scored.

They are given a whole recording and look ahead in it, for their thresholds are parts of its mean or its deviation; this
project's chain sees only the past. pip install musclewood[bench]
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from itertools import pairwise
from typing import Any

import numpy as np
from musclewood.signal.stream.blocks import Samples

Spans = list[tuple[float, float]]  # onset and offset, s
Detector = Callable[[Samples, float], Spans]
# Fragments closer than this are joined, and what is then shorter than that is dropped, where a table says 'merged': our
# choice, half the shortest gap and the shortest contraction in the recordings.
JOIN_S, DROP_S = 0.3, 0.09


def _neurokit2(method: str, given: str) -> Detector:
    def detect(samples: Samples, rate_hz: float) -> Spans:
        import neurokit2

        clean = neurokit2.emg_clean(samples, sampling_rate=round(rate_hz))
        amplitude = neurokit2.emg_amplitude(clean)
        signals: dict[str, Any] = {"emg_amplitude": amplitude} if given == "amplitude" else {"emg_cleaned": clean}
        _, info = neurokit2.emg_activation(**signals, sampling_rate=round(rate_hz), method=method)
        onsets, offsets = (np.asarray(info[f"EMG_{edge}"], float) / rate_hz for edge in ("Onsets", "Offsets"))
        ends = [offsets[offsets > onset] for onset in onsets]
        return [(float(onset), float(end[0])) for onset, end in zip(onsets, ends, strict=True) if len(end)]

    return detect


def _biosppy(samples: Samples, rate_hz: float) -> Spans:
    """What it calls onsets are beginnings and ends alike: its own threshold tells which part between two is active."""
    from biosppy.signals import emg, tools

    found = emg.emg(signal=samples, sampling_rate=rate_hz, show=False)
    size = int(0.05 * rate_hz)
    smooth, _ = tools.smoother(signal=np.abs(found["filtered"]), kernel="boxzen", size=size, mirror=True)
    threshold = 1.2 * np.mean(smooth) + 2.0 * np.std(smooth, ddof=1)
    edges = np.asarray(found["onsets"], int)
    parts = pairwise(edges)
    return [(on / rate_hz, off / rate_hz) for on, off in parts if np.mean(smooth[on : off + 1]) > threshold]


_ALL: dict[str, tuple[str, Detector]] = {
    "neurokit2 threshold": ("neurokit2", _neurokit2("threshold", "amplitude")),
    "neurokit2 mixture": ("neurokit2", _neurokit2("mixture", "amplitude")),
    "neurokit2 biosppy": ("neurokit2", _neurokit2("biosppy", "cleaned")),
    "biosppy": ("biosppy", _biosppy),
}


def installed() -> dict[str, Detector]:
    return {name: detector for name, (package, detector) in _ALL.items() if find_spec(package)}


def run(detector: Detector, samples: Samples, rate_hz: float) -> Spans | str:
    """The spans that a peer finds in one channel, or the kind of error with which it gave up."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return detector(samples - np.mean(samples), rate_hz)
        except Exception as error:  # noqa: BLE001  a peer that gives up is a result
            return type(error).__name__


def merged(spans: Spans) -> Spans:
    joined: Spans = []
    for on_s, off_s in sorted(spans):
        if joined and on_s - joined[-1][1] < JOIN_S:
            joined[-1] = joined[-1][0], max(off_s, joined[-1][1])
        else:
            joined.append((on_s, off_s))
    return [(on_s, off_s) for on_s, off_s in joined if off_s - on_s >= DROP_S]


@dataclass(frozen=True)
class Score:
    """Of spans against true ones: F1 by overlap, one to one, and median sizes of the errors of matched pairs, s."""

    count: int
    f1: float
    onset_s: float
    offset_s: float


def score(spans: Spans, truth: Sequence[tuple[float, float]]) -> Score:
    free = set(range(len(spans)))
    onsets, offsets = [], []
    for on_s, off_s in truth:
        overlaps = {i: min(off_s, spans[i][1]) - max(on_s, spans[i][0]) for i in free}
        best = max(overlaps, key=lambda i: overlaps[i], default=None)
        if best is not None and overlaps[best] > 0.0:
            free.remove(best)
            onsets.append(abs(spans[best][0] - on_s))
            offsets.append(abs(spans[best][1] - off_s))
    f1 = 2.0 * len(onsets) / (len(spans) + len(truth)) if truth or spans else 1.0
    nan = float("nan")
    median = [float(np.median(errors)) if errors else nan for errors in (onsets, offsets)]
    return Score(len(spans), f1, *median)
