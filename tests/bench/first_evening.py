"""Actions between the clinic's letter and the first counted repetition, and on a second evening.

    python tests/bench/first_evening.py [--into DIR] [--python OTHER/.venv/bin/python] [--language de]

The unmodified program is opened on a letter in a real window with a window manager; hands are real events of the
X server (xdotool), the sensor a fake Bluetooth service on a private message bus, heard through the unmodified bleak.
Eyes are a hook that tells what can be chosen where, and changes nothing. The patient squeezes when the screen asks for
it, compares the ten words, and is well. What the program does by itself is waited for.

An action is a click, or a double click, or a press of a key: by the keyboard, Tab to come to a choice is an action too.
A squeeze of the muscle is none. Opening the letter in the file manager, and the program on the second evening, is one.
Printed is every action with the page it was done on; a picture of every page lies in the folder. Aims: 8 on the first
evening, 4 on the second, by either; the launcher is told that this one is a day later. Needs Linux, dbus-daemon, Xvfb,
openbox, xdotool and ImageMagick.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager, suppress
from datetime import date, datetime
from multiprocessing import Pipe, Process, Value
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "signal" / "sources_ble" / "beds"), str(TESTS.parent)]

from musclewood.games.home.own_sensors import enclosed
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.trust.key_file import LOWEST

from tests.bench.first_visit_walk import sense
from tests.bench.laptop import display

SENSOR, TEMPLATE = "two-channel-raw", "weak-thigh-after-knee-operation"
CODE, PASSPHRASE = "HB-0042", "four quiet hornbeam leaves"
AIMS = {"first": 8, "second": 4}
PATIENT_S = {"SensorsPage": 9.0, "PadsPage": 60.0}  # a page that goes on by itself has done so by then
LONGEST_S = 900.0
EFFORT = 0.36  # of the patient's maximum; the template asks for 35 %
STAYS = "stay"  # on a page that goes on by itself
ANSWERS = ("no", "go-on", "same", "0", "begin", "ble", "next")  # what a patient chooses who is well, in this order
NEVER = ("stop", "hurts", "back", "leave", "other", "language", "stay", "again", "end")

# Runs in the version that is walked; tells what is on the screen after every frame.
PROGRAM = """
import json, os, sys
import musclewood.games.screens.app as app
import musclewood.games.__main__ as program
import musclewood.games.commands.launcher as launcher
import musclewood.games.screens.window as window
from datetime import datetime, timedelta
class Later(datetime):
    @classmethod
    def now(cls, tz=None):
        return datetime.now(tz) + timedelta(days=int(os.environ["DAYS_LATER"]))
window.datetime = launcher.datetime = Later
told = sys.argv[1]
step = app.App.step
def seen(self, events, dt_s):
    step(self, events, dt_s)
    top = self.top
    play = getattr(top, "play", None) if type(top).__name__ == "SessionPage" else None
    page = getattr(top, "top", top)
    left, up = self.canvas.offset
    scale = self.canvas.scale
    middle = lambda box: (left + box.centre[0] * scale, up + box.centre[1] * scale)
    view = play.view if play else None
    state = {
        "page": type(page).__name__, "what": repr(page.turned()), "focus": page.focus,
        "keys": {one.key: middle(one.box) for one in page.choices()},
        "stage": view.stage if view else "",
        "trial": bool(view and view.calibration and view.calibration.phase == "trial"),
        "phase": view.rep.phase if view and view.rep else "", "made": view.made if view else 0,
    }
    with open(told + ".new", "w") as file:
        json.dump(state, file)
    os.replace(told + ".new", told)
