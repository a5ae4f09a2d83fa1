"""The spectrum of a contraction reaches the session through the real chain, at the right moment."""

from __future__ import annotations

import pytest
from musclewood.games.running.acquisition import Acquisition
from musclewood.signal.measures.fatigue import Burst, assess_fatigue
from musclewood.signal.sources.simulated import Disturbance, ModelPatient, SimulatedSource

FRESH = ModelPatient(effort_cv=0.02, aim_cv=0.0, fatigue_per_s=0.0)
TIRING = ModelPatient(effort_cv=0.02, aim_cv=0.0, fatigue_per_s=0.25, tired_compression=0.35)


def bursts_of(person: ModelPatient, contractions: int = 8) -> list[Burst]:
    """Contract for 1.6 s out of 2, and look at each contraction just after it ended."""
    source = SimulatedSource(person, channels=1, seed=5)
    acquisition = Acquisition(source)
    found = []
    now_s = 0.0
    for _ in range(contractions):
        begin_s = now_s
        for effort, for_s in ((0.6, 1.6), (0.0, 0.4)):
            source.aim((effort,))
            for _ in range(round(for_s / 0.1)):
                acquisition.poll(0.1)
                now_s += 0.1
        found.append(acquisition.burst(0, begin_s + 0.4, begin_s + 1.7))
    assert all(burst is not None for burst in found)
    return [burst for burst in found if burst is not None]


def test_a_tiring_muscle_sinks_and_a_fresh_one_does_not() -> None:
    tiring, fresh = assess_fatigue(bursts_of(TIRING)), assess_fatigue(bursts_of(FRESH))
    assert tiring.decline > 0.2  # the model's spectrum is squeezed by some 40 % in the end
    assert not fresh.fatigued and abs(fresh.decline) < 0.1


def test_a_burst_is_found_again_after_the_sensor_was_silent() -> None:
    source = SimulatedSource(FRESH, channels=1, seed=5)
    acquisition = Acquisition(source)
    source.disturb(Disturbance("loss", 1.0, start_s=1.0, stop_s=3.0))
    for tenth in range(80):
        source.aim((0.6 if 50 <= tenth < 70 else 0.0,))
        acquisition.poll(0.1)
    working = acquisition.burst(0, 5.5, 6.9)
    resting = acquisition.burst(0, 3.6, 4.9)
    assert working is not None and resting is not None
    assert working.time_s == pytest.approx(6.2, abs=0.05)
    assert working.amplitude_uv > 20.0 * resting.amplitude_uv


def test_an_envelope_has_no_spectrum() -> None:
    source = SimulatedSource(FRESH, channels=1, seed=5, envelope=True)
    acquisition = Acquisition(source)
    acquisition.poll(3.0)
    assert acquisition.burst(0, 1.0, 2.0) is None


@pytest.mark.parametrize(("onset_s", "offset_s"), [(1.0, 1.2), (90.0, 92.0)])
def test_what_is_too_short_or_not_yet_there_has_none(onset_s: float, offset_s: float) -> None:
    acquisition = Acquisition(SimulatedSource(FRESH, channels=1, seed=5))
    acquisition.poll(3.0)
    assert acquisition.burst(0, onset_s, offset_s) is None
