"""Ceilings, rests and pain stops against real time: every trick with the clock and the journal that we know of.

The home here is the real journal on an invented machine: real time passes in seconds, and the clock shows what somebody
makes it show. Whoever sets the clock before each start of the machine is believed; that is said in DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.journal.history import read_history
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RatingRecord, RepRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan import dose, trusted_time
from musclewood.profiles.plan.dose import DayPlan, plan_today

HOUR, DAY = 3600.0, 86400.0
MONDAY = datetime(2026, 11, 30, 8, tzinfo=UTC)
# Refused because the date cannot be right, whichever rule says so first.
NO_DATE = ("later", "clock-behind")


class Machine:
    """Real time, and what the clock and the machine say about it."""

    def __init__(self, wall: datetime = MONDAY) -> None:
        self.real_s, self.start, self.offset = 0.0, wall, timedelta()
        self.boots, self.booted_at = 1, -600.0

    def wall(self) -> datetime:
        return self.start + timedelta(seconds=self.real_s) + self.offset

    def running(self) -> tuple[str, float | None]:
        return f"boot-{self.boots}", self.real_s - self.booted_at

    def wait(self, seconds: float) -> None:
        self.real_s += seconds

    def set_clock(self, by: timedelta) -> None:
        self.offset += by

    def restart(self, off_s: float = 60.0) -> None:
        self.real_s += off_s
        self.boots, self.booted_at = self.boots + 1, self.real_s


class HomeOf:
    """A patient's journal on a machine, opened anew for every act as the program does."""

    def __init__(self, folder: Path, order: Prescription, machine: Machine | None = None) -> None:
        self.path, self.order, self.machine = folder / "HB-0042.sqlite", order, machine or Machine()
        self.attempts: list[tuple[float, int]] = []  # when, in real seconds

    @contextmanager
    def journal(self) -> Iterator[Journal]:
        clock, machine = self.machine.wall, self.machine.running
        with Journal.open(self.path, clock=clock, machine=machine, revision=self.order.revision) as journal:
            yield journal

    def plan(self) -> DayPlan:
        with self.journal() as journal:
            return plan_today(self.order, read_history(journal), now=self.machine.wall())

    def play(
        self,
        *,
        share: float = 1.0,
        pain: int = 0,
        ending: Any = "complete",
        lasts_s: float = 600.0,
        meanwhile: Callable[[], None] = lambda: None,
        source: Any = "ble",
    ) -> DayPlan:
        """One session as planned now, or that share of its reps; nothing where nothing is planned."""
        plan = self.plan()
        if not plan.exercises and source == "ble":
            return plan
        with self.journal() as journal:
            start = SessionStart("HB-0042", self.order.revision, source, self.machine.wall().isoformat(), "UTC")
            session, done = journal.begin_session(start), 0
            for planned in plan.exercises:
                for number in range(round(share * planned.sets * planned.reps)):
                    journal.add(session, self._rep(planned.exercise_id, number))
                    done += 1
            self.attempts.append((self.machine.real_s, done))
            journal.add(session, RatingRecord(1.0, "pain", pain, "before"))
            self.machine.wait(lasts_s)
            if lasts_s:
                journal.beat(session)
            meanwhile()
            if ending != "killed":
                journal.end_session(session, SessionEnd(self.machine.wall().isoformat(), ending))
        return plan

    def _rep(self, exercise_id: str, number: int) -> RepRecord:
        return RepRecord(
            exercise_id, "hold", "kiln", 1, number + 1, "counted", 1, 2, 1, 1, 30, 30, 1, 1, 35.0, 8.0
        )  # fmt: skip

    def done_within(self, seconds: float) -> int:
        return sum(count for at, count in self.attempts if self.machine.real_s - at < seconds)


@pytest.fixture
def order() -> Prescription:
    """44 reps a session, one a day, every day; at most 90 attempts and 25 minutes a day."""
    knee = template("weak-thigh-after-knee-operation")
    ceilings = knee.ceilings.model_copy(
        update={"reps_per_day": 90, "minutes_per_day": 25.0, "sessions_per_week": 14, "reps_per_week": 900}
    )
    return knee.model_copy(update={"days": DAYS, "ceilings": ceilings, "timezone": "UTC"})


@pytest.fixture
def home(tmp_path: Path, order: Prescription) -> HomeOf:
    return HomeOf(tmp_path, order)


def twice_a_day(order: Prescription, hours: float = 4.0) -> Prescription:
    return order.model_copy(update={"sessions_per_day": 2, "hours_between_sessions": hours})


# --- tricks


def day_by_day(home: HomeOf) -> None:
    for _ in range(11):
        home.play()
        home.machine.set_clock(timedelta(days=1))


def back_in_48_hours(home: HomeOf) -> None:
    for _ in range(6):
        home.play()
        home.machine.set_clock(timedelta(hours=-48))


