"""Three attempts of two muscles at known levels, from the tick to the report: every figure is the one that was fed.

Levels and ticks are binary fractions and an eighth of a second; each figure is reckoned here a second way, from the
list of levels alone. Steadiness is 1 less the coefficient of variation, co-contraction twice the common area over the
sum of both (Falconer & Winter 1985, Electromyogr Clin Neurophysiol 25:135).
"""

from __future__ import annotations

import csv
import html
import io
import re
import statistics
import zipfile
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from musclewood.games.engine.rep_events import RepMade, RepMissed
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import Happening, Tick
from musclewood.games.running.recorder import Recorder
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import DayPlan, planned
from musclewood.profiles.report.page import render_report
from musclewood.signal.quality.quality import Quality

STEP_S, MINUTES = 0.125, 9
NOON = datetime(2026, 11, 25, 11, 0, tzinfo=UTC)  # the day of issue, a Wednesday
LOW, HIGH, OPPOSITE = 0.375, 0.625, 0.25

Levels = list[tuple[float, float]]
GOOD: Levels = [(0.25, 0.0625), (0.5, 0.125), (0.5625, 0.1875), (0.4375, 0.125), (0.5, 0.25), (0.625, 0.125), (0.5,
    0.0),
                (0.375, 0.0625), (0.5, 0.125), (0.5625, 0.0), (0.5, 0.125)]  # fmt: skip
FEEBLE: Levels = [
    (0.1875, 0.0),
    (0.25, 0.0625),
    (0.3125, 0.125),
    (0.25, 0.0),
    (0.1875, 0.0625),
    (0.25, 0.0),
    (0.25, 0.0),
]
SHAKY: Levels = [(0.3125, 0.0), (0.625, 0.0625), (0.375, 0.0), (0.625, 0.1875), (0.4375, 0.0), (0.5625, 0.125),
    (0.375, 0.0625),
                 (0.625, 0.0), (0.5, 0.0), (0.5, 0.125), (0.5, 0.0)]  # fmt: skip


@dataclass
class Truth:
    """An attempt as it was fed."""

    verdict: str
    onset_s: float
    fed: Levels

    def __post_init__(self) -> None:
        firsts = [first for first, _ in self.fed]
        seen = [((a + b) / 2, (c + d) / 2) for (a, c), (b, d) in zip([(0.0, 0.0), *self.fed], self.fed, strict=False)]
        earning = [first for first, second in seen if LOW <= first <= HIGH and second <= OPPOSITE]
        peak, top = max(firsts), next(n for n, level in enumerate(firsts) if level >= 0.8 * max(firsts))
        assert firsts[0] > 0.2 * peak, "the quiet tick before it is the foot of the rise"
        self.figures = {
            "onset_s": self.onset_s,
            "offset_s": self.onset_s + STEP_S * len(self.fed),
            "held_s": STEP_S * len(self.fed),
            "in_band_s": STEP_S * len(earning),
            "mean_pct_mvc": 100 * statistics.fmean(firsts),
            "peak_pct_mvc": 100 * peak,
            "steadiness": 1 - statistics.pstdev(earning) / statistics.fmean(earning) if earning else 0.0,
            "rise_pct_mvc_per_s": 100 * firsts[top] / ((top + 1) * STEP_S),
            "opposite_mean_pct_mvc": 100 * statistics.fmean(second for _, second in self.fed),
            "target_pct_mvc": 50.0,
            "tolerance_pct_mvc": 12.5,
        }


@pytest.fixture(scope="module")
def order() -> Prescription:
    base = template("co-contracting-hamstring")
    alone = base.exercises[0]
    effort = alone.effort.model_copy(
        update={
            "target_pct_mvc": 50.0,
            "min_pct_mvc": 40.0,
            "max_pct_mvc": 60.0,
            "tolerance_pct_mvc": 12.5,
            "ceiling_pct_mvc": 75.0,
        }
    )
    dose = {"sets": 1, "reps": 2, "hold_s": 1.0, "rest_s": 1.0, "quiet_pct_mvc": 6.25, "opposite_ceiling_pct_mvc": 25.0}
    scaling = alone.scaling.model_copy(update={"tolerance_min_pct_mvc": None, "tolerance_max_pct_mvc": None})
    changes = {**dose, "effort": effort, "scaling": scaling, "workshops": alone.workshops[:1]}
    exercise = alone.model_copy(update=changes)
    return base.model_copy(update={"exercises": (exercise,), "days": ("wed",)})


class Evening:
    """A session fed by hand, written into a journal as it goes."""

    def __init__(self, order: Prescription, journal: Journal) -> None:
        plan = DayPlan(order.issued, (planned(order, order.exercises[0]),))
        plan = replace(plan, exercises=(replace(plan.exercises[0], most_attempts=9),))
        known = {channel: (3.0, 400.0) for channel in range(2)}
        self.session = Session(order, plan, STEP_S, 2, minutes_left=30.0, references=known)
        self.now = NOON
        self.recorder = Recorder(journal, order, "ble", lambda: self.now)
        self.recorder.begin()
        self.attempts: list[Truth] = []
        self.together: Levels = []
        self.judged: list[Any] = []
        self.take([*self.session.begin(), *self.session.answer(1)])
        for _ in range(4):
            self.take(self.session.look(Quality(0.0, ("good", "good"), ((), ()), ())))
        assert self.session.stage == "exercise"
        self.began_s = self.session.time_s

    def take(self, happened: list[Happening]) -> None:
        self.recorder.write(happened)
        self.judged += [one.what.rep for one in happened if isinstance(one.what, RepMade | RepMissed)]

    def tick(self, first: float = 0.0, second: float = 0.0) -> None:
        rep = self.session.view.rep
        if rep is not None and rep.phase == "effort":
            self.together.append((first, second))
        levels = (first, second)
        self.take(self.session.step(Tick(levels, levels, tuple(one > 0.1 for one in levels), (True, True))))

    def attempt(self, levels: Levels, verdict: str) -> None:
        while self.session.view.rep.phase != "ready":
            self.tick()
        self.tick()
        began_s, before = self.session.time_s, len(self.judged)
        fed: Levels = []
        for both in levels:
            self.tick(*both)
            fed.append(both)
            if len(self.judged) > before:
                break
        self.attempts.append(Truth(verdict, began_s, fed))
        while len(self.judged) == before:
            self.tick()

    def end(self) -> None:
        while self.session.stage == "exercise":
            self.tick()
        self.take(self.session.answer(2))
        self.now = NOON + timedelta(minutes=MINUTES)
        self.take(self.session.answer(6))


