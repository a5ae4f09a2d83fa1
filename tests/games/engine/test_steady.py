"""What the eye is shown: steady in a hold, at once where something happens."""

from __future__ import annotations

import numpy as np
from musclewood.games.engine.rep_events import Reading
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.steady import SteadyDisplay

STEP_S = 0.01


def test_half_of_the_noise_of_a_hold_is_shown() -> None:
    noise = 0.35 * (1.0 + 0.08 * np.random.default_rng(1).standard_normal(2000))
    display = SteadyDisplay(STEP_S)
    shown = np.array([display.step((value, 0.0)) for value in noise])
    assert np.std(shown[500:, 0]) < 0.55 * np.std(noise[500:]) and np.all(shown[:, 1] == 0.0)
    assert abs(np.mean(shown[500:, 0]) - np.mean(noise[500:])) < 0.002


def test_a_release_and_a_rise_are_shown_at_once() -> None:
    """Our choice: never more than a fifth of the level beside it."""
    display = SteadyDisplay(STEP_S)
    course = [0.4] * 300 + [0.0] * 50 + [0.1 + 0.002 * tick for tick in range(200)] + [0.2] * 10
    for value in course:
        (shown,) = display.step((value,))
        assert abs(shown - value) <= 0.2 * value + 1e-12
    for value in [0.0] * 50 + [0.4] * 60:
        (shown,) = display.step((value,))
    assert abs(shown - 0.4) < 0.025, "half a second after a rise nothing is left of where it came from"


def test_the_games_see_the_steady_one_and_the_judge_does_not(exercise) -> None:
    engine = RepEngine(exercise(), STEP_S)
    for value in [0.4] * 200 + [0.44]:
        engine.step(Reading((value,), (True,), True))
    assert 0.415 < engine.view.activation[0] < 0.425
    assert abs(engine.view.level[0] - (0.4 + 0.04 / 25)) < 1e-9
