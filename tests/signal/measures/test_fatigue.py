"""A tiring muscle is told from a fresh, a weakening and a merely loud one."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest
from musclewood.signal.measures.fatigue import Burst, Fatigue, assess_fatigue, burst_of, measure_burst
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource
from musclewood.signal.stream.blocks import Block
from musclewood.signal.stream.chain import Chain
from musclewood.signal.stream.conditioning import Conditioning

from tests.signal.emg_noise import emg_noise


def assess_recording(recording) -> tuple[Fatigue, list[Burst]]:
    """As the examination does: the chain finds contractions, the conditioned samples are measured."""
    samples = recording.samples_uv[:, np.newaxis]
    chain = Chain(recording.rate_hz, 1)
    chain.process(Block(samples, 0.0))
    conditioned, _ = Conditioning(recording.rate_hz, 1).process(samples, 0)
    found = [
        measure_burst(conditioned[:, 0], recording.rate_hz, contraction.onset_s, contraction.offset_s)
        for _, contraction in chain.take_contractions()
    ]
    bursts = [burst for burst in found if burst is not None]
    return assess_fatigue(bursts), bursts


def test_a_biceps_worked_to_fatigue(real: Callable) -> None:
    """biosignalsnotebooks 0.6.14: 74.8 to 57.0 Hz, -10.2 %/min by zero-phase filtering and 31
    bursts; ours is causal."""
    fatigue, bursts = assess_recording(real("fatigue"))
    medians = [burst.median_frequency_hz for burst in bursts]
    assert np.mean(medians[:3]) == pytest.approx(74.8, rel=0.1)
    assert np.mean(medians[-3:]) == pytest.approx(57.0, rel=0.1)
    slope_percent = 100.0 * fatigue.median_frequency_slope_hz_per_min / fatigue.median_frequency_start_hz
    assert slope_percent == pytest.approx(-10.2, abs=1.5)
    amplitudes = [burst.amplitude_uv for burst in bursts]
    assert np.mean(amplitudes[-3:]) > 1.2 * np.mean(amplitudes[:3])
    assert fatigue.fatigued


def test_a_fresh_biceps(real: Callable) -> None:
    fatigue, bursts = assess_recording(real("bursts"))
    assert len(bursts) >= 8
    assert not fatigue.fatigued


def contractions(
    count: int, seed: int, *, sinks: float = 0.0, rises: float = 0.0, length_s: float = 2.0
) -> list[Burst]:
    """Synthetic contractions whose spectrum ends compressed by `sinks` and whose amplitude ends higher by `rises`."""
    made = []
    for number in range(count):
        share = number / (count - 1)
        noise = emg_noise(round(1000 * length_s), 1000.0, 1000 * seed + number, compression=1.0 - sinks * share)
        made.append(burst_of(100.0 * (1.0 + rises * share) * noise, 1000.0, 4.0 * number))
    return made


def test_constant_contractions_are_not_fatigue(full: bool) -> None:
    """False alarms over many sets of ten constant contractions: below 1 % (one in the small run)."""
    sets = 400 if full else 60
    assert sum(assess_fatigue(contractions(10, seed)).fatigued for seed in range(sets)) <= max(1, 0.01 * sets)


def test_sinking_spectra_are_fatigue() -> None:
    """The spectrum sinks by a fifth while amplitude rises by a quarter."""
    found = [assess_fatigue(contractions(10, seed, sinks=0.2, rises=0.25)) for seed in range(40)]
    assert sum(fatigue.fatigued for fatigue in found) >= 36
    assert np.mean([fatigue.decline for fatigue in found]) == pytest.approx(0.2, abs=0.03)


def test_weaker_contractions_are_not_called_fatigue() -> None:
    """A sinking spectrum with half the amplitude may just be less effort."""
    assert not any(assess_fatigue(contractions(10, seed, sinks=0.2, rises=-0.5)).fatigued for seed in range(10))


def test_a_model_patient_tires_and_recovers() -> None:
    person = ModelPatient(fatigue_per_s=0.03, placement_cv=0.0)
    source = SimulatedSource(person, channels=1, seed=5)
    bursts = []
    for _ in range(10):
        source.aim((0.8,))
        source.poll(1.0)
        samples = np.concatenate([block.samples_uv[:, 0] for block in source.poll(4.0)])
        bursts.append(burst_of(samples, 1000.0, source.time_s))
        source.aim((0.0,))
        source.poll(2.0)
    assert assess_fatigue(bursts).fatigued
    tired = bursts[-1].median_frequency_hz
    source.poll(600.0)
    source.aim((0.8,))
    source.poll(1.0)
    rested = burst_of(source.poll(4.0)[0].samples_uv[:, 0], 1000.0, source.time_s).median_frequency_hz
    assert rested > 1.1 * tired


def test_too_little_to_judge() -> None:
    assert not assess_fatigue([]).fatigued
    one = assess_fatigue(contractions(2, 1)[:1])
    assert one.bursts == 1 and not one.fatigued and np.isnan(one.median_frequency_slope_hz_per_min)
    assert not assess_fatigue(contractions(4, 1, sinks=0.4)).fatigued
    noise = emg_noise(3000, 1000.0, 1)
    assert measure_burst(noise, 1000.0, 1.0, 1.3) is None
    assert measure_burst(noise, 1000.0, 5.0, 7.0) is None
    assert json.dumps(assess_fatigue(contractions(6, 1)).fatigued) in ("true", "false"), "a plain bool"
