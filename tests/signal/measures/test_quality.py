"""Every fault is named where it is, and none where there is none."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from musclewood.signal.quality.quality import Quality, QualityMonitor, summarise_quality
from musclewood.signal.simulation.disturbances import Disturbance, Disturber, split_at_losses
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource
from musclewood.signal.stream.blocks import Block
from musclewood.signal.stream.steps import FEW_CHANGES

NAMES = ["bursts", "fatigue", "vastus_lateralis"]
# Documented strengths, relative to the RMS of the recording's first minute, at which a fault is named in 95 % of its
# seconds.
STRENGTHS = {"mains": 0.5, "movement": 2.0, "clipping": 1.0, "heartbeat": 2.0, "noise": 0.5}


def listen(samples_uv, rate_hz: float, *faults: Disturbance, block: int = 97) -> tuple[list[Quality], object, object]:
    disturber = Disturber(rate_hz, 1, 5, faults)
    disturbed = disturber.disturb(samples_uv[:, np.newaxis], 0)
    arrived = disturber.arrived(0, len(disturbed))
    monitor = QualityMonitor(rate_hz, 1)
    seconds = []
    for part in split_at_losses(disturbed, arrived, 0, rate_hz, 0)[0]:
        for start in range(0, len(part.samples_uv), block):
            lost = part.lost if start == 0 else 0
            seconds += monitor.process(Block(part.samples_uv[start : start + block], part.start_s, lost))
    return seconds, disturbed[:, 0], arrived


def named(second: Quality, name: str) -> bool:
    return any(fault.name == name for fault in second.faults[0])


@pytest.mark.parametrize("name", NAMES)
def test_clean_recordings_raise_no_alarm(real: Callable, name: str) -> None:
    """At most 2 % of the seconds. The second series of the biceps does touch both rails of its 12 bits, in single
    samples: that shows in its clipped share, and only a second with ten of them in it is named.
    """
    recording = real(name)
    seconds, _, _ = listen(recording.samples_uv, recording.rate_hz)
    alarmed = [second for second in seconds if second.faults[0]]
    assert len(alarmed) <= 0.02 * len(seconds)
    summary = summarise_quality(seconds, 0)
    assert summary.verdict == "good"
    assert summary.faults == ()
    assert (summary.clipped_share > 0.0) == (name == "fatigue")
    assert summary.snr_db > 9.0


@pytest.mark.parametrize("name", ["quick", "quick pair", "quick pair, 8 bit"])
def test_recordings_that_set_no_threshold_raise_no_alarm(real: Callable, name: str) -> None:
    """The thresholds were found on the three above; these were only looked at afterwards.
    Coarse digits are no fault."""
    recording = real(name)
    seconds, _, _ = listen(recording.samples_uv, recording.rate_hz)
    assert len(seconds) >= 30
    assert sum(bool(second.faults[0]) for second in seconds) <= 0.02 * len(seconds)


@pytest.mark.parametrize("fault", STRENGTHS)
@pytest.mark.parametrize("name", NAMES)
def test_injected_faults_are_named(real: Callable, name: str, fault: str) -> None:
    """In 95 % of the seconds in which they are there: where samples reach the rail (2 % of them at least), and for
    the heart once it had time to beat (6 s). Advice then heads the summary.
    """
    recording = real(name)
    rate = int(recording.rate_hz)
    samples_uv = recording.samples_uv[: 60 * rate]
    strength = STRENGTHS[fault] * float(np.std(samples_uv))
    seconds, disturbed, _ = listen(samples_uv, rate, Disturbance(fault, strength))
    own = seconds
    if fault == "clipping":
        at_rail = np.abs(disturbed[: len(seconds) * rate].reshape(-1, rate)) >= strength
        own = [second for second, share in zip(seconds, at_rail.mean(axis=1), strict=True) if share >= 0.02]
    elif fault == "heartbeat":
        own = seconds[6:]
    hits = sum(named(second, fault) for second in own)
    assert hits >= 0.95 * len(own), f"{hits} of {len(own)}"
    assert fault in summarise_quality(seconds, 0).faults


@pytest.mark.parametrize("hum_uv", [0.0, 500.0])
@pytest.mark.parametrize("name", NAMES)
def test_a_lost_pad_is_named_and_nothing_else(real: Callable, name: str, hum_uv: float) -> None:
    """An open input goes flat, or picks up hum far beyond that of a worn electrode."""
    recording = real(name)
    seconds, _, _ = listen(recording.samples_uv, recording.rate_hz, Disturbance("contact", hum_uv))
    assert all(named(second, "contact") and len(second.faults[0]) == 1 for second in seconds)
    assert summarise_quality(seconds, 0).verdict == "poor"


@pytest.mark.parametrize("name", NAMES)
def test_lost_samples_are_named(real: Callable, name: str) -> None:
    """One packet in ten missing."""
    recording = real(name)
    rate = int(recording.rate_hz)
    seconds, _, arrived = listen(recording.samples_uv, rate, Disturbance("loss", 0.1))
    own = [second for second in seconds if not arrived[int(second.second_s) * rate :][:rate].all()]
    assert sum(named(second, "loss") for second in own) >= 0.95 * len(own)


def test_block_sizes_do_not_matter() -> None:
    source = SimulatedSource(seed=1, channels=1)
    source.aim((0.4,))
    samples = np.concatenate([block.samples_uv for block in source.poll(6.0)])[:, 0]
    whole, _, _ = listen(samples, 1000.0, Disturbance("loss", 0.1), block=10_000)
    for block in (1, 333):
        assert listen(samples, 1000.0, Disturbance("loss", 0.1), block=block)[0] == whole


def test_rates_that_are_no_whole_number() -> None:
    """The seconds follow the sensor's samples without drifting."""
    monitor = QualityMonitor(1259.26, 1)
    noise = np.random.default_rng(1).standard_normal((round(20 * 1259.26) + 1, 1)) * 5.0
    assert len(monitor.process(Block(noise, 0.0))) == 20


