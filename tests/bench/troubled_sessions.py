"""Whole sessions of weak, slow and noisy muscles on poor sensors: calibration, then eight holds; lost and false ones.

    python -m tests.bench.troubled_sessions [--seeds N ...] [--part I/OF]

Where `signal_weak sessions` asks the detection alone, nobody having told it anything, this asks the whole program: raw
samples through the chain, the calibration and the session's engine, which reads by its level what is too faint to be
detected. The person wants 60 +/- 25 % of their greatest effort, starts 0.3 s late, rises slowly, and leaves out every
fourth effort that is asked for: where that counts, it is false. A session whose calibration ends with a reason, or in
which rest would hide the effort that is asked for, counts for neither and is named with the reason.
"""

from __future__ import annotations

import argparse
import time
from collections import deque
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import ReferenceFound
from musclewood.games.running.acquisition import ticks_of
from musclewood.profiles.journal.records import CalibrationRecord, RepRecord
from musclewood.profiles.plan.dose import DayPlan, planned
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.quality.quality import Quality
from musclewood.signal.simulation.disturbances import hum, qrs
from musclewood.signal.simulation.synthesis import EmgCarrier
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.chain import Chain
from scipy.signal import butter, sosfilt

from tests.bench.signal_weak import Session as Case
from tests.bench.signal_weak import cases
from tests.bench.weak_muscles import order_of

REST_UV, PIECE_S, LATE_S, FALL_S, LONGEST_S = 3.0, 0.1, 0.3, 0.4, 900.0
LEFT_OUT = 4  # every fourth effort
NUDGE, NUDGE_S, NUDGE_EVERY_S = 0.5, 1.5, 5.0  # of whoever is asked to tighten the muscle once


@dataclass
class Person:
    """Samples of one session, a piece at a time; `want` is the share of the greatest effort."""

    case: Case
    seed: int
    time_s: float = 0.0
    effort: float = 0.0
    wants: deque[float] = field(default_factory=lambda: deque([0.0] * round(LATE_S / PIECE_S)))

    def __post_init__(self) -> None:
        self.made_hz = max(1000.0, self.case.rate_hz)
        self.carrier = EmgCarrier(self.made_hz, (self.seed, 1))
        self.random = np.random.default_rng((self.seed, 2))
        self.low = butter(4, 0.45 * self.case.rate_hz, fs=self.made_hz, output="sos")
        self.state = np.zeros((len(self.low), 2))
        self.knocks_s = np.cumsum(self.random.exponential(6.0, 400))

    def piece(self, want: float) -> Samples:
        """The next samples in µV, shape (n, 1)."""
        self.wants.append(want)
        wanted, before = self.wants.popleft(), self.effort
        most = PIECE_S * (max(want, 0.1) / self.case.rise_s if wanted > before else 1.0 / FALL_S)
        self.effort = before + float(np.clip(wanted - before, -most, most))
        count = round(PIECE_S * self.made_hz)
        at_s = self.time_s + np.arange(count) / self.made_hz
        size = np.linspace(before, self.effort, count, endpoint=False) * np.sqrt(self.case.over_rest**2 - 1.0)
        emg = REST_UV * (size * self.carrier.make(count) + self.random.standard_normal(count))
        if self.made_hz > self.case.rate_hz:
            emg, self.state = sosfilt(self.low, emg, zi=self.state)
            step = round(self.made_hz / self.case.rate_hz)
            emg, at_s = emg[::step], at_s[::step]
        self.time_s += PIECE_S
        emg = emg + self.trouble(at_s)
        step_uv = 3000.0 / 2**self.case.bits
        return (np.round(emg / step_uv) * step_uv)[:, np.newaxis]

    def trouble(self, at_s: Samples) -> Samples:
        match self.case.trouble:
            case "hum":
                return 10.0 * hum(at_s, 50.03) * (at_s % 24.0 < 14.0)
            case "heart":
                return 60.0 * qrs((at_s + 0.4) % 0.83 - 0.4)
            case "drift":
                return 1000.0 * np.sin(2.0 * np.pi * 0.15 * at_s)
            case "knocks":
                near = self.knocks_s[(self.knocks_s > at_s[0] - 0.3) & (self.knocks_s <= at_s[-1])]
                since_s = np.maximum(0.0, at_s - near[:, np.newaxis])
                swings = (since_s > 0.0) * np.exp(-since_s / 0.02) * np.cos(2 * np.pi * 15.0 * since_s)
                return 500.0 * swings.sum(axis=0)
        return np.zeros(len(at_s))


