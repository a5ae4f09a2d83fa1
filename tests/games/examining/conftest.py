"""A willing person under test: the real chain on a simulated source, told what the screen shows."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from musclewood.games.examining.examination import Examination
from musclewood.games.running.acquisition import Acquisition
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource
from musclewood.signal.stream.activation import Reference

FRAME_S = 0.04
LONGEST_S = 1800.0
Pain = Callable[[int], int]


class Willing:
    """Does what is shown, answers pain with `pain(number of the question)`, lays the pads at once."""

    def __init__(self, person: ModelPatient | None = None, channels: int = 2, seed: int = 1) -> None:
        self.source = SimulatedSource(person or ModelPatient(), channels=channels, seed=seed, envelope=True)
        self.acquisition = Acquisition(self.source)
        self.asked: list[float] = []  # the top of every band that was shown
        self.most_effort = 1.0

    @property
    def step_s(self) -> float:
        return self.acquisition.step_s

    def refer(self, found: dict[int, tuple[float, float]]) -> None:
        channels = range(len(self.source.labels))
        rest = tuple(found.get(one, (1.0, 1e6))[0] for one in channels)
        self.acquisition.refer_to(Reference(rest, tuple(found.get(one, (1.0, 1e6))[1] for one in channels)))

    def do(self, exam: Examination, pain: Pain = lambda number: 0, until: Callable[[], bool] = lambda: False) -> float:
        """Until the test ends; gives the seconds it took."""
        passed_s, questions = 0.0, 0
        while exam.ended is None and passed_s < LONGEST_S and not until():
            shown = exam.shown
            if shown.doing == "place":
                exam.answer("go on")
            elif shown.doing == "pain":
                exam.answer(pain(questions))
                questions += 1
            works = shown.doing in ("ready", "squeeze", "hold", "keep")
            effort = self.most_effort if shown.band is None else min(self.most_effort, sum(shown.band) / 2)
            if shown.band is not None:
                self.asked.append(shown.band[1])
            aims = [0.0] * len(self.source.labels)
            for subject in shown.subjects:
                aims[subject.channel] = effort if works else 0.0
            self.source.aim(tuple(aims))
            for tick in self.acquisition.poll(FRAME_S).ticks:
                exam.step(tick)
            passed_s += FRAME_S
        return passed_s


@pytest.fixture
def willing() -> Willing:
    return Willing()