app.App.step = seen
program.main(sys.argv[2:])
"""


class Evening:
    """One evening of one patient with one device: acts, and keeps what was done."""

    def __init__(self, by: str, python: str, home: Path, told: Path, into: Path, effort: Any) -> None:
        self.by, self.python, self.home, self.told, self.into, self.effort = by, python, home, told, into, effort
        self.done: list[str] = []
        self._began_s = time.monotonic()
        self._pictured: tuple[Any, ...] = ()
        self._pictures = 0

    # -- hands and eyes
    def act(self, what: str, *words: str) -> None:
        """One action: a picture before it, then the event."""
        self.done.append(f"{what} on {self.screen()['page'] or 'the desktop'}")
        if words:
            subprocess.run(["xdotool", *words], check=True, capture_output=True)

    def picture(self) -> None:
        self.into.mkdir(parents=True, exist_ok=True)
        self._pictures += 1
        path = self.into / f"{self._pictures:02d}-{self.screen()['page'] or 'desktop'}.png"
        subprocess.run(["import", "-window", "root", str(path)], check=False)

    def screen(self) -> dict[str, Any]:
        try:
            return dict(json.loads(self.told.read_text()))
        except FileNotFoundError:
            return {
                "page": "",
                "what": "",
                "keys": {},
                "focus": "",
                "stage": "",
                "trial": False,
                "phase": "",
                "made": 0,
            }

    def choose(self, key: str) -> None:
        if self.by == "mouse":
            x, y = (str(round(part)) for part in self.screen()["keys"][key])
            self.act(f"click on '{key}'", "mousemove", x, y, "click", "1")
            return
        for _ in range(40):
            if (focus := self.screen()["focus"]) == key:
                break
            self.act("Tab", "key", "Tab")
            until_s = time.monotonic() + 1.0
            while self.screen()["focus"] == focus and time.monotonic() < until_s:
                time.sleep(0.05)
        self.act(f"Enter on '{key}'", "key", "Return")

    # -- an evening
    def walk(self, *letter: str) -> None:
        """Until the first repetition has been counted; then the session is stopped, which is not counted."""
        self.told.unlink(missing_ok=True)
        self.act("double click" if self.by == "mouse" else "Enter")
        self.done[-1] += " on the letter" if letter else " on Musclewood"
        environment = {**os.environ, "MUSCLEWOOD_HOME": str(self.home), "SDL_AUDIODRIVER": "dummy"}
        call = [self.python, "-c", PROGRAM, str(self.told), *letter]
        environment["DAYS_LATER"] = "0" if letter else "1"
        program = subprocess.Popen(call, env=environment, cwd=self.home)
        try:
            while self.screen()["made"] < 1:
                if time.monotonic() - self._began_s > LONGEST_S or program.poll() is not None:
                    raise AssertionError(f"no repetition was counted: {self.screen()}")
                self._go_on()
            self.picture()
            self.effort.value = 0.0
            subprocess.run(["xdotool", "key", "s"], check=True)
            time.sleep(1.0)
        finally:
            program.terminate()
            with suppress(subprocess.TimeoutExpired):
                program.wait(20)
            program.kill()
            program.wait()

    def _go_on(self) -> None:
        """Squeeze, wait, or choose what a patient would choose here."""
        seen = self.screen()
        if seen["stage"] in ("calibration", "exercise"):
            squeeze = 1.0 if seen["trial"] else EFFORT if seen["phase"] in ("ready", "effort") else 0.0
            if squeeze != self.effort.value:
                time.sleep(0.3)  # a reaction
                self.effort.value = squeeze
            time.sleep(0.05)
            return
        key = self._wanted(seen)
        if _asked(seen) != self._pictured:
            self._pictured = _asked(seen)
            self.picture()
            return
        if key is None or not self._stands(seen):
            time.sleep(0.2)
            return
        self.choose(key)
        self._until_else(seen)

    def _wanted(self, seen: dict[str, Any]) -> str | None:
        keys = [key for key in seen["keys"] if key not in NEVER and not key.startswith("place:")]
        wanted = next((key for key in ANSWERS if key in keys), None)
        if seen["page"] in ("SensorsPage", "ChoosePage"):
            wanted = next(iter(keys), None)
        if seen["page"] == "HearingPage" and self.by == "keyboard" and seen["focus"] != wanted:
            return None  # it moves on from answer to answer, so that one key is enough
        return None if seen["page"] == "SignalPage" else wanted

    def _stands(self, seen: dict[str, Any]) -> bool:
        """Whether the page waits for somebody: it has stood long enough, and does not go on by itself."""
        if seen["page"] == "HearingPage" and self.by == "keyboard":
            return True
        until_s = time.monotonic() + (PATIENT_S.get(seen["page"], 0.8))
        while time.monotonic() < until_s:
            now = self.screen()
            if _asked(now) != _asked(seen):
                return False
            time.sleep(0.1)
        return STAYS not in self.screen()["keys"]

    def _until_else(self, seen: dict[str, Any]) -> None:
        until_s = time.monotonic() + 3.0
        while _asked(self.screen()) == _asked(seen) and time.monotonic() < until_s:
            time.sleep(0.1)


def _asked(seen: dict[str, Any]) -> tuple[Any, ...]:
    return (seen["page"], seen["what"], tuple(seen["keys"]))


def letter_of(folder: Path, language: str) -> Path:
    """The clinic's letter with the sensor in it: an order for every evening."""
    clinic = Clinic(folder / "desk")
    clinic.start()
    keys = clinic.make_key(PASSPHRASE, LOWEST)
    draft = clinic.draft_from_template(TEMPLATE, CODE, date.today())
    today = datetime.now(ZoneInfo("Europe/Prague")).weekday()
    days = sorted({DAYS[(today + more) % 7] for more in range(3)}, key=DAYS.index)
    changes: dict[str, Any] = {
        "muscles.0.side": "left", "language": language, "days": days, "calibration.trials": 1,
    }  # fmt: skip
    for key, value in changes.items():
        draft = draft.set(key, value)
    description = TESTS.parent / "assets" / "sensors" / f"{SENSOR}.toml"
    ready = draft.with_sensors(enclosed([description]))
    issued = clinic.issue(ready, keys, [one.id for one in ready.concerns()])
    letter = folder / f"{CODE}.prescription.toml"
    letter.write_bytes(issued.path.read_bytes())
    return letter