@dataclass(frozen=True)
class Outcome:
    """What became of a session."""

    made: int  # efforts made
    lost: int  # of them not counted
    false: int  # counted without an effort
    ending: str  # why there was no reference, if there was none
    verdicts: tuple[str, ...]
    references_uv: tuple[float, ...]


def played(case: Case, seed: int) -> Outcome:
    order = order_of(sets=1)
    exercise = order.exercises[0].model_copy(update={"reps": 8})
    one = replace(planned(order, exercise), most_attempts=14)
    chain, person = Chain(case.rate_hz, 1), Person(case, seed)
    session = Session(order, DayPlan(date(2026, 6, 1), (one,)), chain.step_s, 1, minutes_left=60.0)
    session.begin()
    session.answer(0)
    session.look(Quality(0.0, ("good",), ((),), ()))
    session.look(Quality(0.0, ("good",), ((),), ()))
    asked, doing, records, references, note = 0, False, [], [], ""
    while not session.finished and person.time_s < LONGEST_S:
        view = session.view
        if session.stage == "rating":
            session.answer(0)
            continue
        wanted = view.rep.target if view.rep and view.rep.phase in ("ready", "effort") else 0.0
        if wanted > 0.0 and not doing:
            asked += 1
        doing = wanted > 0.0
        if asked % LEFT_OUT == 0:
            wanted = 0.0
        if view.calibration is not None and view.calibration.phase == "trial":
            wanted = 1.0
        if view.calibration is not None and view.calibration.note:
            note = str(view.calibration.note)
        unread = view.calibration is not None and view.calibration.note == Remark.NOT_READABLE
        if (unread or view.paused == "sensor") and person.time_s % NUDGE_EVERY_S < NUDGE_S:
            wanted = NUDGE  # as the screen asks
        for tick in ticks_of(chain.process(Block(person.piece(wanted), person.time_s))):
            for happening in session.step(tick):
                if isinstance(happening.record, RepRecord):
                    records.append((asked % LEFT_OUT == 0, happening.record))
                if isinstance(happening.record, CalibrationRecord) and happening.record.reference_uv:
                    references.append(happening.record.reference_uv)
                if isinstance(happening.what, ReferenceFound):
                    chain.refer_to(happening.what.reference)
    made = [record for idle, record in records if not idle]
    note = (session.view.outcome.told if session.view.outcome else None) or note
    return Outcome(
        len(made),
        sum(record.verdict != "counted" for record in made),
        sum(record.verdict == "counted" for idle, record in records if idle),
        "" if records else f"{session.view.ending or 'no effort in time'} {note}",
        tuple(("-" if idle else "") + record.verdict for idle, record in records),
        tuple(references),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", nargs="*", type=int, default=[171, 172])
    parser.add_argument("--part", default="0/1", help="only each n-th session of each seed, as 0/4")
    options = parser.parse_args()
    part, parts = (int(each) for each in options.part.split("/"))
    for seed in options.seeds:
        made = cases(seed)
        order = sorted(range(len(made)), key=lambda at: -made[at].hardness)
        worst, sums, began_s = (
            set(order[: len(made) // 10]),
            {True: [0, 0, 0, 0], False: [0, 0, 0, 0]},
            time.process_time(),
        )
        for at in order[part::parts]:
            one, case = played(made[at], 1000 * seed + at), made[at]
            for place, amount in enumerate((one.lost, one.false, one.made, bool(one.ending))):
                sums[at in worst][place] += amount
            if one.lost or one.false or one.ending or at in worst:
                top = REST_UV * case.over_rest
                print(
                    f"  {'worst' if at in worst else '     '} {seed}/{at:2} x {case.over_rest:4.1f} rise "
                    f"{case.rise_s:.1f} s"
                    f" {case.bits:2} bit {case.rate_hz:4.0f} Hz {case.trouble:7} lost {one.lost} false {one.false}"
                    f" of {one.made} {one.ending} {one.verdicts} maximum"
                    f" {', '.join(f'{uv / top - 1.0:+.0%}' for uv in one.references_uv)}",
                    flush=True,
                )
        for name, key in (("worst tenth", True), ("all others", False)):
            lost, false, count, ended = sums[key]
            share = (lost + false) / max(1, count)
            print(
                f"seed {seed}, {name}: lost {lost} and false {false} of {count}: {share:.1%}; without reference {ended}"
            )
        print(f"  processor {time.process_time() - began_s:.0f} s", flush=True)


if __name__ == "__main__":
    main()
