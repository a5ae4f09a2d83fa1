"""The first visit in a real window with a fake Bluetooth sensor: from an empty desk to an order signed from tests of
both sides, and to the patient's computer paired.

    xvfb-run -s "-screen 0 1280x800x24" python tests/bench/first_visit_walk.py --by mouse --sensor two-channel-raw
    --into DIR

The desk draws into a window of the display; hands are real events of the X server (xdotool), the sensor a fake
Bluetooth service on a private message bus, heard through the unmodified bleak. The patient squeezes when the screen
says so. Pictures of the whole display are kept for eyes; packets that left while one was taken are not counted. Printed
are

- the time from the bench's first picture to the first live trace,
- from a packet's leaving the sensor to the frame that shows it, and its budget: the length of a packet, until its
  samples are on the trace, and from there to the frame,
- what a frame takes of the processor, beside a blit of the whole window in the same run, and pictures a second.

Needs Linux, dbus-daemon, xdotool, ImageMagick and a window manager. It means something only while nothing else wants
the processor; `load` is said with it.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from datetime import datetime
from functools import partial
from multiprocessing import Pipe, Process, Value
from pathlib import Path
from threading import Thread
from typing import Any

import numpy as np
import pygame

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "signal" / "sources_ble" / "beds"), str(TESTS.parent)]

from bluez_bed import BluezBed
from fake_sensor import FakeSensor
from musclewood.games.desk.app import DeskApp
from musclewood.games.desk.bench import page as bench_page
from musclewood.games.desk.bench.page import BenchPage
from musclewood.games.desk.form.pairing import PairingPage
from musclewood.games.home.post import Post
from musclewood.games.running.subjects import Choice
from musclewood.games.running.traces import Trace
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.exchange.reception import NewSender
from musclewood.profiles.home.homes import Home
from musclewood.profiles.trust.key_file import LOWEST
from musclewood.profiles.visits.entries import SidesTest
from musclewood.profiles.visits.standing import latest
from musclewood.signal.sensors.catalogue import known_sensors

PASSPHRASE = "four quiet hornbeam leaves"
CODE, TEMPLATE = "HB-0042", "weak-thigh-after-knee-operation"
REACTS_S = 0.6
STRONG_UV, WEAK_UV = 90.0, 3.0


class Wearer:
    """A signal that follows what the patient does now: `effort` is shared with the process that draws."""

    def __init__(self, description: Any, effort: Any) -> None:
        self._effort = effort
        chance = random.Random(3)
        middle, spread = (1.0, 0.05) if description.envelope else (0.0, 1.0)
        self._noise = [chance.gauss(middle, spread) for _ in range(20011)]
        self._per_count = description.packet.uv_per_count[0]

    def __call__(self, sample: int, channel: int) -> int:
        uv = max(WEAK_UV, self._effort.value * STRONG_UV)
        return round(self._noise[(sample + 4999 * channel) % len(self._noise)] * uv / self._per_count)


class TimedSensor(FakeSensor):
    """Remembers when each packet left."""

    def __init__(self, *arguments: Any) -> None:
        super().__init__(*arguments)
        self.left_s: list[float] = []

    def packet(self, number: int) -> bytes:
        made = super().packet(number)
        self.left_s.append(time.monotonic())
        return made


def sense(pipe: Any, name: str, effort: Any) -> None:
    """The sensor, in a process of its own: gives its environment, and at the end when each packet left."""
    description = known_sensors().sensor(name)
    assert description is not None
    sensor = TimedSensor(description, Wearer(description, effort))
    with BluezBed(sensor) as bed:
        pipe.send(bed.environment)
        pipe.recv()
    pipe.send((sensor.left_s, sensor.samples_per_packet))


class Walker(Thread):
    """Hands and eyes of a therapist and a patient, beside the thread that draws."""

    def __init__(self, app: DeskApp, effort: Any, sensor: str, by: str, into: Path, stick: Path) -> None:
        super().__init__(daemon=True)
        self.app, self.effort, self.sensor, self.by, self.into = app, effort, sensor, by, into
        self.stick, self.own_words = stick, ()
        self.failure: BaseException | None = None
        self._number = 0
        self.looking: list[tuple[float, float]] = []  # spans in which a picture of the display was taken
        self._window = str(pygame.display.get_wm_info()["window"])

    def run(self) -> None:
        try:
            self._walk()
        except BaseException as error:  # noqa: BLE001 it is raised where the desk runs
            self.failure = error
            self.picture("failed")
        finally:
            self.app.leaving = True

    # -- hands

    def xdo(self, *words: str) -> str:
        return subprocess.run(["xdotool", *words], capture_output=True, text=True, check=True).stdout

    def wait(self, what: Any, longest_s: float = 60.0) -> None:
        until_s = time.monotonic() + longest_s
        while not what():
            if time.monotonic() > until_s:
                raise TimeoutError(f"{self.screen()}: {getattr(self.app.top, 'trouble', '')}")
            time.sleep(0.05)

    def screen(self) -> str:
        return type(self.app.top).__name__

    def choose(self, key: str) -> None:
        """By the mouse where it is looked at, or by Tab and Enter."""
        self.wait(lambda: not getattr(self.app.top, "busy", False) and key in self._keys())
        time.sleep(0.7)  # longer than a double click
        if self.by == "mouse":
            self._press(key)
        else:
            for _ in range(80):
                if self.app.top.focus == key:
                    break
                before = self.app.top.focus
                self.xdo("key", "Tab")
                until_s = time.monotonic() + 0.5
                while self.app.top.focus == before and time.monotonic() < until_s:
                    time.sleep(0.02)
            assert self.app.top.focus == key, (key, self.app.top.focus)
            self.xdo("key", "Return")
        time.sleep(0.3)

    def _keys(self) -> list[str]:
        return [one.key for one in self.app.top.choices()]

    def _press(self, key: str, across: float = 0.5) -> None:
        box = next(one.box for one in self.app.top.choices() if one.key == key)
        scale = self.app.canvas.scale
        left, top = (box.left + box.width * across) * scale, (box.top + box.height / 2) * scale
        self.xdo("mousemove", "--window", self._window, str(round(left)), str(round(top)), "click", "1")

    def line(self, key: str, text: str) -> None:
        """Go to a line and type."""
        self.wait(lambda: key in self._keys())
        if self.by == "mouse":
            self._press(key)
        else:
            for _ in range(80):
                if self.app.top.focus == key:
                    break
                self.xdo("key", "Tab")
                time.sleep(0.1)
        time.sleep(0.3)
        self.xdo("type", "--delay", "60", text)
        time.sleep(0.3)

    def picture(self, name: str) -> None:
        self._number += 1
        path, began_s = self.into / f"{self._number:02d}-{name}.png", time.monotonic()
        subprocess.run(["import", "-window", "root", str(path)], check=False)
        self.looking.append((began_s - 0.1, time.monotonic() + 0.5))

    # -- the visit

    def _walk(self) -> None:
        time.sleep(3.0)
        self.xdo("windowfocus", self._window)
        self.picture("empty-desk")
        self.choose("new")
        self.line("passphrase", PASSPHRASE)
        self.line("again", PASSPHRASE)
        self.choose("make")
        self.wait(lambda: self.screen() == "WordsPage")
        self.choose("done")
        self.choose("new")
        self.line("code", "hb0042")
        self.choose(f"template:{TEMPLATE}")
        self.wait(lambda: self.screen() == "FormPage")
        self._side()
        self.picture("form")
        self.choose("bench")
        self.picture("which-sensor")
        self.choose(f"ble:{self.sensor}")
        self.wait(lambda: isinstance(self.app.top, BenchPage) and self.app.top.bench.trace.running)
        time.sleep(4.0)
        self.picture("bench")
        self._both_sides()
        self.choose("back")
        self.wait(lambda: self.screen() == "FormPage")
        self.picture("form-filled")
        self.choose("sign")
        self.line("passphrase", PASSPHRASE)
        while "on" in self._keys():
            self.choose("on")
        self.picture("signing")
        self.choose("issue")
        self.wait(lambda: self.screen() == "IssuedPage")
        time.sleep(1.0)
        self.picture("signed")
        self._pair()

    def _pair(self) -> None:
        """With the patient's computer in the room, which takes the letter from the stick."""
        self.choose("pair")
        self.picture("pair-way")
        self.choose("stick:0")
        self.wait(lambda: self.app.top.step == "compare")  # type: ignore[attr-defined]
        home = Home(self.stick.parent / "home")
        home.create()
        post = Post(home, lambda: datetime.now().astimezone().date(), show=lambda path: False, media=[])
        (letter,) = self.stick.glob("*.toml")
        asked = post.receive(str(letter)).asks
        assert asked is not None
        self.own_words = post.receive(str(letter), asked.words).own_words
        self.picture("pair-compare")
        self.choose("yes")
        self.line("words", " ".join(word[:3] for word in self.own_words))
        self.picture("pair-theirs")
        self.choose("take")
        self.wait(lambda: self.app.top.step == "done")  # type: ignore[attr-defined]
        self.picture("paired")
        self.choose("done")

    def _side(self) -> None:
        """The involved side is chosen at the muscles: right."""
        self.choose("tab:muscles")
        key = next(one for one in self._keys() if one.endswith(".side"))
        if self.by == "mouse":
            self._press(key, 0.95)
        else:
            for _ in range(80):
                if self.app.top.focus == key:
                    break
                self.xdo("key", "Tab")
                time.sleep(0.1)
            self.xdo("key", "Right")
        time.sleep(0.5)

    def _both_sides(self) -> None:
        self.choose("test:sides")
        page: Any = self.app.top
        seen: set[str] = set()
        began_s = time.monotonic()
        while page.found is None:
            shown = page.asks
            if shown is None or time.monotonic() - began_s > 900:
                raise AssertionError(f"the test ended: {page.trouble}")
            doing = shown.doing
            if doing not in seen and doing in ("place", "pain", "quiet", "squeeze", "rest"):
                seen.add(doing)
                time.sleep(0.8 if doing != "squeeze" else 2.0)
                self.picture(doing)
            if doing == "place":
                self.choose("go on")
            elif doing == "pain":
                self.choose("pain:0")
            elif doing in ("ready", "squeeze"):
                if self.effort.value == 0.0:
                    time.sleep(REACTS_S)
                self.effort.value = 1.0
            elif self.effort.value:
                time.sleep(REACTS_S)
                self.effort.value = 0.0
            time.sleep(0.1)
        self.picture("found")
        self.choose("keep")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--by", choices=("mouse", "keyboard"), default="mouse")
    parser.add_argument("--sensor", default="two-channel-raw")
    parser.add_argument("--rest", type=float, default=60.0, help="between trials and sides, s (60)")
    parser.add_argument("--into", type=Path, required=True, help="folder for the pictures")
    options = parser.parse_args()
    options.into.mkdir(parents=True, exist_ok=True)
    os.environ["SDL_VIDEODRIVER"], os.environ["SDL_AUDIODRIVER"] = "x11", "dummy"
    bench_page.Choice = partial(Choice, rest_s=options.rest)  # type: ignore[misc, assignment]
    Clinic.make_key.__defaults__ = (LOWEST,)  # a key that is unlocked at once
    effort, (here, there) = Value("d", 0.0), Pipe()
    sensor = Process(target=sense, args=(there, options.sensor, effort), daemon=True)
    sensor.start()
    os.environ.update(here.recv())
    seen = Seen()
    with tempfile.TemporaryDirectory() as folder:
        clinic = Clinic(Path(folder) / "desk")
        clinic.start()
        app = DeskApp(clinic)
        stick = Path(folder) / "media" / "tester" / "BLUE"
        stick.mkdir(parents=True)
        PairingPage.__init__.__defaults__ = ([str(stick.parents[1])],)  # type: ignore[attr-defined]
        walker = Walker(app, effort, options.sensor, options.by, options.into, stick)
        seen.watch(app)
        walker.start()
        app.run()
        walker.join(5.0)
        if walker.failure is not None:
            raise walker.failure
        entries = clinic.visits.entries(CODE)
        found = latest(entries, SidesTest)
        assert found is not None and isinstance(found.result, SidesTest)
        (order,) = clinic.orders(CODE)
        print(f"signed: order {order.revision} of {order.patient}, side {order.muscles[0].side}; {found.result.way}")
        print(
            f"both sides: deficit {found.result.deficit_pct:.0f} % ({found.result.low_pct:.0f} to "
            f"{found.result.high_pct:.0f})"
        )
        assert clinic.expected.knows(NewSender(CODE, walker.own_words, False))
        print("paired: the patient's computer is known by its words")
        here.send("enough")
        told(*here.recv(), known_sensors().sensor(options.sensor).rate_hz, seen, walker.looking)
    return 0


