"""The weak: from which effort on, in times rest, a calibration finds something, what it says, and what is then counted.

Raw samples at 1 kHz through the chain, the calibration and the session's engine. Rest is EMG noise whose size wanders
(log SD and 3 s correlation as given; real rest wanders by up to half, own look at open recordings). The person starts
1.9 s after the cue and lets go 5.0 s after they should (Seo 2009, paretic grip). Run: python
tests/bench/weak_muscles.py [runs]
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import Happening, ReferenceFound
from musclewood.games.running.acquisition import ticks_of
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import DayPlan, planned
from musclewood.signal.measures.calibration import (
    CalibrationRun,
    CalibrationSettings,
)
from musclewood.signal.measures.faint_efforts import RATIO_SD, SURE, highest_of_windows
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.quality.quality import Quality
from musclewood.signal.stream.blocks import Block
from musclewood.signal.stream.chain import Chain
from numpy.typing import NDArray
from scipy.signal import lfilter

RATE_HZ, PIECE_S = 1000.0, 0.05
RATIOS, WANDERS = (1.0, 1.2, 1.3, 1.5, 2.0, 3.0), (0.0, 0.1, 0.15, 0.25)


def smallest_ratio(scatter: float, trials: int, windows: float = 5.0) -> float:
    """The effort, in times rest, that so many trials find four times in five (see `faint_efforts`)."""
    spread = RATIO_SD / math.sqrt(trials)
    return math.exp(scatter * (highest_of_windows(windows) + (SURE + 0.84) * spread))


@dataclass
class WeakPerson:
    """Samples of somebody whose greatest effort is `ratio` times rest; `want` is told to them, and followed late."""

    ratio: float
    wander: float
    seed: int
    rest_uv: float = 4.0
    start_s: float = 1.9
    release_s: float = 5.0
    rise_s: float = 1.0
    time_s: float = 0.0
    effort: float = 0.0
    log_gain: float = 0.0
    _changed_s: float = -100.0
    _want: float = 0.0
    _random: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self._random = np.random.default_rng(self.seed)
        self._state = np.zeros(2)

    def want(self, effort: float) -> None:
        """Effort wanted from now on, 1.0 = all of it."""
        if effort != self._want:
            self._want, self._changed_s = effort, self.time_s

    def piece(self) -> NDArray[np.float64]:
        """The next samples in µV, shape (n, 1)."""
        late_s = self.start_s if self._want > self.effort else self.release_s
        if self.time_s - self._changed_s >= late_s:
            step = PIECE_S / self.rise_s
            self.effort += min(max(self._want - self.effort, -step), step)
        self.log_gain += (
            -self.log_gain * PIECE_S / 3.0
            + self.wander * math.sqrt(2.0 * PIECE_S / 3.0) * self._random.standard_normal()
        )
        uv = self.rest_uv * math.exp(self.log_gain) * math.hypot(1.0, self.effort * math.sqrt(self.ratio**2 - 1.0))
        white = self._random.standard_normal(round(RATE_HZ * PIECE_S))
        # Two poles at 100 Hz: the band in which EMG has most of its power.
        shaped, self._state = lfilter([1.0], [1.0, -1.3, 0.6], white, zi=self._state)
        self.time_s += PIECE_S
        return (uv * shaped / 2.05)[:, np.newaxis]


def calibrated(
    person: WeakPerson, settings: CalibrationSettings, longest_s: float = 600.0
) -> tuple[CalibrationRun, float | None]:
    """A calibration run to its end, and when it was first said why nothing is seen."""
    chain = Chain(RATE_HZ, 1)
    run, said_s = CalibrationRun(settings, chain.step_s), None
    while run.phase not in ("done", "failed") and person.time_s < longest_s:
        person.want(1.0 if run.phase == "trial" else 0.0)
        at_s = person.time_s
        batch = chain.process(Block(person.piece(), at_s))
        for tick in zip(
            batch.amplitude_uv[:, 0].tolist(),
            batch.contracting[:, 0].tolist(),
            batch.readable[:, 0].tolist(),
            strict=True,
        ):
            run.step(*tick)
        if said_s is None and run.note in REASONS:
            said_s = person.time_s
    return run, said_s


REASONS = (Remark.NO_SIGNAL, Remark.NOISY, Remark.UNQUIET, Remark.MISPLACED)


def order_of(target: float = 60.0, tolerance: float = 25.0, hold_s: float = 3.0, sets: int = 2) -> Prescription:
    """Two sets of four holds of one muscle, wide enough for somebody weak."""
    plain = template("weak-thigh-after-knee-operation").model_dump()
    one = next(exercise for exercise in plain["exercises"] if exercise["kind"] == "hold")
    effort = {
        "target_pct_mvc": target,
        "min_pct_mvc": 40.0,
        "max_pct_mvc": 70.0,
        "tolerance_pct_mvc": tolerance,
        "ceiling_pct_mvc": 100.0,
    }
    one |= {
        "sets": sets,
        "reps": 4,
        "hold_s": hold_s,
        "rest_s": 10.0,
        "set_rest_s": 20.0,
        "effort": effort,
        "scaling": {"on": False},
    }
    one["workshops"] = one["workshops"][:1]  # nobody is there to choose
    one["muscles"] = (plain["muscles"][0]["id"],)
    plain |= {"exercises": (one,), "calibration": {"rest_between_s": 15.0}}
    return Prescription.model_validate(_given(plain))


def _given(table: Any) -> Any:
    if isinstance(table, dict):
        return {key: _given(value) for key, value in table.items() if value is not None}
    return [_given(entry) for entry in table] if isinstance(table, list | tuple) else table


def played(person: WeakPerson, order: Prescription, *, idle: bool = False, longest_s: float = 1500.0) -> Session:
    """A whole session; the person aims at the target that is asked for, or, `idle`, only calibrates and then does
    nothing."""
    plan = DayPlan(date(2026, 6, 1), tuple(planned(order, exercise) for exercise in order.exercises))
    plan = replace(plan, exercises=tuple(replace(one, most_attempts=40) for one in plan.exercises))
    chain = Chain(RATE_HZ, 1)
    session = Session(order, plan, chain.step_s, 1, minutes_left=60.0)
    session.begin()
    session.answer(0)
    session.look(Quality(0.0, ("good",), ((),), ()))
    session.look(Quality(0.0, ("good",), ((),), ()))
    while not session.finished and person.time_s < longest_s:
        view = session.view
        if session.stage == "rating":
            session.answer(0)
            continue
        asked = view.rep.target if view.rep and view.rep.phase in ("ready", "effort") and not idle else 0.0
        calibrating = view.calibration is not None and view.calibration.phase == "trial"
        person.want(1.0 if calibrating else asked)
        at_s = person.time_s
        for tick in ticks_of(chain.process(Block(person.piece(), at_s))):
            for happening in session.step(tick):
                keep(session, happening)
                if isinstance(happening.what, ReferenceFound):
                    chain.refer_to(happening.what.reference)
    return session


KEPT: WeakKeyDictionary[Session, list[Any]] = WeakKeyDictionary()


def keep(session: Session, happening: Happening) -> None:
    """Whatever goes into the journal."""
    if happening.record is not None:
        KEPT.setdefault(session, []).append(happening.record)


def kept(session: Session, kind: type) -> list[Any]:
    return [record for record in KEPT.get(session, []) if isinstance(record, kind)]


def counted(session: Session) -> int:
    return sum(record.verdict == "counted" for record in kept(session, RepRecord))


def table(runs: int) -> None:
    print("Share of calibrations that find a reference; its median error; 95 % interval that holds the truth; seconds")
    for wander in WANDERS:
        for ratio in RATIOS:
            done, errors, held, took, said, faults = 0, [], 0, [], [], {}
            for seed in range(runs):
                person = WeakPerson(ratio, wander, 1000 * seed + round(100 * ratio + wander * 10_000))
                run, said_s = calibrated(person, CalibrationSettings())
                took.append(person.time_s)
                said.append(said_s if said_s is not None else math.nan)
                if run.result is None:
                    faults[run.note] = faults.get(run.note, 0) + 1
                    continue
                result = run.result
                done += 1
                truth = ratio * result.rest_uv
                errors.append(result.mvc_uv / truth - 1.0)
                held += result.low_uv <= truth <= result.high_uv
            error = f"{100 * np.median(errors):+5.0f} %" if errors else "      "
            print(
                f"  wander {wander:4.2f} x{ratio:3.1f}: {done:2d} of {runs} {error} held {held:2d}, "
                f"{np.median(took):4.0f} s, "
                f"reason first said after {np.nanmax(said) if np.isfinite(said).any() else math.nan:3.0f} s "
                f"at the latest {faults or ''}"
            )
    print("By the power calculation, ratios found four times in five, in 3 and 8 trials:")
    for scatter in (0.04, 0.10, 0.15, 0.20):
        print(f"  scatter {scatter:4.2f}: {smallest_ratio(scatter, 3):4.2f}, {smallest_ratio(scatter, 8):4.2f}")


def sessions(runs: int) -> None:
    print("Whole sessions, 8 holds of 3 s at 60 +/- 25 % ordered: counted, attempts; counted of people who do nothing")
    for wander in WANDERS[:3]:
        for ratio in (1.3, 1.5, 2.0, 3.0):
            made, tried, false = 0, 0, 0
            for seed in range(runs):
                session = played(WeakPerson(ratio, wander, 7 + seed), order_of())
                made, tried = made + counted(session), tried + len(kept(session, RepRecord))
                idle = played(WeakPerson(ratio, wander, 107 + seed), order_of(), idle=True)
                false += counted(idle)
            print(f"  wander {wander:4.2f} x{ratio:3.1f}: {made} of {8 * runs} in {tried} attempts; at rest {false}")


if __name__ == "__main__":
    table(int(sys.argv[1]) if len(sys.argv) > 1 else 6)
    sessions(int(sys.argv[1]) if len(sys.argv) > 1 else 6)
