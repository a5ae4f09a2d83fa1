"""How often what is stated holds: faults named in injected recordings, and intervals that cover a known truth."""

from __future__ import annotations

import math

import numpy as np
from musclewood.profiles.plan.comparing import compare_sides
from musclewood.signal.measures.calibration import summarise
from musclewood.signal.measures.plateaus import Plateau, judge_trial
from musclewood.signal.quality.quality import Quality, QualityMonitor
from musclewood.signal.simulation.disturbances import Disturbance, Disturber, split_at_losses
from musclewood.signal.stream.blocks import Block, Samples

from tests.recordings.conftest import load_recording

# Full scale of the amplifier, 3 V at a gain of 1000, over the bits of the recording; the other one is in µV.
MICROVOLT_PER_COUNT = {"bursts": 3000.0 / 2**16, "fatigue": 3000.0 / 2**12, "vastus_lateralis": 1.0}
FIRST_S = 60.0
# Strength relative to the RMS of that first part; of a lost pad, the hum that it picks up in µV; of loss, share of
# packets.
FAULTS = {"contact": 500.0, "mains": 0.5, "movement": 2.0, "clipping": 1.0, "heartbeat": 2.0, "noise": 0.5, "loss": 0.1}
HEART_KNOWN_S = 6  # a heart must have had time to beat
LEVEL_UV, BETWEEN_TRIALS, WITHIN_TRIAL = 200.0, 0.06, 0.05
STEP_S, TRIAL_TICKS = 0.004, 875


def quality_table() -> None:
    print(f"Quality: share of seconds in which an injected fault is named, first {FIRST_S:.0f} s; alarms where none is")
    print(f"  {'':18}" + "".join(f"{fault:>10}" for fault in FAULTS) + f"{'clean':>10}")
    for name, scale in MICROVOLT_PER_COUNT.items():
        recording = load_recording(name)
        whole = (recording.samples[:, 0] - np.median(recording.samples)) * scale
        part = whole[: round(FIRST_S * recording.rate_hz)]
        shares = [named_share(part, recording.rate_hz, fault, strength) for fault, strength in FAULTS.items()]
        clean, _, _ = listen(whole, recording.rate_hz)
        alarms = sum(bool(second.faults[0]) for second in clean) / len(clean)
        print(f"  {name:18}" + "".join(f"{share:10.1%}" for share in shares) + f"{alarms:10.1%}")


def named_share(samples_uv: Samples, rate_hz: float, fault: str, strength: float) -> float:
    """Of the seconds in which the fault is there: at a rail for 2 % of it, or with samples lost in it."""
    relative = fault not in ("contact", "loss")
    size = strength * float(np.std(samples_uv)) if relative else strength
    seconds, disturbed, arrived = listen(samples_uv, rate_hz, Disturbance(fault, size))
    parts = [slice(round(second.second_s * rate_hz), round((second.second_s + 1.0) * rate_hz)) for second in seconds]
    own = seconds
    if fault == "clipping":
        own = [
            one for one, part in zip(seconds, parts, strict=True) if np.mean(np.abs(disturbed[part]) >= size) >= 0.02
        ]
    elif fault == "loss":
        own = [one for one, part in zip(seconds, parts, strict=True) if not arrived[part].all()]
    elif fault == "heartbeat":
        own = seconds[HEART_KNOWN_S:]
    return sum(any(each.name == fault for each in one.faults[0]) for one in own) / len(own)


def listen(samples_uv: Samples, rate_hz: float, *faults: Disturbance) -> tuple[list[Quality], Samples, Samples]:
    disturber = Disturber(rate_hz, 1, 5, faults)
    disturbed = disturber.disturb(samples_uv[:, np.newaxis], 0)
    arrived = disturber.arrived(0, len(disturbed))
    monitor = QualityMonitor(rate_hz, 1)
    blocks: list[Block] = split_at_losses(disturbed, arrived, 0, rate_hz, 0)[0]
    return [second for block in blocks for second in monitor.process(block)], disturbed[:, 0], arrived


def interval_table(runs: int = 2000) -> None:
    print(f"Intervals of 95 % over {runs} simulated sessions of known truth")
    for trials in (3, 5):
        ratios, highest, covered = maximal_contractions(runs, trials)
        print(
            f"  MVC of {trials} trials: bias {100 * (np.mean(ratios) - 1):+.1f} % (highest window of all "
            f"{100 * (np.mean(highest) - 1):+.1f} %), interval covers {covered / runs:.1%}"
        )
    for within, between in ((0.05, 0.20), (0.15, 0.20), (0.10, 0.05)):
        covered = sides(runs, within, between)
        print(f"  sides, trials differ {within:.0%}, days {between:.0%}: interval covers {covered / runs:.1%}")


def maximal_contractions(runs: int, trials: int) -> tuple[list[float], list[float], int]:
    """Reference over truth, highest window over truth, and how often the interval covers it."""
    random = np.random.default_rng(20 + trials)
    ratios, highest, covered = [], [], 0
    for _ in range(runs):
        plateaus = [trial(random) for _ in range(trials)]
        result = summarise(3.0, plateaus)
        ratios.append(result.mvc_uv / LEVEL_UV)
        highest.append(max(result.trials_uv) / LEVEL_UV)
        covered += result.low_uv <= LEVEL_UV <= result.high_uv
    return ratios, highest, covered


def trial(random: np.random.Generator) -> Plateau:
    """Half seconds scatter within it, and neighbouring ticks over 80 ms go together."""
    level_uv = LEVEL_UV * math.exp(BETWEEN_TRIALS * random.standard_normal() - 0.5 * BETWEEN_TRIALS**2)
    white = random.standard_normal(TRIAL_TICKS + 19) * WITHIN_TRIAL * math.sqrt(0.5 / STEP_S)
    amplitude = level_uv * (1.0 + np.convolve(white, np.full(20, 0.05), "valid"))
    plateau = judge_trial(amplitude, np.ones(TRIAL_TICKS), STEP_S, 0.5)
    assert isinstance(plateau, Plateau)
    return plateau


def sides(runs: int, within: float, between: float) -> int:
    """How often the interval covers a true index of 80 %, three trials a side, electrodes placed anew on both."""
    random = np.random.default_rng(round(1000 * within + 100_000 * between))
    day = math.sqrt(math.log1p(between**2))
    covered = 0
    for _ in range(runs):
        shifts = np.exp(day * random.standard_normal(2))
        trials = np.exp(within * random.standard_normal((2, 3)))
        found = compare_sides(160.0 * shifts[0] * trials[0], 200.0 * shifts[1] * trials[1], between_cv=between)
        covered += found.low <= 80.0 <= found.high
    return covered
