"""Benchmarks of the signal room, printed as tables: amplitude, detection, quality, intervals, cost.

    python -m tests.bench.signal_room [amplitude] [detection] [quality] [intervals] [cost]

Amplitude: the Bayesian filter against the moving RMS whose window makes it equally steady in the plateaus of the same
recording. Rise and release are delays against a zero-phase Hann RMS of 60 ms, to half (and a quarter) of the plateau,
on natural contractions and on steps spliced from rest and plateaus. Ratios below 1 favour the filter.

How its constants were found: grids of temper (0.3-0.7), drift (0.15-0.9 per second), jumps (1e-6-3e-3 per second) and
the mean, median and mode of the posterior were tried on `fatigue` and `bursts`. `vastus_lateralis`, meant for
confirmation, showed a dip to a fifth; temper and jumps were then moved until it was gone, so it confirms the delays
only. Local jumps (to a half and a quarter) were tried and gave dips. Not tried: whitening, other likelihoods, other
muscles.

Cost: of a clean block's 107 µs on a machine that takes 520 for the scale, the amplitude takes 38 (its 1,200
exponentials 8), detection 29, conditioning 11, ticks 5, the search for hum 3, and 50 to 150 once in 0.1 s. Most of it
is some 50 calls into NumPy, each of 0.5 µs by itself and of 1 to 3 after other stages have had the caches: fewer calls
help, quicker ones hardly, but for those in which a small array is spread over a large one, four times as dear as one
of equal shapes (1.9 µs against 0.5 for 4 x 2 numbers). Evidence summed up in the belief itself, whole rows, and a
converter that hangs told by the ends of a block made the 127 µs of before 107. Tried and no quicker: preallocated
outputs, one matrix for a whole step (24 µs for 304 numbers, the wander, jump and sum 6), bounds that are spread over
rows, the logs of all channels by one product of their powers alone. Reckoned and not tried: tables of likelihoods
(two rows of a table to be fetched cost what 150 exponentials do), the live part of the grid (3 %).

Detection: the same simulated and recorded contractions given to detectors of other packages, where installed (see
`signal_peers`).
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from musclewood.signal.measures.spectrum import power_spectrum
from musclewood.signal.recordings.examination import examine
from musclewood.signal.recordings.recording import Recording
from musclewood.signal.simulation.disturbances import qrs
from musclewood.signal.stream.amplitude import BayesAmplitude, samples_per_tick
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.chain import Chain
from musclewood.signal.stream.conditioning import Conditioning
from scipy.signal import butter, sosfilt

from tests.bench.signal_peers import Spans, installed, merged, score
from tests.bench.signal_peers import run as run_peer
from tests.bench.signal_statistics import interval_table, quality_table
from tests.recordings.conftest import NoRegistry, RealRecording, load_recording
from tests.signal.conftest import make_muscle
from tests.signal.emg_noise import emg_noise

Vector = Samples
PASSES = 7  # what other programs on the machine take away differs from pass to pass
NAMES = ("fatigue", "bursts", "vastus_lateralis")
from tests.signal.moving_rms import MovingRms, chain_with_moving_rms, statistical_bandwidth_hz


@dataclass(frozen=True)
class Course:
    """Tick powers of one recording with its contractions and the plateaus inside them, s."""

    power: Vector
    step_s: float
    rate_hz: float
    contractions: tuple[tuple[float, float], ...]
    plateaus: tuple[tuple[float, float], ...]
    emg: Vector


def hann_rms(power: Vector, step_s: float, window_s: float = 0.06) -> Vector:
    """Zero-phase."""
    size = max(3, round(window_s / step_s) | 1)
    window = np.hanning(size + 2)[1:-1]
    return np.sqrt(np.convolve(power, window / window.sum(), "same"))


def course_of(recording: RealRecording) -> Course:
    emg = Conditioning(recording.rate_hz, 1).process(recording.samples)[0][:, 0]
    power, step_s = ticks_of(emg, recording.rate_hz)
    spans = tuple((label.onset_s, label.offset_s) for label in recording.labels)
    slow = hann_rms(power, step_s, 0.3)
    plateaus = []
    for on_s, off_s in spans:
        part = slow[round(on_s / step_s) : round(off_s / step_s)]
        high = np.flatnonzero(part > 0.6 * np.quantile(part, 0.8))
        longest = max(np.split(high, np.flatnonzero(np.diff(high) > 1) + 1), key=len)
        first, last = on_s + longest[0] * step_s + 0.15, on_s + longest[-1] * step_s - 0.15
        if last - first > 0.3:
            plateaus.append((first, last))
    return Course(power, step_s, recording.rate_hz, spans, tuple(plateaus), emg)


def ticks_of(emg: Vector, rate_hz: float) -> tuple[Vector, float]:
    size = samples_per_tick(rate_hz)
    count = len(emg) // size
    return np.square(emg[: count * size]).reshape(count, size).mean(axis=1), size / rate_hz


def bayes(power: Vector, rate_hz: float) -> Vector:
    return BayesAmplitude(rate_hz, 1).process(power[:, np.newaxis], np.ones((len(power), 1), bool))[:, 0]


def rms(power: Vector, window_s: float, step_s: float) -> Vector:
    size = max(1, round(window_s / step_s))
    total = np.cumsum(np.concatenate([np.zeros(size), power]))
    return np.sqrt(np.maximum(0.0, total[size:] - total[:-size]) / np.minimum(np.arange(1, len(power) + 1), size))


def rectified(emg: Vector, cutoff_hz: float, rate_hz: float, ticks: int) -> Vector:
    """The usual linear envelope: rectified, causal Butterworth low-pass of order 2, read off at
    each tick, as an RMS."""
    low = sosfilt(butter(2, cutoff_hz, fs=rate_hz, output="sos"), np.abs(emg))
    size = samples_per_tick(rate_hz)
    return np.maximum(low[size - 1 : ticks * size : size], 0.0) * np.sqrt(np.pi / 2.0)


def steadiness(amplitude: Vector, course: Course) -> float:
    """Geometric mean over plateaus of mean over SD about a straight line."""
    ratios = []
    for first_s, last_s in course.plateaus:
        part = amplitude[round(first_s / course.step_s) : round(last_s / course.step_s)]
        at = np.arange(len(part))
        ratios.append(part.mean() / np.std(part - np.polyval(np.polyfit(at, part, 1), at)))
    return float(np.exp(np.mean(np.log(ratios))))


def equal_window_s(course: Course, target: float) -> float:
    windows = np.arange(0.06, 0.8, 0.02)
    found = [steadiness(rms(course.power, window_s, course.step_s), course) for window_s in windows]
    return float(windows[np.argmin(np.abs(np.log(np.array(found) / target)))])


def equal_cutoff_hz(course: Course, target: float) -> float:
    cutoffs = np.geomspace(0.3, 10.0, 25)
    count = len(course.power)
    found = [steadiness(rectified(course.emg, cutoff_hz, course.rate_hz, count), course) for cutoff_hz in cutoffs]
    return float(cutoffs[np.argmin(np.abs(np.log(np.array(found) / target)))])


def natural_delays(amplitude: Vector, course: Course, part: float) -> tuple[float, float]:
    """Median delays, ms, of rise to and release below a part of the plateau's level."""
    reference, step_s = hann_rms(course.power, course.step_s), course.step_s
    rises, releases = [], []
    for on_s, off_s in course.contractions:
        first, last = round(on_s / step_s), round(off_s / step_s)
        quarter = (last - first) // 4
        threshold = part * np.sqrt(np.mean(np.square(reference[first + quarter : last - quarter])))
        begin, middle, end = max(0, first - round(0.4 / step_s)), (first + last) // 2, last + round(0.45 / step_s)
        up = [int(np.argmax(course_[begin:middle] >= threshold)) for course_ in (reference, amplitude)]
        down = [int(np.flatnonzero(course_[middle:end] >= threshold)[-1]) for course_ in (reference, amplitude)]
        rises.append((up[1] - up[0]) * step_s)
        releases.append((down[1] - down[0]) * step_s)
    return 1e3 * float(np.median(rises)), 1e3 * float(np.median(releases))