class Seen:
    """What was on the screen when: frames (when seen, samples drawn), trace (when written, samples), and what each
    frame took of the processor."""

    def __init__(self) -> None:
        self.frames: list[tuple[float, int]] = []
        self.trace: list[tuple[float, int]] = []
        self.cost_s: list[float] = []
        self._drawn = 0
        self.blit_s = 0.0

    def watch(self, app: DeskApp) -> None:
        flip, frame, columns, take = pygame.display.flip, app._frame, Trace.columns, Trace.take
        other = app.screen.copy()
        begun_s = time.thread_time()
        for _ in range(100):
            app.screen.blit(other, (0, 0))
        self.blit_s = (time.thread_time() - begun_s) / 100

        def counted(trace: Trace, channel: int) -> Any:
            self._drawn = trace._seen  # more may come while it is drawn; that is not counted as seen
            return columns(trace, channel)

        def taken(trace: Trace, block: Any) -> None:
            take(trace, block)
            self.trace.append((time.monotonic(), trace._seen))

        def flipped() -> None:
            flip()
            if isinstance(app.top, BenchPage):
                self.frames.append((time.monotonic(), self._drawn))

        def framed(*arguments: Any, **named: Any) -> None:
            begun_s = time.thread_time()
            frame(*arguments, **named)
            if isinstance(app.top, BenchPage):
                self.cost_s.append(time.thread_time() - begun_s)

        pygame.display.flip, app._frame = flipped, framed  # type: ignore[method-assign]
        Trace.columns, Trace.take = counted, taken  # type: ignore[method-assign]


