"""The program's pages on a fake sensor over the real Bluetooth library: whoever squeezes on has answered nothing.

The clicks are those of a patient who stops and says that it hurts while the muscle goes on working; afterwards the
journal is read.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import bluez_bed
import pygame
import pytest
from bluez_bed import BluezBed
from fake_sensor import FakeSensor, Squeeze, wearer_of
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.settings import Settings, save
from musclewood.games.running.sources_by_name import Supply, source_by_name
from musclewood.games.screens.app import App
from musclewood.games.screens.base.day import Day, day_of
from musclewood.games.screens.base.page import Page
from musclewood.games.screens.session.overlays import OverPage
from musclewood.games.screens.session.questions import HurtsPage, ScalePage
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import InterruptionRecord, RatingRecord, RepRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.sensors.catalogue import known_sensors
from own_process import Run

pytestmark = pytest.mark.skipif(bool(bluez_bed.missing()), reason=bluez_bed.missing() or "usable")

SENSOR = "one-channel-envelope"
FRAME_S = 0.04
SQUEEZES = [Squeeze(0.7, 0.7, 0.4), Squeeze(0.7, 0.7, 1.5)] * 60  # on and on: a short one, a long one
WATCHED_S, FULL_WATCHED_S = 3.5, 30.0
READ_TOO_S = 6.5  # longer at the first question, so that a muscle that chose would have been let to


class Seat:
    """Somebody in front of the window, in real time."""

    def __init__(self, order: Prescription, journal: Journal, folder: Path) -> None:
        days: list[Day] = []
        supply = {"ble": lambda: Supply(source_by_name(f"ble:{SENSOR}", channels=1, seed=0).source)}

        def first(app: App) -> TodayPage:
            days.append(day_of(order, journal, supply, clock=lambda: datetime.now(UTC), keep=app.keep))
            return TodayPage(app.around, days[0])

        self.app = App(first, folder / "settings.toml", size=(320, 180))
        self.page = SessionPage(self.app.around, days[0], days[0].begin("ble"))
        self.app.stack.append(self.page)
        self.seen_contracting = 0

    def wait(self, seconds: float, until: Callable[[], bool] = lambda: False) -> None:
        end_s, last_s = time.monotonic() + seconds, time.monotonic()
        before = False
        while time.monotonic() < end_s and not until():
            self.app.draw()
            time.sleep(FRAME_S)
            now_s = time.monotonic()
            self.app.step([], now_s - last_s)
            last_s = now_s
            self.seen_contracting += self.page.play.contracting and not before
            before = self.page.play.contracting

    def press(self, key: str) -> None:
        self.wait(0.7)
        box = next(widget.box for widget in self.page.choices() if widget.key == key)
        at = (box.centre[0] * self.app.canvas.scale, box.centre[1] * self.app.canvas.scale)
        self.app.step([pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=at)], 0.0)

    def nothing_happens(self, seconds: float) -> Page:
        """Contractions come, and neither the page nor what is looked at moves."""
        self.wait(0.1)
        page, focus, before = self.page.top, self.page.top.focus, self.seen_contracting
        self.wait(seconds)
        self.wait(10.0, until=lambda: self.seen_contracting >= before + 2)
        assert self.seen_contracting >= before + 2, "the sensor's contractions did not arrive"
        assert self.page.top is page and page.focus == focus
        return page


def test_squeezing_on_answers_nothing_and_the_journal_says_so(
    order: Callable[..., Prescription], tmp_path: Path, full: bool, whole: Run
) -> None:
    """With 'Choose by muscle' off, as it is at first. The session of `test_a_whole_session` plays meanwhile."""
    watched_s = FULL_WATCHED_S if full else WATCHED_S
    description = known_sensors().sensor(SENSOR)
    assert description is not None
    sensor = FakeSensor(description, wearer_of(description, SQUEEZES))
    with BluezBed(sensor), Journal.open(tmp_path / "journal.sqlite") as journal:
        seat = Seat(order(), journal, tmp_path)
        seat.wait(20.0, until=lambda: seat.page.play.amplitude_uv > 0.0)
        assert isinstance(seat.nothing_happens(watched_s + READ_TOO_S), ScalePage)
        assert journal.records(1, RatingRecord) == []
        seat.press("1")
        seat.wait(20.0, until=lambda: seat.page.play.view.stage == "calibration")
        seat.app.answer(Intent(Act.STOP))
        assert isinstance(seat.nothing_happens(watched_s), OverPage)
        assert seat.page.play.view.paused == "patient"
        seat.press("hurts")
        assert isinstance(seat.nothing_happens(watched_s), HurtsPage)
        assert [rating.value for rating in journal.records(1, RatingRecord)] == [1]
        seat.press("3")
        seat.wait(0.5)
        assert [rating.value for rating in journal.records(1, RatingRecord)] == [1, 3]
        assert isinstance(seat.nothing_happens(watched_s / 2), OverPage)
        seat.press("end")
        seat.wait(0.2)
        seat.app.close()
        (session,) = journal.sessions()
        assert session.end is not None and session.end.ending == "stopped"
        told = [(rating.moment, rating.value) for rating in journal.records(1, RatingRecord)]
        assert told == [("before", 1), ("during", 3)]
        pauses = journal.records(1, InterruptionRecord)
        assert {pause.reason for pause in pauses} <= {"patient", "pain"}
        assert sum(pause.duration_s for pause in pauses) > 2 * watched_s
        assert journal.verify() == []


@pytest.mark.full_size
def test_with_the_muscle_choosing_a_stop_stays_a_stop_too(
    order: Callable[..., Prescription], tmp_path: Path, full: bool
) -> None:
    """The muscle may end for today, but it goes on with nothing; a pain answer is read back before it counts."""
    if not full:
        pytest.skip("takes a minute; thousands of sequences do the same without a sensor")
    description = known_sensors().sensor(SENSOR)
    assert description is not None
    save(Settings(muscle_leads=True), tmp_path / "settings.toml")
    sensor = FakeSensor(description, wearer_of(description, SQUEEZES))
    with BluezBed(sensor), Journal.open(tmp_path / "journal.sqlite") as journal:
        seat = Seat(order(), journal, tmp_path)
        seat.wait(60.0, until=lambda: isinstance(seat.page.top, ScalePage) and seat.page.top.pending is not None)
        assert journal.records(1, RatingRecord) == [], "an answer counted before it was read back"
        seat.app.answer(Intent(Act.STOP))
        stop = seat.page.top
        assert isinstance(stop, OverPage)
        for _ in range(20):
            seat.wait(1.0)
            # It may say that it hurts or end the day, as anybody who stopped may; going on is left to a hand.
            assert seat.page.play.session.finished or seat.page.over is not None
            assert stop.focus != "go-on"
        seat.app.close()
        (session,) = journal.sessions()
        assert session.end is None or session.end.ending != "complete"
        assert journal.records(1, RepRecord) == [] and journal.verify() == []