def verdicts(home: Path) -> list[str]:
    """What the journal says became of the attempts of the latest session."""
    with Journal.open(home / "journals" / f"{CODE}.sqlite") as journal:
        return [one.verdict for one in journal.records(journal.sessions()[-1].session_id, RepRecord)]


@contextmanager
def sensor(name: str) -> Any:
    """A fake sensor within reach of every program that is started meanwhile; gives what its wearer does, 0 to 1."""
    effort, (here, there) = Value("d", 0.0), Pipe()
    process = Process(target=sense, args=(there, name, effort), daemon=True)
    process.start()
    before = dict(os.environ)
    os.environ.update(here.recv())
    try:
        yield effort
    finally:
        os.environ.clear()
        os.environ.update(before)
        here.send("enough")  # so that it takes its bus with it
        here.recv()
        process.join(20.0)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--by", choices=("mouse", "keyboard", "both"), default="both")
    parser.add_argument("--python", default=sys.executable, help="of the version that is walked")
    parser.add_argument("--language", default="en")
    parser.add_argument("--into", type=Path, help="folder for the pictures")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, display(), sensor(SENSOR) as effort:
        letter = letter_of(Path(folder), options.language)
        for by in ("mouse", "keyboard") if options.by == "both" else (options.by,):
            home = Path(folder) / by
            home.mkdir()
            for which in ("first", "second"):
                into = (options.into or Path(folder)) / f"{which}-{by}"
                evening = Evening(by, options.python, home, Path(folder) / "told", into, effort)
                evening.walk(*([str(letter)] if which == "first" else []))
                assert "counted" in verdicts(home), "the journal holds another truth than the screen"
                print(f"{which} evening by {by}: {len(evening.done)} actions (aim {AIMS[which]})", flush=True)
                for number, line in enumerate(evening.done, start=1):
                    print(f"  {number:2d}  {line}", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
