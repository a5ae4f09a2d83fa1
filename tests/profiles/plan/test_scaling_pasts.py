"""Whatever was eased, lightened or taken up again: no step beyond the order's, none while held, no false word."""

from __future__ import annotations

import importlib.util
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.plan import dose, scaling
from musclewood.profiles.plan.safety import Restraint

SCRIPT = Path(__file__).parents[2] / "bench" / "scaling_pasts.py"
CLEAN = {"rose beyond the step", "got harder while held", "told the opposite", "outside the order"}


@pytest.fixture(scope="module")
def pasts() -> Any:
    spec = importlib.util.spec_from_file_location("scaling_pasts", SCRIPT)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.full_size
def test_no_past_lets_anything_rise_that_must_not(pasts: Any, full: bool) -> None:
    found: Counter[str] = pasts.count(10_000 if full else 60)
    print(found)
    assert found["settings looked at"] > 5 * found["pasts"]
    assert not CLEAN & found.keys()


def _from_the_path(exercise: Any, done: Any) -> scaling.Setting:
    """Planted: counts from the nearest point of the path, not from what was asked for."""
    asked = scaling.Setting(done[-1].reps[-1].target_pct_mvc, done[-1].reps[-1].tolerance_pct_mvc, exercise.rest_s)
    return scaling.at_level(exercise, scaling.level_of(exercise, asked.target_pct_mvc, asked.tolerance_pct_mvc))


def test_planted_faults_are_seen(pasts: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as planted:
        planted.setattr(scaling, "last_asked", _from_the_path)
        assert pasts.count(60)["rose beyond the step"]
    with monkeypatch.context() as planted:
        planted.setattr(dose, "restraint", lambda *_: Restraint())
        assert pasts.count(60)["got harder while held"]
    moved = scaling._moved
    with monkeypatch.context() as planted:
        planted.setattr(scaling, "_moved", lambda *where, harder: moved(*where, harder=not harder))
        assert pasts.count(60)["told the opposite"]