def test_each_channel_is_judged_for_itself() -> None:
    source = SimulatedSource(ModelPatient(placement_cv=0.0), seed=2, faults=[Disturbance("mains", 80.0, channels=(1,))])
    monitor = QualityMonitor(1000.0, 2)
    seconds = [second for block in source.poll(5.0) for second in monitor.process(block)]
    assert all(second.verdict[0] == "good" for second in seconds)
    assert all(second.faults[1][0].name == "mains" and second.verdict[1] == "poor" for second in seconds)
    assert seconds[0].faults[1][0].strength > 0.9


@pytest.mark.parametrize("mains_hz", [49.8, 50.0, 50.3, 60.0, 60.4])
def test_either_grid_and_its_drift(mains_hz: float) -> None:
    source = SimulatedSource(seed=3, channels=1, faults=[Disturbance("mains", 30.0, mains_hz=mains_hz)])
    monitor = QualityMonitor(1000.0, 1)
    assert all(named(second, "mains") for block in source.poll(4.0) for second in monitor.process(block))


def test_end_of_a_short_recording_is_judged_too() -> None:
    monitor = QualityMonitor(1000.0, 1)
    noise = np.random.default_rng(1).standard_normal((700, 1)) * 3.0
    assert monitor.process(Block(noise, 0.0)) == []
    assert len(monitor.finish()) == 1
    assert summarise_quality([], 0).verdict == "poor"


def test_a_sensor_that_sends_an_envelope() -> None:
    """Silence and loss are all that it can show."""
    source = SimulatedSource(seed=4, channels=1, envelope=True)
    monitor = QualityMonitor(100.0, 1, envelope=True)
    source.aim((0.5,))
    seconds = [second for block in source.poll(5.0) for second in monitor.process(block)]
    assert all(second.verdict == ("good",) for second in seconds)
    flat = monitor.process(Block(np.zeros((100, 1)), 5.0))
    assert named(flat[0], "contact")
    assert named(monitor.process(Block(np.zeros((20, 1)), 6.8, lost=80))[0], "loss")


def first_change_s(samples: np.ndarray, rate_hz: float) -> int:
    """The whole second after a converter's number changed often enough to tell its steps."""
    return math.ceil(np.flatnonzero(np.diff(samples[:, 0]))[FEW_CHANGES] / rate_hz)


@pytest.mark.parametrize("rate_hz", [200.0, 1000.0])
@pytest.mark.parametrize("noise_uv", [2.0, 3.0, 4.0])
def test_rest_that_is_smaller_than_a_coarse_step_is_no_lost_contact(noise_uv: float, rate_hz: float) -> None:
    """8 bits over +/- 1.5 mV: at rest the same number for seconds; a pad that has come off
    stays so, and is named then."""
    count = round(rate_hz)
    step_uv, random = 3000.0 / 256.0, np.random.default_rng(12)
    samples = np.round(noise_uv * random.standard_normal((60 * count, 1)) / step_uv) * step_uv
    samples[20 * count :] = 0.0
    seconds = QualityMonitor(rate_hz, 1).process(Block(samples, 0.0))
    lost = [named(second, "contact") for second in seconds]
    assert not any(lost[first_change_s(samples, rate_hz) : 20])
    assert all(lost[51:])