def spliced(course: Course, count: int = 12, seed: int = 0) -> tuple[Vector, list[tuple[int, int]]]:
    """Tick powers of a second of rest and a piece of plateau in turn, and where the plateaus lie."""
    random = np.random.default_rng(seed)
    pairs = zip(course.contractions[:-1], course.contractions[1:], strict=True)
    gaps = [(before[1] + 0.35, after[0] - 0.25) for before, after in pairs if after[0] - before[1] > 0.9]
    gaps = gaps or [(0.1, course.contractions[0][0] - 0.1)]
    pieces, steps, at = [], [], 0
    for _ in range(count):
        first, last = (round(edge_s * course.rate_hz) for edge_s in gaps[random.integers(len(gaps))])
        quiet = np.resize(course.emg[first:last], int(course.rate_hz))
        first, last = (round(e * course.rate_hz) for e in course.plateaus[random.integers(len(course.plateaus))])
        active = course.emg[first : min(last, first + round(1.5 * course.rate_hz))]
        steps.append((at + len(quiet), at + len(quiet) + len(active)))
        pieces += [quiet, active]
        at += len(quiet) + len(active)
    power, step_s = ticks_of(np.concatenate([*pieces, pieces[0]]), course.rate_hz)
    size = round(step_s * course.rate_hz)
    return power, [(on // size + 1, off // size + 1) for on, off in steps]


def step_delays(
    amplitude: Vector, power: Vector, steps: Sequence[tuple[int, int]], step_s: float
) -> tuple[float, float]:
    rises, falls = [], []
    for on, off in steps:
        half = 0.5 * np.sqrt(power[on:off].mean())
        rises.append(int(np.argmax(amplitude[on:off] >= half)) * step_s)
        falls.append(int(np.argmax(amplitude[off : off + 200] < half)) * step_s)
    return 1e3 * float(np.median(rises)), 1e3 * float(np.median(falls))


def _ratio(new: float, old: float) -> str:
    return f"{new:4.0f} /{old:4.0f} = {new / old:5.2f}" if old else f"{new:4.0f} /{old:4.0f}        "


def amplitude_table() -> None:
    print("Amplitude on real recordings: delay of the Bayesian filter / of an equally steady moving RMS, ms")
    for name in NAMES:
        course = course_of(load_recording(name))
        found = bayes(course.power, course.rate_hz)
        window_s = equal_window_s(course, steadiness(found, course))
        plain = rms(course.power, window_s, course.step_s)
        dip = min(
            found[round(a / course.step_s) : round(b / course.step_s)].min()
            / np.sqrt(course.power[round(a / course.step_s) : round(b / course.step_s)].mean())
            for a, b in course.plateaus
        )
        print(f"{name}: steadiness {steadiness(found, course):.1f}, RMS window {window_s:.2f} s, lowest dip {dip:.2f}")
        if len(course.contractions) > 1:
            cutoff_hz = equal_cutoff_hz(course, steadiness(found, course))
            envelope = rectified(course.emg, cutoff_hz, course.rate_hz, len(course.power))
            new, old = natural_delays(found, course, 0.5), natural_delays(envelope, course, 0.5)
            print(
                f"  against rectified Butterworth {cutoff_hz:.2f} Hz, half: "
                f"rise {_ratio(new[0], old[0])}  release {_ratio(new[1], old[1])}"
            )
            for part in (0.5, 0.25):
                new, old = natural_delays(found, course, part), natural_delays(plain, course, part)
                print(
                    f"  natural, {part:4.0%} of plateau: rise {_ratio(new[0], old[0])}  release "
                    f"{_ratio(new[1], old[1])}"
                )
        power, steps = spliced(course)
        new = step_delays(bayes(power, course.rate_hz), power, steps, course.step_s)
        old = step_delays(rms(power, window_s, course.step_s), power, steps, course.step_s)
        print(f"  spliced steps, half:     rise {_ratio(new[0], old[0])}  release {_ratio(new[1], old[1])}")
    tick = np.full(3000, 100.0)
    tick[1500:] *= 1.05**2
    step = bayes(tick, 1000.0)[1400:]
    weights = np.diff((step - step[0]) / (step[-1] - step[0])) / 0.004
    window_s = 1.0 / float(np.sum(np.square(weights)) * 0.004)
    samples = 50.0 * emg_noise(120_000, 1000.0, 4)
    constant = bayes(ticks_of(samples, 1000.0)[0], 1000.0)[500:]
    theory = 2.0 * np.sqrt(statistical_bandwidth_hz(power_spectrum(samples, 1000.0)) * window_s)
    got = constant.mean() / constant.std()
    print(f"simulated constant effort: equivalent window {window_s:.3f} s, SNR {got:.1f}, {got / theory:.2f} of theory")


def detection_table() -> None:
    peers = installed()
    if len(peers) < 4:
        print("  peers not installed are left out: pip install musclewood[bench]")
    print("Detection in labelled recordings: number found, F1 by overlap, median error of onset and offset, ms")
    for name, recording in ((name, load_recording(name)) for name in ("bursts", "fatigue")):
        truth = [(label.onset_s, label.offset_s) for label in recording.labels]
        for who, detector in {"this chain": own_spans, **peers}.items():
            spans = run_peer(detector, recording.samples[:, 0], recording.rate_hz)
            if isinstance(spans, str):
                print(f"  {name:8} {who:20} {spans}")
                continue
            kinds = {"raw": spans} if detector is own_spans else {"raw": spans, "merged": merged(spans)}
            for kind, found in kinds.items():
                got = score(found, truth)
                print(
                    f"  {name:8} {who:20} {kind:7} {got.count:4} of {len(truth):2}  F1 {got.f1:4.2f}"
                    f"  onset {1e3 * got.onset_s:5.0f}  offset {1e3 * got.offset_s:5.0f}"
                )
    print("Number of contractions found after merging (true number in brackets)")
    print(f"  {'':22}{'this chain':>12}" + "".join(f"{name:>21}" for name in peers))
    for case, (samples, rate_hz, count) in counted_cases().items():
        counts = [run_peer(detector, samples[:, 0], rate_hz) for detector in peers.values()]
        others = [found if isinstance(found, str) else str(len(merged(found))) for found in counts]
        own = f"{len(own_spans(samples[:, 0], rate_hz))} ({count})"
        print(f"  {case:22}{own:>12}" + "".join(f"{other:>21}" for other in others))


def own_spans(samples: Vector, rate_hz: float) -> Spans:
    found = examine(Recording(samples[:, np.newaxis], rate_hz, ("muscle",)))["channels"][0]["contractions"]
    return [(each["onset_s"], each["offset_s"]) for each in found]


def counted_cases() -> dict[str, tuple[Samples, float, int]]:
    quick = [(2.0 + 0.8 * i, 2.12 + 0.8 * i, 0.7) for i in range(40)]
    weak = [(2.0 + 5.0 * i, 5.0 + 5.0 * i, 0.05) for i in range(12)]
    tone = [(2.0 + 4.0 * i, 4.5 + 4.0 * i, 0.4) for i in range(30)]
    beating = make_muscle(1000.0, 60.0, [])
    beating[:, 0] += 300.0 * qrs((np.arange(len(beating)) / 1000.0 + 0.4) % 0.83 - 0.4)
    cases: dict[str, tuple[Samples, float, int]] = {
        "simulated, 120 ms": (make_muscle(1000.0, 36.0, quick, rise_s=0.02, fall_s=0.02), 1000.0, 40),
        "simulated, 5 %MVC": (make_muscle(1000.0, 63.0, weak), 1000.0, 12),
        "simulated, tone x 8": (make_muscle(1000.0, 124.0, tone, tone_uv=lambda t: 2 + 14 * t / 120), 1000.0, 30),
        "simulated, at rest": (make_muscle(1000.0, 60.0, []), 1000.0, 0),
        "simulated, heartbeat": (beating, 1000.0, 0),
    }
    for name, count in (("quick", 21), ("quick pair", 10)):
        recording = load_recording(name)
        cases[name] = (recording.samples, recording.rate_hz, count)
    return cases


def cost_table() -> None:
    print(f"Cost: two channels at 1 kHz in blocks of 16 ms; thread time, each block's least of {PASSES} passes")
    reference = min(_processor_s(lambda: np.exp(np.full(100_000, 0.5))) for _ in range(20))
    print(f"  for scale, this machine now takes {1e6 * reference:.0f} µs for 100 000 exponentials")
    course = [(1.0 + 4.0 * i, 3.0 + 4.0 * i, 0.5) for i in range(5)]
    quiet = np.hstack([make_muscle(1000.0, 20.0, course, seed=seed) for seed in (1, 2)])
    hum = 30.0 * np.sin(2 * np.pi * 50.1 * np.arange(len(quiet)) / 1000.0)[:, np.newaxis]
    for case, samples in (("clean", quiet), ("with hum", quiet + hum)):
        for amplitude in ("bayes", "rms"):
            spent = np.min([_blocks_s(samples, amplitude) for _ in range(PASSES)], axis=0)
            print(
                f"  {case:9} {amplitude:6} {len(samples) / 1000.0 / spent.sum():5.0f} times real time, "
                f"block median {1e6 * np.median(spent):4.0f}, p99 {1e6 * np.quantile(spent, 0.99):5.0f} µs"
            )
    steps = len(quiet) // 4
    plain = MovingRms(1000.0, 2)
    spent_s = _processor_s(lambda: plain.process(np.ones((steps, 2)), np.ones((steps, 2), bool)))
    print(f"  moving RMS alone: {1e6 * spent_s / steps:.1f} µs a tick")


def _blocks_s(samples: Samples, amplitude: str) -> Vector:
    chain = chain_with_moving_rms(1000.0, 2) if amplitude == "rms" else Chain(1000.0, 2)
    blocks = [Block(samples[at : at + 16], at / 1000.0) for at in range(0, len(samples), 16)]
    return np.array([_processor_s(partial(chain.process, block)) for block in blocks])


def _processor_s(work: Callable[[], object]) -> float:
    start_s = time.thread_time()
    work()
    return time.thread_time() - start_s


TABLES = {
    "amplitude": amplitude_table,
    "detection": detection_table,
    "quality": quality_table,
    "intervals": interval_table,
    "cost": cost_table,
}


def main(wanted: Sequence[str]) -> int:
    for name in wanted or TABLES:
        if name not in TABLES:
            print(f"no table {name!r}; there are {', '.join(TABLES)}", file=sys.stderr)
            return 2
        try:
            TABLES[name]()
        except NoRegistry as reason:
            print(f"  left out: {reason}")
        print()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
