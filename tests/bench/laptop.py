"""What an evening costs a laptop: processor and memory of the window, here and in another version, in one run.

    python tests/bench/laptop.py [--seconds 8] [--minutes 1.0] [--beside DIR/.venv/bin/python]

Seconds of processor per second of the clock, of the whole process, at 1280x720 without a graphics card: on Today, in
the demonstration's session (while something is asked of the muscle, and while it rests), and with the window put away.
Aims: 8, 25, 12 and 1 %; what the muscle takes that a demonstration makes up is told beside it, and not left out. How
often a second its threads wake is told too, which no load of the computer changes much.
Memory: the largest resident set; the aim is 350 MB after 30 minutes of all workshops (`--minutes 30`). A window manager
(openbox) and Xvfb are started if there is no display. On a computer that is busy with other things a window gets less
of the processor than it would take, so the two versions are measured at the same time of the day: in turn.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager

AIMS_PCT = {"today": 8.0, "work": 25.0, "rest": 12.0, "away": 1.0}
WARM_UP_S = 15.0  # until scenery is baked and the pages behind Today are loaded, on a busy computer too

# Runs in the version that is measured, and asks nothing of it that an earlier one does not have.
PROGRAM = """
import json, os, sys, time, threading
from collections import defaultdict
from datetime import datetime
from pathlib import Path
import musclewood.games.__main__ as program
what, folder, seconds = sys.argv[1], Path(sys.argv[2]), float(sys.argv[3])
os.environ["SDL_AUDIODRIVER"] = "dummy"
os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"
if hasattr(program, "parser"):  # what the program itself sets before it opens a window
    source = Path(program.__file__).read_text()
    if "SDL_FRAMEBUFFER_ACCELERATION" in source:
        os.environ["SDL_FRAMEBUFFER_ACCELERATION"] = "0"
import pygame
import musclewood.games.screens.app as app
spent, seen, frames, most, woken = defaultdict(float), defaultdict(float), defaultdict(int), [0.0], []
last, begun = [None, 0.0, 0.0], time.monotonic()
drawn = [0]

def resident_mb():
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6

def wake_ups():
    tasks = [task.joinpath("status").read_text() for task in Path("/proc/self/task").iterdir()]
    return sum(int(told.split("voluntary_ctxt_switches:")[1].split()[0]) for told in tasks)

def state_of(window):
    play = getattr(window.top, "play", None)
    if what == "away":
        return "away" if not pygame.display.get_active() else ""
    if play is None:
        return "today"
    rep = play.view.rep
    if play.view.stage != "exercise" or rep is None:
        return "between"
    return "rest" if rep.phase in ("rest", "set rest") else "work"

step, flip = app.App.step, pygame.display.flip
def counted(self, events, dt_s):
    now, used = time.monotonic(), time.process_time()
    if last[0] and now - begun > WARM_UP_S:
        spent[last[0]] += used - last[1]
        seen[last[0]] += now - last[2]
        frames[last[0]] += drawn[0]
        if what != "session" and not woken:
            woken[:] = [now, wake_ups()]
    drawn[0] = 0
    last[:] = [state_of(self), used, now]
    most[0] = max(most[0], resident_mb())
    if what == "away" and now - begun > 2 and pygame.display.get_active():
        pygame.display.iconify()
    if what != "session" and now - begun > WARM_UP_S + seconds:
        if not self.leaving:
            woken[:] = [(wake_ups() - woken[1]) / (now - woken[0])]
        self.leaving = True
    if what == "session" and now - begun > seconds:
        self.leaving = True
    return step(self, events, dt_s)
app.App.step = counted
def shown():
    drawn[0] += 1
    flip()
pygame.display.flip = shown

def modules(*names):
    for name in names:
        try:
            return __import__(name, fromlist=["x"])
        except ModuleNotFoundError:
            pass

invented = defaultdict(float)  # what the muscle that is made up takes: no patient pays for it
muscle = modules("musclewood.signal.sources.simulated").SimulatedSource if what == "session" else None
if muscle is not None:
    made = muscle.poll
    def made_up(self, elapsed_s):
        used = time.thread_time()
        blocks = made(self, elapsed_s)
        if time.monotonic() - begun > WARM_UP_S:
            invented[last[0]] += time.thread_time() - used
        return blocks
    muscle.poll = made_up