def midnight_between(home: HomeOf) -> None:
    """Every four hours the clock is set so that midnight has just passed."""
    for _ in range(3):
        home.play()
        home.machine.wait(4 * HOUR)
        wall = home.machine.wall()
        home.machine.set_clock(wall.replace(hour=0, minute=1) - wall)


def practice_under_another_date(home: HomeOf) -> None:
    """Practice writes a stamp of a far day into the journal, between two sessions."""
    for _ in range(4):
        home.play()
        home.machine.set_clock(timedelta(days=3))
        home.play(source="keyboard", share=0)
        home.machine.set_clock(timedelta(days=-2))


def clock_pulled_while_off(home: HomeOf) -> None:
    """The battery is pulled: every start of the machine shows the year 2020, then a day just after the order began."""
    for _ in range(4):
        home.play()
        home.machine.restart()
        home.machine.offset = MONDAY - timedelta(days=2) - home.machine.start - timedelta(seconds=home.machine.real_s)


def stopped_after_a_few(home: HomeOf) -> None:
    for _ in range(30):
        home.play(share=0.5, ending="stopped")
        home.machine.wait(600)


def killed_over_and_over(home: HomeOf) -> None:
    for _ in range(30):
        home.play(share=0.5, ending="killed", lasts_s=60)
        home.machine.wait(70)


def journal_destroyed(home: HomeOf) -> None:
    for _ in range(4):
        home.play()
        home.path.write_bytes(b"coffee" * 300)


TRICKS = [
    day_by_day, back_in_48_hours, midnight_between, practice_under_another_date, clock_pulled_while_off,
    stopped_after_a_few, killed_over_and_over, journal_destroyed,
]  # fmt: skip


@pytest.mark.parametrize("trick", TRICKS, ids=lambda trick: trick.__name__)
def test_no_trick_gives_more_than_the_ceiling_in_a_real_day(home: HomeOf, trick: Callable[[HomeOf], None]) -> None:
    trick(home)
    most, since = 0, [at for at, _ in home.attempts]
    for at in since:
        most = max(most, sum(count for when, count in home.attempts if at <= when < at + 20 * HOUR))
    assert 0 < most <= 44  # the ordered dose of one day, well below the ceiling
    refused = home.plan()
    assert not refused.exercises and refused.reasons


def test_a_clock_37_hours_ahead_lifts_no_pain_stop(home: HomeOf) -> None:
    home.play(pain=6, ending="pain")
    home.machine.set_clock(timedelta(hours=37))
    assert home.plan().reasons[0] == "pain"
    home.machine.wait(DAY)
    assert home.plan().exercises


def test_sessions_killed_in_calibration_count_their_minutes(home: HomeOf) -> None:
    minutes = 0
    while home.plan().exercises:
        home.play(share=0, ending="killed", lasts_s=240)
        minutes += 4
        assert minutes < 60
    assert minutes in (24, 28) and home.plan().reasons[0] == "minutes"


def test_killed_before_the_first_sign_of_life_counts_too(home: HomeOf) -> None:
    few = home.order.ceilings.model_copy(update={"minutes_per_day": 5.0})
    home.order = home.order.model_copy(update={"ceilings": few})
    for _ in range(21):
        home.play(share=0, ending="killed", lasts_s=0)
    assert home.plan().reasons[0] == "minutes"


def test_a_clock_set_back_within_a_session_saves_no_minutes(home: HomeOf) -> None:
    home.play(share=0, lasts_s=1500, meanwhile=lambda: home.machine.set_clock(timedelta(minutes=-20)))
    assert home.plan().reasons[0] == "minutes"


def test_a_session_that_broke_off_is_taken_up_after_the_rest_between_sets(home: HomeOf) -> None:
    home.play(share=0.5, ending="killed", lasts_s=60)
    waiting = home.plan()
    assert waiting.reasons[0] == "still" and waiting.not_before is not None
    home.machine.set_clock(timedelta(hours=2))  # does not shorten it
    assert home.plan().reasons[0] == "still"
    home.machine.wait(80)
    assert home.plan().reps == 22


def test_a_session_stopped_early_leaves_the_rest_of_the_dose_open_after_the_ordered_hours(home: HomeOf) -> None:
    home.order = home.order.model_copy(update={"hours_between_sessions": 3.0})
    home.play(share=0.5, ending="stopped")
    assert home.plan().reasons[0] == "soon"
    home.machine.wait(3 * HOUR)
    assert home.plan().reps == 22
    home.play()
    home.machine.wait(4 * HOUR)
    assert home.plan().reasons[0] == "done"


def test_stopped_before_the_first_rep_leaves_the_day_open(home: HomeOf) -> None:
    home.play(share=0, ending="stopped", lasts_s=60)
    assert home.plan().reps == 44


