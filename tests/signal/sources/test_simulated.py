"""The model patient does what people do, and does it again for the same seed."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from musclewood.signal.measures.spectrum import median_frequency_hz, power_spectrum
from musclewood.signal.simulation.disturbances import Disturbance, DisturbanceName
from musclewood.signal.simulation.model_patient import Body, ModelPatient
from musclewood.signal.sources import Source
from musclewood.signal.sources.simulated import SimulatedSource
from musclewood.signal.stream.blocks import Block

STEADY = ModelPatient(effort_cv=0.0, aim_cv=0.0, reaction_sd_s=0.0, fatigue_per_s=0.0, tone_rise=0.0, placement_cv=0.0)
EVERY_FAULT = [
    Disturbance("mains", 20.0, start_s=0.3),
    Disturbance("movement", 100.0),
    Disturbance("heartbeat", 50.0, stop_s=3.0),
    Disturbance("noise", 5.0, channels=(1,)),
    Disturbance("clipping", 250.0),
    Disturbance("contact", 300.0, start_s=1.0, stop_s=1.5),
    Disturbance("loss", 0.1),
]


def joined(blocks: Sequence[Block]) -> np.ndarray:
    return np.concatenate([block.samples_uv for block in blocks])


def play(step_s: float, **settings) -> tuple[np.ndarray, list[float], int]:
    """Four seconds with aims at fixed times, polled in steps; samples, their times and how many were lost."""
    source = SimulatedSource(seed=3, **settings)
    aims = {1: (0.5, 0.2), 4: (0.0, 0.0), 6: (1.0, 0.3)}
    blocks: list[Block] = []
    for half in range(8):
        if half in aims:
            source.aim(aims[half])
        left = 0.5
        while left > 1e-9:
            blocks += source.poll(min(step_s, left))
            left -= step_s
    return joined(blocks), [block.start_s for block in blocks], sum(block.lost for block in blocks)


@pytest.mark.parametrize("settings", [{}, {"faults": EVERY_FAULT}, {"rate_hz": 1259.26}, {"envelope": True}])
@pytest.mark.parametrize("step_s", [0.0071, 1 / 60, 0.1])
def test_sizes_of_poll_change_nothing(settings: dict, step_s: float) -> None:
    whole, _, lost = play(0.5, **settings)
    stepped, _, lost_stepped = play(step_s, **settings)
    assert lost == lost_stepped
    np.testing.assert_array_equal(whole, stepped)


def test_same_seed_same_samples_other_seed_others() -> None:
    first, again, other = (joined(SimulatedSource(seed=seed).poll(1.0)) for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert not np.allclose(first, other)


def test_it_is_a_source() -> None:
    source: Source = SimulatedSource(channels=3)
    source.start()
    assert source.kind == "simulated" and not source.envelope and not source.ended
    assert len(source.labels) == 3
    assert source.poll(0.1)[0].samples_uv.shape == (100, 3)
    assert source.poll(0.0) == []
    source.stop()


def test_amplitude_follows_effort_in_proportion() -> None:
    source = SimulatedSource(STEADY, channels=1, seed=4)
    source.poll(2.0)
    for effort in (0.1, 0.3, 0.6, 1.0):
        source.aim((effort,))
        source.poll(1.0)
        rms = float(np.sqrt(np.mean(joined(source.poll(20.0)) ** 2)))
        assert rms == pytest.approx(np.hypot(effort * source.true_mvc_uv[0], 2.8), rel=0.03)


def test_rest_is_tone_and_sensor_noise() -> None:
    rest = joined(SimulatedSource(STEADY, channels=1, seed=5).poll(20.0))
    assert np.std(rest) == pytest.approx(np.hypot(2.5, 1.2), rel=0.03)


def test_spectrum_is_that_of_a_surface_emg() -> None:
    """Shwedyk et al. 1977, IEEE Trans Biomed Eng 24:417: median 94.8 Hz over 0-500 Hz."""
    source = SimulatedSource(STEADY, channels=1, seed=6)
    source.aim((0.6,))
    source.poll(1.0)
    spectrum = power_spectrum(joined(source.poll(60.0))[:, 0], 1000.0, low_hz=0.0, high_hz=500.0, segment_s=1.0)
    assert median_frequency_hz(spectrum) == pytest.approx(94.8, rel=0.02)


def rise_and_fall(source: SimulatedSource) -> tuple[float, float]:
    """Seconds from a change of aim until half of the way is made, upwards and downwards."""
    source.aim((0.8,))
    began = len(source.true_activation)
    source.poll(2.0)
    rising = source.true_activation[began:, 0]
    source.aim((0.0,))
    source.poll(2.0)
    falling = source.true_activation[began + len(rising) :, 0]
    return float(np.argmax(rising > 0.4)) / 100.0, float(np.argmax(falling < 0.4)) / 100.0


def test_reaction_time() -> None:
    """Woods et al. 2015, Front Hum Neurosci 9:131: 231 ms on average; the lags of muscle come on top."""
    up, down = zip(
        *(rise_and_fall(SimulatedSource(ModelPatient(aim_cv=0.0), seed=seed)) for seed in range(60)), strict=True
    )
    assert np.mean(up) == pytest.approx(0.231 + 0.126, abs=0.02)
    assert np.std(up) > 0.02, "nobody reacts equally fast every time"
    assert np.mean(down) < np.mean(up), "letting go is quicker"
    quick = SimulatedSource(STEADY, seed=1)
    quick.aim((0.8,))
    quick.poll(0.22)
    assert np.max(quick.true_activation) == 0.0


def test_unsteadiness_grows_with_effort() -> None:
    """Signal-dependent noise (Jones et al. 2002, J Neurophysiol 88:1533): SD in proportion to the mean."""
    person = ModelPatient(fatigue_per_s=0.0, aim_cv=0.0)
    spreads = []
    for effort in (0.2, 0.4, 0.8):
        source = SimulatedSource(person, channels=1, seed=7)
        source.aim((effort,))
        source.poll(60.0)
        held = source.true_activation[200:, 0]
        assert np.mean(held) == pytest.approx(effort, rel=0.03)
        spreads.append(np.std(held) / effort)
    assert spreads == pytest.approx([0.10] * 3, rel=0.15)


def test_practice_steadies_and_strengthens() -> None:
    novice = ModelPatient(placement_cv=0.0)
    expert = novice.after(60)
    assert expert.sessions == 60
    assert expert.unskilled == pytest.approx(0.4, abs=0.01) and novice.unskilled == 1.0
    assert SimulatedSource(expert).true_mvc_uv[0] > 1.2 * SimulatedSource(novice).true_mvc_uv[0]


def test_fatigue_sinks_the_spectrum_raises_the_amplitude_and_limits_effort() -> None:
    person = ModelPatient(fatigue_per_s=0.03, placement_cv=0.0, effort_cv=0.0, aim_cv=0.0)
    source = SimulatedSource(person, channels=1, seed=8)
    source.aim((0.7,))
    source.poll(1.0)
    fresh = joined(source.poll(5.0))[:, 0]
    source.poll(50.0)
    tired = joined(source.poll(5.0))[:, 0]
    medians = [median_frequency_hz(power_spectrum(part, 1000.0)) for part in (fresh, tired)]
    assert medians[1] < 0.92 * medians[0]
    assert np.std(tired) > 1.05 * np.std(fresh)
    assert source.body.capacity(source.body.muscles[0]) < 0.9
    source.aim((0.0,))
    source.poll(600.0)
    assert source.body.capacity(source.body.muscles[0]) > 0.98
    assert source.body.compression(0) > 0.98


def test_electrodes_land_elsewhere_each_day() -> None:
    """Log-normal with a coefficient of variation of 30 %."""
    gains = np.array([SimulatedSource(seed=seed, channels=1).true_mvc_uv[0] for seed in range(1500)]) / 420.0
    assert np.std(gains) / np.mean(gains) == pytest.approx(0.30, abs=0.03)
    assert np.median(gains) == pytest.approx(1.0, abs=0.03)


def test_other_muscle_goes_along_and_is_picked_up() -> None:
    for person, expected in (
        (replace(STEADY, cocontraction=0.2), 0.2 * 0.6 * 340.0),
        (replace(STEADY, crosstalk=0.1), 0.1 * 0.6 * 420.0),
    ):
        source = SimulatedSource(person, seed=9)
        source.aim((0.6, 0.0))
        source.poll(1.0)
        other = np.std(joined(source.poll(30.0))[:, 1])
        assert other == pytest.approx(np.hypot(expected, 2.8), rel=0.05)


def test_resting_tone_rises_after_much_activity() -> None:
    source = SimulatedSource(ModelPatient(placement_cv=0.0), channels=1, seed=10)
    before = source.body.tone_uv(0)
    source.aim((0.6,))
    source.poll(60.0)
    source.aim((0.0,))
    source.poll(1.0)
    assert source.body.tone_uv(0) > 2.0 * before


def test_an_envelope_shows_the_same_effort() -> None:
    source = SimulatedSource(STEADY, channels=1, seed=11, envelope=True)
    assert source.rate_hz == 100.0 and source.envelope
    source.aim((0.5,))
    source.poll(1.0)
    envelope = joined(source.poll(30.0))
    assert np.all(envelope > 0.0)
    assert np.sqrt(np.mean(envelope**2)) == pytest.approx(210.0, rel=0.05)


@pytest.mark.parametrize("envelope", [False, True])
def test_it_is_made_far_quicker_than_it_plays(envelope: bool) -> None:
    """A hundred times, for two channels polled sixty times a second; in processor time."""
    best = 0.0
    for seed in range(3):
        source = SimulatedSource(seed=seed, envelope=envelope)
        source.aim((0.4, 0.2))
        began = time.process_time()
        for _ in range(1200):
            source.poll(1 / 60)
        best = max(best, 20.0 / (time.process_time() - began))
    assert best > 100.0


@pytest.mark.parametrize("effort", [(float("nan"), 0.0), (float("inf"),)])
def test_impossible_efforts_are_refused(effort: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="finite"):
        SimulatedSource().aim(effort)


def test_nobody_exceeds_what_is_left_of_their_strength() -> None:
    source = SimulatedSource(STEADY, channels=1, seed=12)
    source.aim((3.0,))
    source.poll(3.0)
    assert np.max(source.true_activation) <= 1.0


def test_disturbances_come_and_go_on_demand() -> None:
    source = SimulatedSource(STEADY, channels=1, seed=13)
    quiet = np.std(joined(source.poll(2.0)))
    source.disturb(Disturbance("mains", 40.0))
    assert np.std(joined(source.poll(2.0))) > 10.0 * quiet
    source.disturb()
    assert np.std(joined(source.poll(2.0))) == pytest.approx(quiet, rel=0.1)


@pytest.mark.parametrize("name", ["contact", "mains", "movement", "clipping", "heartbeat", "noise", "loss"])
def test_strength_of_a_disturbance_is_what_it_says(name: DisturbanceName) -> None:
    strength = 0.2 if name == "loss" else 50.0
    source = SimulatedSource(STEADY, channels=1, seed=14, faults=[Disturbance(name, strength)])
    source.aim((0.5,) if name == "clipping" else (0.0,))
    blocks = source.poll(30.0)
    samples = joined(blocks)[1000:, 0]
    match name:
        case "loss":
            measured = sum(block.lost for block in blocks) / 30_000
        case "clipping" | "movement":
            measured = float(np.max(np.abs(samples)))
        case "heartbeat":
            measured = float(np.median(np.max(samples.reshape(-1, 1000), axis=1)))
        case _:
            measured = float(np.std(samples))
    assert measured == pytest.approx(strength, rel=0.25)


def test_lost_samples_are_counted_before_the_next_block() -> None:
    source = SimulatedSource(seed=15, faults=[Disturbance("loss", 0.3)])
    blocks = [block for _ in range(100) for block in source.poll(0.033)]
    expected = 0
    for block in blocks:
        expected += block.lost
        assert block.start_s == pytest.approx(expected / 1000.0)
        expected += len(block.samples_uv)
    assert sum(block.lost for block in blocks) > 0.15 * expected


def test_body_alone_can_be_stepped() -> None:
    body = Body(STEADY, 2, seed=1)
    body.aim((0.5,), 0.0)
    for _ in range(200):
        body.step()
    assert body.muscles[0].drive == pytest.approx(0.5, abs=1e-3) and body.muscles[1].drive == 0.0
