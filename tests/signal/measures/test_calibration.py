"""Today's maximum: the way through a calibration, and what its figures are worth."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
import pytest
from musclewood.signal.measures.calibration import (
    CalibrationEvent,
    CalibrationRun,
    CalibrationSettings,
    summarise,
)
from musclewood.signal.measures.plateaus import Plateau, judge_trial
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource
from musclewood.signal.stream.blocks import Block
from musclewood.signal.stream.chain import Chain
from numpy.typing import NDArray

STEP_S = 0.004
SHORT = CalibrationSettings(rest_s=1.0, trials=3, trial_s=2.0, rest_between_s=1.0)


class Patient:
    """Feeds a calibration with made-up ticks."""

    def __init__(self, settings: CalibrationSettings = SHORT) -> None:
        self.run = CalibrationRun(settings, STEP_S)
        self.events: list[CalibrationEvent] = []

    def feed(self, ticks: Iterable[float], contracting: bool, readable: bool = True) -> None:
        for tick in ticks:
            self.events += self.run.step(tick, contracting, readable)

    def rest(self, seconds: float = 1.1, level_uv: float = 5.0) -> None:
        self.feed([level_uv] * round(seconds / STEP_S), False)

    def squeeze(self, level_uv: float, seconds: float = 1.5) -> None:
        self.feed([level_uv] * round(seconds / STEP_S), True)
        self.rest(0.3)

    def kinds(self) -> list[str]:
        return [event.kind for event in self.events]


def test_the_way_through() -> None:
    patient = Patient()
    assert patient.run.phase == "rest" and patient.run.left_s == pytest.approx(1.0)
    patient.rest(0.5)
    assert patient.run.left_s == pytest.approx(0.5)
    patient.rest(0.6)
    assert patient.run.phase == "trial" and not patient.run.trying
    for level in (100.0, 104.0, 98.0):
        patient.squeeze(level)
        patient.rest()
    assert patient.run.phase == "done" and patient.run.note is None
    assert patient.kinds() == ["rest done", *["trial cued", "trial started", "trial counted"] * 3, "done"]
    result = patient.run.result
    assert result is not None
    assert result.rest_uv == 5.0
    assert result.trials_uv == pytest.approx((100.0, 104.0, 98.0))
    assert result.mvc_uv == pytest.approx(302.0 / 3.0)
    assert result.low_uv < 98.0 and result.high_uv > 104.0
    assert patient.run.best_uv == pytest.approx(104.0)
    assert patient.run.step(5.0, False, True) == []


def test_a_trial_ends_after_its_time_even_if_the_patient_goes_on() -> None:
    patient = Patient()
    patient.rest()
    patient.feed([100.0] * round(3.0 / STEP_S), True)
    assert patient.kinds()[-1] == "trial counted"
    assert patient.run.phase == "pause" and patient.run.note == Remark.LET_GO
    assert patient.run.left_s == pytest.approx(1.0), "rest only passes while the muscle is quiet"


def test_a_contraction_that_began_before_the_cue_is_no_trial() -> None:
    patient = Patient()
    patient.rest()
    patient.squeeze(100.0)
    patient.rest(0.6)
    patient.feed([100.0] * 100, True)
    patient.rest(0.5)
    assert patient.kinds().count("trial started") == 1


def test_trials_that_disagree_ask_for_one_more() -> None:
    patient = Patient()
    patient.rest()
    for level in (70.0, 100.0, 85.0):
        patient.squeeze(level)
        patient.rest()
    assert patient.events[-2].kind == "one more" and patient.events[-2].reason == Remark.DIFFERED
    patient.squeeze(98.0)
    assert patient.run.phase == "done" and patient.run.note is None
    result = patient.run.result
    assert result is not None and result.set_aside == 1, "the one of 70 was not maximal"


def test_it_ends_at_the_most_trials_with_a_caution() -> None:
    patient = Patient()
    patient.rest()
    for level in (60.0, 70.0, 80.0, 90.0, 101.0):
        patient.squeeze(level)
        patient.rest()
    assert patient.run.phase == "done"
    assert patient.run.result is not None and patient.run.result.note == Remark.STILL_DIFFERED


def test_jolts_are_refused_and_in_the_end_it_fails() -> None:
    patient = Patient()
    patient.rest()
    for _ in range(8):
        patient.feed([10.0] * 100 + [900.0] * 20 + [10.0] * 100, True)
        patient.rest(1.5)
    assert patient.run.phase == "failed" and patient.run.note == Remark.TOO_SPIKY
    assert patient.run.result is None
    assert patient.kinds().count("trial rejected") == 8


def test_one_good_trial_among_jolts_is_used_with_a_caution() -> None:
    patient = Patient()
    patient.rest()
    patient.squeeze(100.0)
    patient.rest()
    for _ in range(7):
        patient.squeeze(100.0, 0.2)
        patient.rest()
    assert patient.run.phase == "done"
    result = patient.run.result
    assert result is not None
    assert result.note == Remark.FEW_TRIALS and len(result.rejected) == 7
    assert math.isnan(result.cv) and result.high_uv == math.inf and result.low_uv == 0.0


@pytest.mark.parametrize(
    ("contracting", "readable", "note"),
    [(True, True, Remark.NOT_QUIET), (False, False, Remark.NOT_READABLE), (True, False, Remark.NOT_READABLE)],
)
def test_what_keeps_rest_from_passing_is_said(contracting: bool, readable: bool, note: str) -> None:
    patient = Patient()
    patient.feed([50.0] * round(21.0 / STEP_S), contracting, readable)
    assert patient.run.phase == "rest" and patient.run.note == note
    patient.rest(0.1)
    assert patient.run.note is None


def test_who_does_not_squeeze_is_reminded() -> None:
    patient = Patient()
    patient.rest()
    patient.rest(6.5)
    assert patient.run.phase == "trial" and patient.run.note == Remark.BEGIN


def ticks(*parts: tuple[float, float]) -> NDArray[np.float64]:
    return np.concatenate([np.full(round(seconds / STEP_S), level) for level, seconds in parts])


def test_a_spike_is_not_a_plateau() -> None:
    spike = ticks((20.0, 0.6), (400.0, 0.1), (20.0, 0.6))
    judged = judge_trial(spike, np.ones(len(spike)), STEP_S, 0.5)
    assert isinstance(judged, Plateau) and judged.best_uv == pytest.approx(20.0), "windows without it still count"
    spike = ticks((20.0, 0.3), (400.0, 0.1), (20.0, 0.3))
    assert judge_trial(spike, np.ones(len(spike)), STEP_S, 0.5) == Remark.TOO_SPIKY
    squeeze = ticks((100.0, 1.0), (500.0, 0.08), (100.0, 1.0))
    judged = judge_trial(squeeze, np.ones(len(squeeze)), STEP_S, 0.5)
    assert isinstance(judged, Plateau) and judged.best_uv == pytest.approx(100.0)


def test_what_is_left_of_a_spike_is_not_the_best_window() -> None:
    """A filter that comes back from a knock slowly, as it does at 200 Hz: levels of a tenth of a second each."""
    after = [(level, 0.1) for level in (105.0, 61.0, 44.0, 35.0, 30.0, 28.0, 27.0, 25.0)]
    knocked = ticks((23.0, 1.5), *after, (23.0, 1.5))
    judged = judge_trial(knocked, np.ones(len(knocked)), STEP_S, 0.5)
    assert isinstance(judged, Plateau) and 23.0 <= judged.best_uv < 30.0


def test_what_cannot_be_read_is_passed_over() -> None:
    squeeze = ticks((100.0, 1.0), (150.0, 1.0))
    readable = np.where(squeeze > 120.0, 0.0, 1.0)
    judged = judge_trial(squeeze, readable, STEP_S, 0.5)
    assert isinstance(judged, Plateau) and judged.best_uv == pytest.approx(100.0)
    assert judge_trial(squeeze, np.zeros(len(squeeze)), STEP_S, 0.5) == Remark.UNREADABLE
    assert judge_trial(squeeze[:50], np.ones(50), STEP_S, 0.5) == Remark.TOO_SHORT


def smoothed_noise(random: np.random.Generator, count: int, sd: float) -> NDArray[np.float64]:
    """Relative fluctuation of an amplitude whose half-second means scatter by `sd`, smoothed over 80 ms."""
    width = 20
    white = random.standard_normal(count + width - 1) * sd * math.sqrt(125.0)
    return np.convolve(white, np.ones(width) / width, "valid")


@pytest.mark.parametrize("trials", [3, 5])
def test_bias_and_interval_over_many_calibrations(full: bool, trials: int) -> None:
    """People whose trials differ by 6 %, within which half seconds scatter by 5 %: bias and cover of the interval."""
    runs = 2000 if full else 300
    random = np.random.default_rng(20 + trials)
    ratios, covered, naive = [], 0, []
    for _ in range(runs):
        plateaus = []
        for _ in range(trials):
            level = 200.0 * math.exp(0.06 * random.standard_normal() - 0.5 * 0.06**2)
            amplitude = level * (1.0 + smoothed_noise(random, 875, 0.05))
            judged = judge_trial(amplitude, np.ones(875), STEP_S, 0.5)
            assert isinstance(judged, Plateau)
            plateaus.append(judged)
        result = summarise(3.0, plateaus)
        ratios.append(result.mvc_uv / 200.0)
        naive.append(max(result.trials_uv) / 200.0)
        covered += result.low_uv <= 200.0 <= result.high_uv
    assert abs(np.mean(ratios) - 1.0) < 0.02
    assert np.mean(naive) > 1.08, "taking the highest window of the highest trial would read well above the truth"
    margin = 0.02 if full else 0.04
    assert 0.95 - margin <= covered / runs <= 0.95 + margin


def steady_gain(person: ModelPatient) -> float:
    """What the chain's amplitude shows of a true one: its band-pass leaves out a little of the EMG's power."""
    source = SimulatedSource(replace(person, effort_cv=0.0), channels=1, seed=99)
    chain = Chain(1000.0, 1)
    source.aim((1.0,))
    amplitude = np.concatenate([chain.process(block).amplitude_uv[:, 0] for block in source.poll(40.0)])
    return float(np.mean(amplitude[500:])) / source.true_mvc_uv[0]


def test_a_model_patient_through_the_whole_chain(full: bool) -> None:
    """Raw samples in, reference out: on average within 2 % of the amplitude that a steady full effort shows.

    Misses and fatigue are off, so that the truth is one number.
    """
    person = ModelPatient(aim_cv=0.0, effort_cv=0.04, fatigue_per_s=0.0, tone_rise=0.0)
    gain = steady_gain(person)
    assert 0.95 < gain < 1.0
    ratios = []
    for seed in range(60 if full else 12):
        source = SimulatedSource(person, channels=1, seed=seed)
        chain = Chain(1000.0, 1)
        run = CalibrationRun(SHORT, chain.step_s)
        while run.phase not in ("done", "failed") and source.time_s < 60.0:
            source.aim((1.0,) if run.phase == "trial" else (0.0,))
            for block in source.poll(0.05):
                batch = chain.process(block)
                columns = (batch.amplitude_uv[:, 0], batch.contracting[:, 0], batch.readable[:, 0])
                for amplitude, contracting, readable in zip(*(column.tolist() for column in columns), strict=True):
                    run.step(amplitude, contracting, readable)
        assert run.phase == "done"
        assert run.result is not None
        ratios.append(run.result.mvc_uv / source.true_mvc_uv[0] / gain)
    assert abs(np.mean(ratios) - 1.0) < 0.02


@pytest.mark.parametrize("trial_s", [1.0, 4.0])
def test_a_real_series_of_contractions_can_be_replayed_through_it(real: Callable, trial_s: float) -> None:
    """Biceps contractions of 1.2 s with 1.8 s between them."""
    recording = real("bursts")
    chain = Chain(recording.rate_hz, 1)
    batch = chain.process(Block(recording.samples_uv[:, np.newaxis], 0.0))
    settings = CalibrationSettings(rest_s=1.0, trials=3, trial_s=trial_s, rest_between_s=1.0)
    run = CalibrationRun(settings, chain.step_s)
    for amplitude, contracting, readable in zip(
        batch.amplitude_uv[:, 0], batch.contracting[:, 0], batch.readable[:, 0], strict=True
    ):
        run.step(float(amplitude), bool(contracting), bool(readable))
    result = run.result
    assert run.phase == "done" and result is not None
    assert 2.0 < result.rest_uv < 10.0
    assert 60.0 < result.mvc_uv < 200.0
    assert len(result.trials_uv) >= 3
