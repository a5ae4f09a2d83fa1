"""Contraction detection: which ticks belong to a contraction, and when each began and ended."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from musclewood.signal.activation import Flags
from musclewood.signal.blocks import Samples
from musclewood.signal.stage import Stage

RISE = 3.0  # times rest that begins a contraction
FALL = 2.0  # times rest that ends it
SHARE = 0.12  # of the usual contraction that begins one, whatever the rest
LET_GO = 0.1  # of the usual contraction that ends it
ENOUGH_S = 0.06  # above or below for this long
REST_UP_S = 2.0
REST_DOWN_S = 0.15


@dataclass(frozen=True, slots=True)
class Contraction:
    """One detected burst; times in seconds since the stream began.

    steadiness: mean over standard deviation of the amplitude in the middle 80 %; 0 where it is too short to tell.
    """

    onset_s: float
    offset_s: float
    mean_uv: float
    peak_uv: float
    steadiness: float


@dataclass
class MuscleState:
    """What is known of one channel."""

    rest: float = 0.0
    usual: float = 0.0
    contracting: bool = False
    turn: int = 0
    onset: int = 0
    amplitudes: list[float] = field(default_factory=list)


@dataclass
class DetectorState:
    """All channels, the number of the next tick, and contractions not yet taken."""

    muscles: list[MuscleState]
    tick: int = 0
    finished: list[tuple[int, Contraction]] = field(default_factory=list)


class ContractionDetector(Stage[DetectorState]):
    """Causal detector with hysteresis; thresholds follow the resting level and the size of recent contractions."""

    def __init__(self, step_s: float, channels: int) -> None:
        self.step_s = step_s
        self._enough = max(1, round(ENOUGH_S / step_s))
        self._up = step_s / REST_UP_S
        self._down = step_s / REST_DOWN_S
        self._state = DetectorState([MuscleState() for _ in range(channels)])

    def process(self, amplitude_uv: Samples, readable: Flags) -> Flags:
        """Amplitudes in µV (ticks, channels) to whether each tick is part of a contraction."""
        contracting = np.zeros(amplitude_uv.shape, bool)
        for channel, muscle in enumerate(self._state.muscles):
            pairs = zip(amplitude_uv[:, channel].tolist(), readable[:, channel].tolist(), strict=True)
            for row, (amplitude, seen) in enumerate(pairs):
                if seen:
                    self._step(channel, muscle, self._state.tick + row, amplitude)
                contracting[row, channel] = muscle.contracting
        self._state.tick += len(amplitude_uv)
        return contracting

    def take(self) -> list[tuple[int, Contraction]]:
        """Channel and contraction of each one finished since the last call, in the order of their ends."""
        finished, self._state.finished = self._state.finished, []
        return finished

    def _step(self, channel: int, muscle: MuscleState, tick: int, amplitude: float) -> None:
        if not muscle.rest:
            muscle.rest = amplitude
        if muscle.contracting:
            muscle.amplitudes.append(amplitude)
            low = amplitude < max(FALL * muscle.rest, LET_GO * muscle.usual)
            muscle.turn = muscle.turn + 1 if low else 0
            if muscle.turn >= self._enough:
                self._finish(channel, muscle, tick - self._enough + 1)
            return
        high = amplitude > max(RISE * muscle.rest, SHARE * muscle.usual)
        muscle.turn = muscle.turn + 1 if high else 0
        if muscle.turn >= self._enough:
            muscle.contracting, muscle.onset, muscle.turn, muscle.amplitudes = True, tick - self._enough + 1, 0, []
            return
        pace = self._up if amplitude > muscle.rest else self._down
        muscle.rest += pace * (amplitude - muscle.rest)

    def _finish(self, channel: int, muscle: MuscleState, end: int) -> None:
        body = np.array(muscle.amplitudes[: max(1, end - muscle.onset)])
        core = body[len(body) // 10 : len(body) - len(body) // 10]
        sd = float(core.std())
        contraction = Contraction(
            onset_s=muscle.onset * self.step_s,
            offset_s=end * self.step_s,
            mean_uv=float(body.mean()),
            peak_uv=float(body.max()),
            steadiness=float(core.mean()) / sd if sd > 0.0 else 0.0,
        )
        self._state.finished.append((channel, contraction))
        muscle.usual = contraction.mean_uv if not muscle.usual else 0.7 * muscle.usual + 0.3 * contraction.mean_uv
        muscle.contracting, muscle.turn, muscle.amplitudes = False, 0, []
