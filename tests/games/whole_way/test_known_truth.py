"""A model patient who means each of many contractions, judged through the whole chain: every verdict must be the
meaning."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from musclewood.games.engine.rep_events import RepMade, RepMissed
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import Happening, ReferenceFound, SessionView
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.todays_plan import plan_for
from musclewood.profiles.journal.history import History
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
FRAME_S = 0.04
HOLD_S, TARGET = 2.0, 0.4

# Somebody practised: what is meant is what is done, within ordinary unsteadiness.
PERSON = ModelPatient(effort_cv=0.05, aim_cv=0.03, fatigue_per_s=0.0)


@dataclass(frozen=True)
class Meant:
    """What the patient means to do: how hard, how long, and what an honest judge must say."""

    verdict: str
    effort: float
    for_s: float

    @property
    def in_rest(self) -> bool:
        return self.verdict == "not relaxed"


MEANINGS = (
    [Meant("counted", TARGET, 9.0)] * 19
    + [Meant("short", TARGET, 0.5 * HOLD_S)] * 5
    + [Meant("weak", 0.5 * TARGET, 3.0)] * 5
    + [Meant("over", 1.5 * TARGET, 3.0)] * 5
    + [Meant("not relaxed", TARGET, 1.5)] * 5
)


class Purposeful:
    """Does one meant contraction after the other, and lets go of a good one when it is counted."""

    def __init__(self, meant: list[Meant]) -> None:
        self.left = list(meant)
        self.doing: Meant | None = None
        self.until_s = 0.0
        self.moved_on_s = 0.0

    def aim(self, view: SessionView) -> float:
        if view.calibration is not None:
            return 1.0 if view.calibration.phase == "trial" else 0.0
        if view.rep is None:
            return 0.0
        if self.doing is None:
            self._choose(view)
        elif view.time_s >= self.until_s or (self.doing.verdict == "counted" and view.rep.phase == "release"):
            self.doing, self.moved_on_s = None, view.time_s
        return self.doing.effort if self.doing else 0.0

    def _choose(self, view: SessionView) -> None:
        assert view.rep is not None
        if not self.left or view.time_s < self.moved_on_s + 1.0:
            return
        following = self.left[0]
        if view.rep.phase == ("rest" if following.in_rest else "ready"):
            self.doing = self.left.pop(0)
            self.until_s = view.time_s + following.for_s


def judged(prescription: Prescription, meant: list[Meant], seed: int) -> list[str]:
    """Play one session with a simulated EMG and return the verdicts in order."""
    source = SimulatedSource(PERSON, channels=1, seed=seed)
    acquisition, player = Acquisition(source), Purposeful(meant)
    plan = plan_for(prescription, History(), NOW, practice=True)
    session = Session(prescription, plan, acquisition.step_s, 1, minutes_left=60.0)
    session.begin()
    session.answer(0)
    verdicts: list[str] = []

    def take(happened: list[Happening]) -> None:
        for happening in happened:
            if isinstance(happening.what, ReferenceFound):
                acquisition.refer_to(happening.what.reference)
            if isinstance(happening.what, RepMade | RepMissed):
                verdicts.append(happening.what.rep.verdict)

    while session.stage not in ("rating", "finished"):
        source.aim((player.aim(session.view),))
        heard = acquisition.poll(FRAME_S)
        for tick in heard.ticks:
            take(session.step(tick))
        for quality in heard.qualities:
            take(session.look(quality))
        assert session.time_s < 1500.0
    return verdicts


def mixed(seed: int, meant: list[Meant]) -> list[Meant]:
    """The contractions in any order, the last a further good one, and none in rest before there is a rest."""
    chance, meant = random.Random(seed), list(meant)
    chance.shuffle(meant)
    first = next(index for index, one in enumerate(meant) if not one.in_rest)
    meant[0], meant[first] = meant[first], meant[0]
    return [*meant, Meant("counted", TARGET, 9.0)]


def wrong_seeds(
    order: Callable[..., Prescription], seeds: range, meanings: list[Meant]
) -> dict[int, list[tuple[str, str]]]:
    reps = 1 + sum(one.verdict == "counted" for one in meanings)
    prescription = order(sets=1, reps=reps, hold_s=HOLD_S, rest_s=3.0, trials=3, trial_s=3.0)
    wrong = {}
    for seed in seeds:
        meant = mixed(seed, meanings)
        verdicts = judged(prescription, meant, seed)
        expected = [one.verdict for one in meant]
        if verdicts != expected:
            wrong[seed] = [pair for pair in zip(expected, verdicts, strict=False) if pair[0] != pair[1]] or [
                ("number", str(len(verdicts)))
            ]
    return wrong


@pytest.mark.full_size
def test_every_verdict_is_what_was_meant(order, full):
    assert wrong_seeds(order, range(50 if full else 1), MEANINGS if full else MEANINGS[::2]) == {}
