"""Ticks keep pace with time: silence becomes ticks that cannot be read, and is never counted twice."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from queue import Empty, SimpleQueue
from threading import Event, Semaphore

import musclewood.games.running.acquisition as acquisition_module
import numpy as np
import pytest
from musclewood.games.running.acquisition import SILENCE_S, Acquisition
from musclewood.games.running.listener import WAIT_S
from musclewood.games.running.sources_by_name import source_by_name
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord
from musclewood.signal.sources.block_queue import BlockQueue
from musclewood.signal.sources.replay import read_recording
from musclewood.signal.stream.blocks import Block

RATE_HZ = 1000.0


class Radio:
    """A sensor of one channel that is silent for as long as it is told to be."""

    kind = "ble"
    rate_hz = RATE_HZ
    labels = ("1",)
    envelope = False
    ended = False

    def __init__(self) -> None:
        self.silent = False
        self.tells_loss = True
        self._made = self._lost = 0
        self._noise = np.random.default_rng(1)

    def start(self) -> None: ...

    def stop(self) -> None: ...

    def poll(self, elapsed_s: float) -> list[Block]:
        count = round(elapsed_s * RATE_HZ)
        self._made += count
        if self.silent:
            self._lost += count
            return []
        lost, self._lost = (self._lost if self.tells_loss else 0), 0
        return [Block(self._noise.normal(0.0, 5.0, (count, 1)), (self._made - count) / RATE_HZ, lost)]


def hear(acquisition: Acquisition, for_s: float) -> list[bool]:
    """Whether each tick could be read."""
    heard: list[bool] = []
    for _ in range(round(for_s / 0.02)):
        heard += [tick.readable[0] for tick in acquisition.poll(0.02).ticks]
    return heard


@pytest.mark.parametrize(
    ("silence_s", "tells_loss"),
    [(0.2, True), (0.2, False), (1.0, True), (1.0, False), (7.0, True), (7.0, False)],
)
def test_ticks_keep_pace_with_time_through_silence(silence_s, tells_loss):
    radio = Radio()
    radio.tells_loss = tells_loss
    acquisition = Acquisition(radio)
    before = hear(acquisition, 3.0)
    radio.silent = True
    silent = hear(acquisition, silence_s)
    radio.silent = False
    after = hear(acquisition, 3.0)
    assert len(before) == pytest.approx(3.0 / acquisition.step_s, abs=2)
    assert not any(silent)
    missed = 0.0 if tells_loss or silence_s > 0.5 else silence_s
    whole_s = 6.0 + silence_s - missed
    assert len(before + silent + after) * acquisition.step_s == pytest.approx(whole_s, abs=0.55)
    assert sum(after) * acquisition.step_s > 2.0


def test_a_sensor_that_never_speaks_gives_ticks_that_cannot_be_read():
    radio = Radio()
    radio.silent = True
    heard = hear(Acquisition(radio), 5.0)
    assert len(heard) * 0.004 == pytest.approx(5.0, abs=0.55) and not any(heard)


class ByItself(Radio):
    """The same sensor, but what it sends arrives whether anybody asks or not; a wait ends when the test says so."""

    def __init__(self) -> None:
        super().__init__()
        self.queue = BlockQueue(longest=4000)
        self._asked, self._taken, self.over = Semaphore(0), Semaphore(0), Event()
        self._waits_to_end: SimpleQueue[None] = SimpleQueue()

    def wait(self, at_most_s: float) -> list[Block]:
        self._asked.release()
        while not self.over.is_set():
            with suppress(Empty):
                self._waits_to_end.get(timeout=at_most_s)
                blocks = self.queue.take()
                self._taken.release()
                return blocks
        return []

    def send(self, for_s: float) -> None:
        for block in Radio.poll(self, for_s):
            self.queue.put(block)

    def end_wait(self) -> None:
        """Let whoever waits have what was sent so far, which may be nothing."""
        assert self._asked.acquire(timeout=60.0)
        self._waits_to_end.put(None)
        assert self._taken.acquire(timeout=60.0)

    def deliver(self, for_s: float) -> None:
        self.until_asked()
        self.send(for_s)
        self.end_wait()

    def until_asked(self) -> None:
        """Returns when all that was given out has been worked on."""
        assert self._asked.acquire(timeout=60.0)
        self._asked.release()

    def poll(self, elapsed_s: float) -> list[Block]:
        raise AssertionError("what arrives by itself is waited for, not polled")


@pytest.fixture
def alone() -> Iterator[Acquisition]:
    """Of a sensor that sends by itself, in the middle of a wait."""
    acquisition = Acquisition(ByItself())
    acquisition.poll(0.0)
    yield acquisition
    acquisition.source.over.set()
    acquisition.close()


def test_samples_that_arrive_are_worked_on_while_the_game_stands_still(alone):
    same = Acquisition(Radio())
    for _ in range(100):
        alone.source.deliver(0.02)
    alone.source.until_asked()
    ticks, wanted = alone.poll(2.0).ticks, [tick for _ in range(100) for tick in same.poll(0.02).ticks]
    assert [(tick.amplitude_uv, tick.readable) for tick in ticks] == [
        (tick.amplitude_uv, tick.readable) for tick in wanted
    ]


def test_a_computer_that_stood_still_is_no_silence_of_the_sensor(alone):
    """All threads stop for two seconds; the game wakes first, and what the sensor sent meanwhile comes after it."""
    alone.source.deliver(0.5)
    alone.source.until_asked()
    ticks = list(alone.poll(0.5).ticks)
    assert alone.poll(2.0).ticks == ()
    alone.source.deliver(2.0)
    alone.source.until_asked()
    ticks += alone.poll(0.0).ticks
    readable = [tick.readable[0] for tick in ticks]
    assert len(ticks) == 625 and all(readable[20:])


@pytest.mark.parametrize(("waits_in_vain", "silent"), [(9, False), (10, True)])
def test_a_sensor_that_sends_nothing_for_half_a_second_is_silent(alone, waits_in_vain, silent):
    for _ in range(waits_in_vain):
        alone.source.end_wait()
    alone.source.until_asked()
    assert WAIT_S * 10 == SILENCE_S
    ticks = alone.poll(0.6).ticks
    assert [tick.readable[0] for tick in ticks] == ([False] * 150 if silent else [])


def test_a_fault_of_the_computation_reaches_the_game(alone):
    alone.source.queue.put(Block(np.zeros((10, 3)), 0.0))  # three channels of a sensor that has one
    alone.source.end_wait()
    alone.close()
    with pytest.raises(ValueError, match=r"reshape|shape|size"):
        alone.poll(0.001)


def test_a_game_that_stands_still_too_long_leaves_the_rest_to_the_source(monkeypatch):
    """After a second's worth of ticks nothing more is taken, and the queue keeps its newest four seconds."""
    monkeypatch.setattr(acquisition_module, "LONGEST_STALL_S", 1.0)
    acquisition = Acquisition(ByItself())
    radio = acquisition.source
    acquisition.poll(0.0)
    for _ in range(10):
        radio.deliver(0.1)
    for _ in range(90):
        radio.send(0.1)
    ticks = list(acquisition.poll(10.0).ticks)
    assert len(ticks) <= 250 and all(tick.readable[0] for tick in ticks[20:])
    radio.end_wait()
    radio.over.set()
    acquisition.close()
    ticks += acquisition.poll(0.0).ticks
    assert len(ticks) == 2500  # ten seconds in all, loss included
    assert [tick.readable[0] for tick in ticks[250:]].count(False) == pytest.approx(5.0 / acquisition.step_s, abs=40)