def test_killed_when_all_was_made_the_next_session_waits_its_hours(tmp_path: Path, order: Prescription) -> None:
    home = HomeOf(tmp_path, twice_a_day(order))
    home.play(ending="killed")
    home.machine.wait(HOUR)
    assert home.plan().reasons[0] == "soon"
    home.machine.wait(3 * HOUR + 60)
    assert home.plan().reps == 44


def test_a_clock_set_forward_turns_no_rest_day_into_another(home: HomeOf) -> None:
    home.order = home.order.model_copy(update={"days": ("mon", "wed")})
    home.play()
    home.machine.wait(DAY)
    home.machine.set_clock(timedelta(days=1))
    assert home.plan().reasons[0] == "clock-moved"
    home.machine.wait(DAY)
    home.machine.set_clock(timedelta(days=-1))
    assert home.plan().reps == 44


def test_a_journal_set_aside_counts_today_as_done_until_the_therapist_says_otherwise(home: HomeOf) -> None:
    home.play()
    home.path.write_bytes(b"coffee" * 300)
    assert home.plan().reasons[0] == "set-aside"
    home.machine.set_clock(timedelta(days=1))
    assert home.plan().reasons[0] == "set-aside"  # the clock alone says nothing
    ordered_anew = home.order.model_copy(update={"revision": home.order.revision + 1})
    home.order, before = ordered_anew, home.order
    assert home.plan().reps == 44
    home.order = before
    home.machine.wait(DAY)
    assert home.plan().reps == 44


# --- what must still work


def played_days(home: HomeOf, days: int, between: Callable[[], None]) -> int:
    """On how many of these days the whole dose was given."""
    given = 0
    for _ in range(days):
        given += home.play().reps == 44
        between()
    return given


def test_a_machine_that_is_shut_down_every_day(home: HomeOf) -> None:
    assert played_days(home, 7, lambda: home.machine.restart(DAY - 600)) == 7


def test_a_machine_that_is_never_shut_down(home: HomeOf) -> None:
    assert played_days(home, 7, lambda: home.machine.wait(DAY - 600)) == 7


@pytest.mark.parametrize("restarted", [True, False])
def test_a_traveller_through_three_time_zones(home: HomeOf, restarted: bool) -> None:
    """Who sets the clock itself at every border, by six hours west, three west and nine east,
    and plays each morning."""
    hops = iter([timedelta(hours=-6), timedelta(hours=-3), timedelta(hours=9)] * 2)

    def fly() -> None:
        hop = next(hops)
        (home.machine.restart if restarted else home.machine.wait)(DAY - 600 - hop.total_seconds())
        home.machine.set_clock(hop)

    assert played_days(home, 6, fly) == 6


def test_daylight_saving_in_the_patients_zone(tmp_path: Path, order: Prescription) -> None:
    """Over 25 October 2026, when clocks in Prague go back (Directive 2000/84/EC), also on a clock that keeps local
    time."""
    at_home = order.model_copy(update={"timezone": "Europe/Prague", "issued": datetime(2026, 10, 1).date()})
    home = HomeOf(tmp_path, at_home, Machine(datetime(2026, 10, 23, 15, tzinfo=UTC)))
    days = iter(range(5))

    def night() -> None:
        home.machine.wait(DAY - 600)
        if next(days) == 1:
            home.machine.set_clock(timedelta(hours=-1))

    assert played_days(home, 5, night) == 5


@pytest.mark.parametrize("shows", [datetime(1970, 1, 1, tzinfo=UTC), datetime(2020, 1, 1, tzinfo=UTC)])
def test_a_flat_clock_battery(home: HomeOf, shows: datetime) -> None:
    """Nothing but a sentence while the clock is wrong; the dose as soon as it is right, every day again."""
    for _ in range(4):
        assert home.play().reps == 44
        home.machine.restart(DAY - 1200)
        right = home.machine.offset
        home.machine.offset += shows - home.machine.wall()
        assert home.plan().exercises == () and home.plan().reasons[0] in NO_DATE
        home.machine.wait(600)
        home.machine.offset = right


def test_a_flat_battery_when_nothing_was_done_yet(home: HomeOf) -> None:
    home.machine.offset = datetime(2020, 1, 1, tzinfo=UTC) - home.machine.start
    assert home.plan().reasons[0] in NO_DATE
    home.machine.offset = timedelta()
    assert played_days(home, 3, lambda: home.machine.wait(DAY - 600)) == 3


def test_a_clock_that_was_years_ahead_costs_one_day(home: HomeOf) -> None:
    home.machine.set_clock(timedelta(days=5 * 365))
    home.order = home.order.model_copy(update={"expires": None})
    home.play()
    home.machine.restart()
    home.machine.offset = timedelta()
    assert home.plan().reasons[0] == "clock-behind"
    home.machine.wait(DAY)
    assert home.plan().reps == 44


# --- planted


def test_planted_a_clock_that_is_believed_is_seen(home: HomeOf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dose, "as_lived", lambda history, now: trusted_time.Lived(history, now))
    day_by_day(home)
    assert home.done_within(DAY) > 90