def told(left_s: list[float], each: int, rate_hz: float, seen: Seen, looking: list[tuple[float, float]]) -> None:
    """The two times, printed."""
    shown, written, left = np.array(seen.frames), np.array(seen.trace), np.array(left_s)
    live_s = shown[shown[:, 1] > 0][0, 0]
    waited_s = live_s - max(shown[0, 0], left[0])
    print(f"first picture to first live trace: {waited_s:.2f} s after the sensor answered (aim: 2)")
    counts = each * np.arange(1, len(left) + 1)
    on_trace, on_screen = np.searchsorted(written[:, 1], counts), np.searchsorted(shown[:, 1], counts)
    counted = (on_screen < len(shown)) & (np.arange(len(left)) >= 100)
    for begun_s, ended_s in looking:
        counted &= ~((left > begun_s) & (left < ended_s))
    to_trace = 1000 * (written[on_trace[counted], 0] - left[counted])
    to_screen = 1000 * (shown[on_screen[counted], 0] - left[counted])
    rest = 1000 * (shown[on_screen[counted], 0] - written[on_trace[counted], 0])
    print(f"packet to screen: {spread(to_screen)} ms of {len(to_screen)} (aim: p95 60)")
    print(
        f"  budget: a packet lasts {1000 * each / rate_hz:.0f} ms; until it is on the trace {spread(to_trace)} ms; then"
    )
    print(f"  until the frame that shows it is on the display {spread(rest)} ms")
    gaps, cost = np.diff(shown[:, 0]), 1000 * np.array(seen.cost_s)
    rate, load = (len(shown) - 1) / (shown[-1, 0] - shown[0, 0]), os.getloadavg()[0]
    print(f"{rate:.0f} pictures a second, the middle one after {1000 * np.median(gaps):.0f} ms; load {load:.1f}")
    blit = 1000 * seen.blit_s
    print(
        f"a frame takes {spread(cost)} ms of the processor, {np.median(cost) / blit:.0f} times a blit of the window "
        f"({blit:.2f} ms)"
    )


def spread(values: np.ndarray) -> str:
    p50, p95, p99 = np.percentile(values, [50, 95, 99])
    return f"p50 {p50:.1f}  p95 {p95:.1f}  p99 {p99:.1f}"


if __name__ == "__main__":
    raise SystemExit(main())