def test_samples_are_kept_when_the_order_says_so(written_order, tmp_path):
    from musclewood.games.__main__ import main

    noise, time_s = np.random.default_rng(5), np.arange(0, 20, 1 / RATE_HZ)
    working = (time_s % 3.5 > 1.5) & (time_s % 3.5 < 3.1)
    samples = np.round(noise.normal(size=time_s.size) * np.where(working, 200.0, 4.0), 1)
    csv, home = tmp_path / "series.csv", tmp_path / "home"
    np.savetxt(csv, samples, header="biceps", comments="", fmt="%.1f")
    strong = {"trial_s": 1.0, "hold_s": 0.5, "rest_s": 1.0, "target": 80, "low": 75, "high": 85, "tolerance": 30}
    order = written_order(sets=1, reps=1, ceiling=120, **strong)
    order.write_text(order.read_text().replace("revision = 1", "revision = 1\nrecord_samples = true"))
    play = [
        "play",
        str(order),
        "--source",
        f"replay:{csv}",
        "--rate",
        "1000",
        "--offscreen",
        "--fast",
        "--home",
        str(home),
    ]
    assert main(play) == 0
    (path,) = (home / "recordings").iterdir()
    kept = read_recording(path)
    assert path.name.startswith("HB-0042-") and kept.labels == ("EMG biceps",)
    number = min(len(kept.samples_uv), len(samples)) - 1000
    assert number > 5000
    np.testing.assert_allclose(kept.samples_uv[:number, 0], samples[:number], atol=0.06)
    (journal_path,) = (home / "journals").glob("*.sqlite")
    with Journal.open(journal_path) as journal:
        assert journal.records(1, RepRecord)[0].verdict == "counted"
    assert b"rep counted" in path.read_bytes()


def test_the_sources_that_the_command_line_names(tmp_path):
    assert source_by_name("keyboard", channels=2).source.labels == ("key 1", "key 2")
    simulated = source_by_name("simulated:late", channels=1)
    assert simulated.source.kind == "simulated" and simulated.player is not None
    assert source_by_name("ble:one-channel-envelope").source.kind == "ble"
