"""A whole session on screen, on a sensor that exists only in virtual time: the program's own
link, session and pages."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pygame
from fake_sensor import FakeSensor
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.words import Words
from musclewood.games.running.offscreen import Unattended
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.screens.base.day import Day, day_of
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.session.session import SessionPage
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import InterruptionRecord, RepRecord, SessionEnd
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.sensors.link import LinkSettings
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.stream.blocks import Block
from virtual_radio import Air
from virtual_time import run_virtually

FRAME_S = 1.0 / 60.0
BEGAN = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
Event = tuple[float, Callable[[], object]]


class VirtualBle(BleSource):
    """The program's source, but in the loop that runs already instead of in a thread of its own."""

    wait = None  # type: ignore[assignment]  # nothing arrives behind the back of a loop that has its own time

    def start(self) -> None:
        self._task = asyncio.get_running_loop().create_task(self._link.run())

    def stop(self) -> None:
        if self._task is not None:
            self._task.cancel()


@dataclass
class Watched:
    """What somebody in front of the screen saw. Times are those of the loop, in seconds.

    read: every change of the words on the screen, from the check of the signal on.
    arrived: beginning and end, in the sensor's time, of every stretch of samples that came.
    """

    read: list[tuple[float, tuple[str, ...]]] = field(default_factory=list)
    paused: list[tuple[float, str | None]] = field(default_factory=list)
    made: list[float] = field(default_factory=list)
    arrived: list[tuple[float, float]] = field(default_factory=list)
    stages: list[tuple[float, str]] = field(default_factory=list)
    reps: list[RepRecord] = field(default_factory=list)
    interruptions: list[InterruptionRecord] = field(default_factory=list)
    end: SessionEnd | None = None
    battery_pct: int | None = None

    @property
    def verdicts(self) -> list[str]:
        return [rep.verdict for rep in self.reps]

    def told(self, sentence: str) -> bool:
        """Whether this stood on the screen at any time."""
        return any(sentence in words for _, words in self.read)

    def said(self, key: str) -> bool:
        """The same for the English sentence under a key."""
        return self.told(Words("en")(key))

    def goes_on_after(self, time_s: float) -> float:
        """When the session first stood no longer still after this moment."""
        return next(at_s for at_s, reason in self.paused if at_s > time_s and reason is None)


def play_through(
    prescription: Prescription,
    air: Air,
    folder: Path,
    *events: Event,
    language: str = "en",
    limit_s: float = 120.0,
    frame_s: float = FRAME_S,
    settings: LinkSettings | None = None,
) -> Watched:
    """Play one session to its end, with somebody who answers every question at once; each event happens at its time."""
    pygame.font.init()
    seen = Watched()

    async def main() -> None:
        loop = asyncio.get_running_loop()
        source = _Noted(air.sensors[0], air, seen, settings)
        with Journal.open(folder / "journal.sqlite") as journal:
            day = day_of(
                prescription, journal, {"ble": lambda: Supply(source)},
                clock=lambda: BEGAN + timedelta(seconds=loop.time()), keep=lambda settings: None,
            )  # fmt: skip
            for at_s, event in events:
                loop.call_at(at_s, event)
            page, play = _begin(day, language)
            while not play.session.finished and loop.time() < limit_s:
                await asyncio.sleep(frame_s)
                _answer(play)
                made = play.view.rep.made if play.view.rep else 0
                page.update(frame_s)
                if play.view.rep and play.view.rep.made > made:
                    seen.made.append(loop.time())
                _look(page, play, seen, loop.time())
            play.close()
            await asyncio.sleep(3.0)  # the sensor is let go
            _read_back(journal, seen)
            seen.battery_pct = source.status.battery_pct

    run_virtually(main())
    return seen


class _Noted(VirtualBle):
    def __init__(self, sensor: FakeSensor, air: Air, seen: Watched, settings: LinkSettings | None) -> None:
        super().__init__(sensor.description, radio=air.radio(), settings=settings)
        self._seen = seen

    def poll(self, elapsed_s: float) -> list[Block]:
        blocks = super().poll(elapsed_s)
        self._seen.arrived += [(b.start_s, b.start_s + len(b.samples_uv) / self.rate_hz) for b in blocks]
        return blocks


def _begin(day: Day, language: str) -> tuple[SessionPage, Play]:
    around = Surroundings(Theme(Settings(language=language)), Backdrops((320, 180), at_once=True))
    play = day.begin("ble")
    return SessionPage(around, day, play), play


def _answer(play: Play) -> None:
    if (answer := Unattended().answer(play.session)) is not None:
        play.answer(answer)


def _look(page: SessionPage, play: Play, seen: Watched, now_s: float) -> None:
    words = words_of(page.top) if page.over or play.view.stage in ("signal", "exercise") else ()
    if words != (seen.read[-1][1] if seen.read else ()):
        seen.read.append((now_s, words))
    if play.view.paused != (seen.paused[-1][1] if seen.paused else None):
        seen.paused.append((now_s, play.view.paused))
    if not seen.stages or seen.stages[-1][1] != play.view.stage:
        seen.stages.append((now_s, play.view.stage))


def words_of(page: Page) -> tuple[str, ...]:
    """Every slip of a page, each as one line."""
    canvas = Canvas(pygame.Surface((320, 180)))
    return tuple(" ".join(widget.lines) for widget in page.lay_out(canvas) if widget.lines)


def _read_back(journal: Journal, seen: Watched) -> None:
    """Only the journal tells what was kept."""
    (session,) = journal.sessions()
    seen.reps = journal.records(session.session_id, RepRecord)
    seen.interruptions = journal.records(session.session_id, InterruptionRecord)
    seen.end = session.end
    assert journal.verify() == []


def arrived_share(seen: Watched, times_s: Sequence[tuple[float, float]]) -> list[float]:
    """Of each stretch of the sensor's time, the share of samples that came."""
    return [
        sum(max(0.0, min(end, to_s) - max(start, from_s)) for start, end in seen.arrived) / (to_s - from_s)
        for from_s, to_s in times_s
    ]