window = modules("musclewood.games.screens.showing", "musclewood.games.screens.window", "musclewood.games.window")
if what == "session":
    d = modules("musclewood.games.running.demonstration", "musclewood.games.demonstration")
    t = modules("musclewood.profiles.orders.templates", "musclewood.profiles.templates")
    names, number = sorted(t.template_names(), key=lambda name: name != d.TEMPLATE), 0
    while time.monotonic() - begun < seconds:
        into = folder / str(number)
        into.mkdir()
        demo = d.Demonstration(into, datetime.now().astimezone(), 7, lambda line: None, names[number % len(names)])
        demo.order()
        with demo.open_journal() as journal:
            sitting, player = demo.sitting(journal)
            window.show_by_itself(sitting, player, demo.prescription, journal, demo.answers(), into)
        number += 1
else:
    from musclewood.games.__main__ import main
    main([])
told = {"spent": spent, "seen": seen, "frames": frames, "most_mb": most[0], "now_mb": resident_mb()}
told["invented"] = {state: used for state, used in invented.items() if state in seen}
json.dump({**told, "woken_per_s": woken[0] if what != "session" else 0.0}, sys.stdout)
"""


def measured(python: str, what: str, seconds: float) -> dict[str, dict[str, float]]:
    """Run one version for so long."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "MUSCLEWOOD_HOME": folder + "/home", "LIBGL_ALWAYS_SOFTWARE": "1"}
        code = PROGRAM.replace("WARM_UP_S", str(WARM_UP_S))
        done = subprocess.run(
            [python, "-c", code, what, folder, str(seconds)], env=environment, stdout=subprocess.PIPE, text=True,
            check=True,
            timeout=3 * seconds + 300,
        )  # fmt: skip  # what goes wrong there is seen here
    return dict(json.loads(done.stdout[done.stdout.index("{") :]))


@contextmanager
def display() -> Iterator[None]:
    """The display that is there, or one of our own with a window manager."""
    if os.environ.get("DISPLAY") or not shutil.which("Xvfb"):
        yield
        return
    number = f":{200 + os.getpid() % 700}"
    started = [subprocess.Popen(["Xvfb", number, "-screen", "0", "1600x1000x24"], stderr=subprocess.DEVNULL)]
    os.environ["DISPLAY"] = number
    os.environ.pop("SDL_VIDEODRIVER", None)
    time.sleep(1.5)
    if shutil.which("openbox"):
        started.append(subprocess.Popen(["openbox"], stderr=subprocess.DEVNULL))
        time.sleep(0.5)
    try:
        yield
    finally:
        for process in reversed(started):
            process.terminate()
            process.wait(10)


def main() -> None:
    parser = argparse.ArgumentParser(description="Processor and memory of the window.")
    parser.add_argument("--seconds", type=float, default=8.0, help="of Today, and of a window that was put away")
    parser.add_argument("--minutes", type=float, default=1.0, help="of sessions, one template after the other")
    parser.add_argument("--beside", metavar="PYTHON", help="the interpreter of another version")
    wanted = parser.parse_args()
    versions = {"here": sys.executable, **({"beside": wanted.beside} if wanted.beside else {})}
    print("state      aim   of a core, pictures a second, most MB")
    with display():
        for what, seconds in (("today", wanted.seconds), ("away", wanted.seconds), ("session", wanted.minutes * 60)):
            for name, python in versions.items():
                got = measured(python, what, seconds)
                for state, clock_s in got["seen"].items():
                    if clock_s < 0.5:
                        continue
                    pct, aim = 100 * got["spent"][state] / clock_s, AIMS_PCT.get(state)
                    told = f"{state:9s} {f'{aim:4.0f} %' if aim else '   -  '}  {name:7s} {pct:5.1f} %"
                    told += f"  {got['frames'][state] / clock_s:5.1f}/s  {got['most_mb']:4.0f} MB"
                    told += f" (now {got['now_mb']:.0f})  in {clock_s:.0f} s"
                    if made_up_s := got["invented"].get(state):
                        told += f"  of it {100 * made_up_s / clock_s:.1f} % for the simulated muscle"
                    print(told + (f"  {got['woken_per_s']:.0f} wake-ups/s" if got["woken_per_s"] else ""), flush=True)


if __name__ == "__main__":
    main()