@pytest.fixture(scope="module")
def arrived(order: Prescription, tmp_path_factory: pytest.TempPathFactory) -> tuple[Evening, bytes]:
    folder = tmp_path_factory.mktemp("arrived")
    with Journal.open(folder / "journal.sqlite") as journal:
        evening = Evening(order, journal)
        evening.attempt(GOOD, "counted")
        evening.attempt(FEEBLE, "weak")
        evening.attempt(SHAKY, "counted")
        evening.end()
        assert evening.recorder.ended
        path = write_handover(journal, order, folder, now=NOON + timedelta(hours=1))
    return evening, path.read_bytes()


def rows(content: bytes, name: str) -> list[dict[str, str]]:
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        return list(csv.DictReader(io.StringIO(package.read(f"{name}.csv").decode(), newline="")))


def test_every_figure_of_a_rep_is_in_the_hand_over(arrived: tuple[Evening, bytes]) -> None:
    evening, content = arrived
    repetitions = rows(content, "repetitions")
    assert (
        [row["verdict"] for row in repetitions]
        == [one.verdict for one in evening.attempts]
        == ["counted", "weak", "counted"]
    )
    for number, (row, truth) in enumerate(zip(repetitions, evening.attempts, strict=True), 1):
        assert {key: float(row[key]) for key in truth.figures} == pytest.approx(truth.figures, abs=1e-9)
        assert (row["session"], row["set_number"], row["rep_number"]) == ("1", "1", str(number))
        assert (row["exercise_id"], row["kind"], row["workshop"]) == ("thigh-alone", "selective", row["workshop"])
        assert row["unseen"] == "false"
    efforts = [[float(one) for one in row["effort_profile"].split()] for row in rows(content, "efforts")]
    assert efforts == [[round(100 * first, 2) for first, _ in truth.fed] for truth in evening.attempts]


def test_every_figure_of_a_set_and_a_session_is_in_the_hand_over(
    arrived: tuple[Evening, bytes], order: Prescription
) -> None:
    evening, content = arrived
    (row,) = rows(content, "sets")
    figures = ("set_number", "reps_ordered", "reps_counted", "attempts")
    assert [row[key] for key in figures] == ["1", "2", "2", "3"] and row["cut_short"] == ""
    assert float(row["readable_share"]) == 1.0 and row["median_frequency_decline_pct"] == ""
    common = sum(min(both) for both in evening.together)
    assert float(row["cocontraction_pct"]) == pytest.approx(200 * common / sum(map(sum, evening.together)))
    assert float(row["start_s"]) == evening.began_s
    assert float(row["end_s"]) == evening.attempts[-1].figures["offset_s"] + 0.25
    (session,) = rows(content, "sessions")
    assert (session["patient"], session["revision"], session["source"]) == (order.patient, str(order.revision), "ble")
    assert datetime.fromisoformat(session["started_at"]) == NOON
    assert datetime.fromisoformat(session["ended_at"]) == NOON + timedelta(minutes=MINUTES)
    assert (session["ending"], session["practice"]) == ("complete", "false")
    ratings = [(row["what"], row["value"], row["moment"]) for row in rows(content, "ratings")]
    assert ratings == [("pain", "1", "before"), ("pain", "2", "after"), ("effort", "6", "after")]


def test_every_figure_is_in_the_report(arrived: tuple[Evening, bytes], order: Prescription) -> None:
    evening, content = arrived
    ledger = read_handover(content).ledger
    page = render_report(ledger, order, now=NOON + timedelta(hours=1))
    text = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
    good = [one.figures for one in evening.attempts if one.verdict == "counted"]
    steady = round(100 * statistics.fmean(one["steadiness"] for one in good))
    in_band_s = sum(one["in_band_s"] for one in good)
    common = 200 * sum(min(both) for both in evening.together) / sum(map(sum, evening.together))
    for sentence in (
        (
            "100 % of the order was done in the days since 25 November 2026: 2 of 2 ordered repetitions, on 1 "
            "of 1 planned days."
        ),
        "2 of 3 attempts counted, 67 % (aimed at: 80 %). Asked for lately: 50 %MVC, ordered 50 ± 12.5.",
        (
            f"2 of 3 attempts counted; {in_band_s / 60:.1f} minutes in the band. Steadiness {steady} %. Not "
            "counted: 1 weak."
        ),
        f"2 repetitions made 1 day of exercise {in_band_s:.0f} seconds well aimed",
        f"the muscles overlapped by {common:.0f} % of their activity lately.",
        "Pain was at most 2 of 10, on 25 November 2026.",
    ):
        assert sentence in text
