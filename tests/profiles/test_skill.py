"""The skill model against published procedures and simulated patients."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from musclewood.profiles.skill import LAPSE, SkillModel, success_at
from musclewood.profiles.staircase import TransformedUpDown, WeightedUpDown


@pytest.mark.parametrize(("target", "ratio"), [(0.75, 3.0), (0.80, 4.0), (0.85, 5.6667)])
def test_weighted_steps_follow_kaernbach(target: float, ratio: float) -> None:
    """Kaernbach 1991, Percept Psychophys 49:227: S_up / S_down = p / (1 - p)."""
    rule = WeightedUpDown(target, 0.02)
    assert rule.easier_step / rule.harder_step == pytest.approx(ratio, abs=1e-4)
    assert target * rule.harder_step == pytest.approx((1 - target) * rule.easier_step)


@pytest.mark.parametrize("target", [0.75, 0.80, 0.85])
def test_the_weighted_rule_settles_at_its_target(target: float, full: bool) -> None:
    dice = np.random.default_rng(8)
    rule = WeightedUpDown(target, 0.02, level=0.0)
    trials = 400_000 if full else 40_000
    won = 0
    for number in range(trials + 1000):
        success = bool(dice.random() < 1 / (1 + np.exp(rule.ask())))
        rule.tell(success)
        won += success and number >= 1000
    assert won / trials == pytest.approx(target, abs=0.01)


@pytest.mark.parametrize(("wins", "point"), [(1, 0.5), (2, 0.70711), (3, 0.79370), (4, 0.84090)])
def test_transformed_rules_settle_at_levitts_points(wins: int, point: float, full: bool) -> None:
    """Levitt 1971, J Acoust Soc Am 49:467: one down after n in a row settles at 0.5 ** (1 / n)."""
    assert 0.5 ** (1 / wins) == pytest.approx(point, abs=1e-5)
    dice = np.random.default_rng(9)
    rule = TransformedUpDown(wins, 0.02, level=0.0)
    trials = 400_000 if full else 40_000
    won = 0
    for number in range(trials + 2000):
        success = bool(dice.random() < 1 / (1 + np.exp(rule.ask())))
        rule.tell(success)
        won += success and number >= 2000
    assert won / trials == pytest.approx(point, abs=0.015)


def test_a_bayesian_grid_replays_the_published_example() -> None:
    """Watson 2017, J Vision 17(3):10, example 1: contrast thresholds, the next stimulus of least expected entropy."""
    thresholds = stimuli = np.arange(-40, 1)
    slope, guess, lapse = 3.5, 0.5, 0.02
    power = 10 ** (slope * (stimuli[:, None] - thresholds[None, :]) / 20)
    correct = 1 - lapse - (1 - guess - lapse) * np.exp(-power)
    belief = np.full(len(thresholds), 1 / len(thresholds))
    asked = []
    for answer in "CCCCIICCCCCCCCICCICCICCCCCCCCCCC":
        entropies = np.zeros(len(stimuli))
        for chances in (correct, 1 - correct):
            joint = chances * belief
            total = joint.sum(axis=1)
            posterior = joint / total[:, None]
            entropies += total * -(
                posterior * np.log(posterior, where=posterior > 0, out=np.zeros_like(posterior))
            ).sum(1)
        at = int(np.argmin(entropies))
        asked.append(int(stimuli[at]))
        belief = belief * (correct[at] if answer == "C" else 1 - correct[at])
        belief /= belief.sum()
    assert asked == [
        -18, -22, -25, -28, -30, -22, -13, -15, -16, -18, -19, -20, -21, -22, -23, -19,
        -20, -20, -18, -18, -19, -17, -17, -18, -18, -18, -19, -19, -19, -19, -19, -19,
    ]  # fmt: skip
    assert thresholds[int(np.argmax(belief))] == -20
    assert float(belief @ thresholds) == pytest.approx(-20.394, abs=0.001)


def test_nothing_known_asks_for_the_order() -> None:
    for target in (0.6, 0.7, 0.8, 0.9):
        assert SkillModel(target).ask() == pytest.approx(0.5, abs=0.02)


def test_success_raises_and_failure_lowers_what_is_asked() -> None:
    up, down = SkillModel(), SkillModel()
    up.tell(0.5, made=12, missed=0)
    down.tell(0.5, made=0, missed=12)
    assert up.ask() > 0.6 and down.ask() < 0.4
    assert up.skill[0] > down.skill[0]
    assert up.predict(0.2) > up.predict(0.8)


def test_the_same_reps_give_the_same_state() -> None:
    first, second = SkillModel(), SkillModel()
    dice = np.random.default_rng(3)
    for _ in range(50):
        level, success = float(dice.random()), bool(dice.random() < 0.7)
        for model in (first, second):
            model.tell(level, success, not success)
        if dice.random() < 0.1:
            first.rest()
            second.rest()
    assert first.ask() == second.ask() and first.skill == second.skill
    assert 0 <= first.ask() <= 1


def test_beliefs_stay_beliefs_whatever_happens() -> None:
    model = SkillModel(0.8)
    for number in range(2000):
        model.tell(float(number % 2), 9 * (number % 2), 9 * (1 - number % 2))  # the opposite of what is likely
        model.rest()
    mean, sd = model.skill
    assert np.isfinite([mean, sd]).all() and 0 <= model.predict(0.5) <= 1 - LAPSE
    assert model._belief.sum() == pytest.approx(1.0) and (model._belief >= 0).all()


@dataclass(frozen=True)
class Patient:
    """Skill and slope, and how skill moves over the six weeks."""

    kind: str
    skill: float
    slope: float

    def success(self, level: float, progress: float, today: float) -> float:
        drift = {"steady": 0.0, "better": 0.2 * progress, "worse": -0.2 * progress, "by day": today}[self.kind]
        return float(success_at(level, self.skill + drift, self.slope))


SESSIONS, REPS = 18, 24  # three sessions a week for six weeks
UP_DOWN_STEPS = (0.005, 0.01, 0.02)
# Fixed before looking: one hundredth of the range harder, four easier, as a therapist's percent of MVC would move.
COMPARED_STEP = 0.01


def _patients(number: int, dice: np.random.Generator) -> list[Patient]:
    """People for whom the bounds leave room: the level at which they succeed as aimed at stays inside, all six weeks."""
    kinds = ("steady", "better", "steady", "worse", "steady", "by day")
    people = []
    for index in range(number):
        slope, suits = float(np.exp(dice.uniform(np.log(4), np.log(14)))), float(dice.uniform(0.2, 0.75))
        people.append(Patient(kinds[index % 6], suits + float(np.log(0.8 / (1 - LAPSE - 0.8))) / slope, slope))
    return people


def _squared_errors(patient: Patient, seed: int) -> tuple[dict[str, float], float]:
    """Mean squared error of the success probability after 20 reps by rule, and the model's own realised success."""
    dice = np.random.default_rng(seed)
    today = dice.normal(0, 0.06, SESSIONS)
    by_rep, by_session = SkillModel(), SkillModel()
    stairs = {step: WeightedUpDown(0.8, step) for step in UP_DOWN_STEPS}
    held = {step: WeightedUpDown(0.8, step) for step in UP_DOWN_STEPS}
    errors: dict[str, list[float]] = {}
    won = []
    for session in range(SESSIONS):
        by_rep.rest()
        by_session.rest()
        level_today = by_session.ask()
        steps_today = {step: min(1.0, max(0.0, rule.ask())) for step, rule in held.items()}
        for number in range(REPS):
            done = session * REPS + number
            progress = done / (SESSIONS * REPS)
            luck = dice.random()
            levels = {"model by rep": by_rep.ask(), "model by session": level_today}
            for step in UP_DOWN_STEPS:
                stairs[step].level = min(1.0, max(0.0, stairs[step].level))
                levels[f"up-down {step} by rep"] = stairs[step].level
                levels[f"up-down {step} by session"] = steps_today[step]
            chance = {rule: patient.success(level, progress, today[session]) for rule, level in levels.items()}
            success = luck < chance["model by rep"]
            by_rep.tell(levels["model by rep"], success, not success)
            success = luck < chance["model by session"]
            by_session.tell(level_today, success, not success)
            for step in UP_DOWN_STEPS:
                stairs[step].tell(luck < chance[f"up-down {step} by rep"])
                held[step].tell(luck < chance[f"up-down {step} by session"])
            if done >= 20:
                won.append(luck < chance["model by session"])
                for rule, value in chance.items():
                    errors.setdefault(rule, []).append((value - 0.8) ** 2)
        for rule in held.values():
            rule.level = min(1.0, max(0.0, rule.level))
    return {rule: float(np.mean(values)) for rule, values in errors.items()}, float(np.mean(won))


@pytest.mark.full_size
def test_simulated_patients_succeed_as_often_as_aimed_at(full: bool) -> None:
    dice = np.random.default_rng(500)
    patients = _patients(500 if full else 30, dice)
    results = [_squared_errors(patient, seed) for seed, patient in enumerate(patients)]
    steady = [won for patient, (_, won) in zip(patients, results, strict=True) if patient.kind == "steady"]
    near = float(np.mean([abs(won - 0.8) <= 0.05 for won in steady]))
    mean = {rule: float(np.mean([errors[rule] for errors, _ in results])) for rule in results[0][0]}
    print(f"\n{len(patients)} patients: {100 * near:.0f} % of {len(steady)} steady ones within 5 points of 80 %")
    for rule, error in sorted(mean.items(), key=lambda entry: entry[1]):
        print(f"  {rule:28s} mean squared error of success {error:.5f}")
    assert near >= 0.9
    for cadence in ("by rep", "by session"):
        assert mean[f"model {cadence}"] <= 0.6 * mean[f"up-down {COMPARED_STEP} {cadence}"]
        assert all(mean[f"model {cadence}"] < mean[f"up-down {step} {cadence}"] for step in UP_DOWN_STEPS)
