"""Whatever happens to the program or the disk, no rep that was reported is lost or kept twice, and one line says what
is wrong."""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord

Attempt = tuple[int, int, str]  # set, attempt, verdict
REP = re.compile(r"^\S+, set (\d+), attempt (\d+): ([a-z ]+) \(")


# Loads the program once and runs each session in a child of its own, so that hundreds can be killed.
_NURSERY = """
import os, sys
import musclewood.games.commands.play
from musclewood.games.__main__ import main
for line in sys.stdin:
    into, *arguments = line.rstrip("\\n").split("\\t")
    child = os.fork()
    if child == 0:
        os.dup2(os.open(into, os.O_WRONLY), 1)
        os._exit(main(arguments))
    print(child, flush=True)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""


class Nursery:
    """Starts sessions as processes, and ends them as a power cut would."""

    def __init__(self, folder: Path) -> None:
        self._pipe = folder / "lines"
        os.mkfifo(self._pipe)
        command = [sys.executable, "-c", _NURSERY]
        self._mother = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def killed_after(self, order: Path, journal: Path, seed: int, lines: int, delay_s: float) -> list[Attempt]:
        """Kill a session `delay_s` after its `lines`-th line; returns the reps that it reported."""
        assert self._mother.stdin is not None and self._mother.stdout is not None
        arguments = ["play", str(order), "--source", "simulated:shaky", "--offscreen", "--fast"]
        arguments += ["--seed", str(seed), "--journal", str(journal)]
        print(*(self._pipe, *arguments), sep="\t", file=self._mother.stdin, flush=True)
        child = int(self._mother.stdout.readline())
        with open(self._pipe, encoding="utf-8") as said:
            heard = [line for _, line in zip(range(lines), said, strict=False)]
            time.sleep(delay_s)
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
            heard += said.readlines()
        assert self._mother.stdout.readline() == "gone\n"
        return attempts_in(heard)

    def close(self) -> None:
        assert self._mother.stdin is not None and self._mother.stdout is not None
        self._mother.stdin.close()
        self._mother.wait()
        self._mother.stdout.close()


def attempts_in(lines: Iterable[str]) -> list[Attempt]:
    matches = [match for line in lines if (match := REP.match(line))]
    return [(int(match[1]), int(match[2]), match[3]) for match in matches]


@pytest.mark.full_size
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be killed as by a power cut")
def test_every_reported_rep_is_in_the_journal_after_a_kill(written_order, tmp_path, full):
    order = written_order(sets=4, reps=8, hold_s=0.5, rest_s=1.0, set_rest_s=1.0, trials=1, reps_per_day=500)
    chance, nursery, reported_in_all = random.Random(3), Nursery(tmp_path), 0
    for number in range(200 if full else 2):
        path = tmp_path / f"{number}.sqlite"
        reported = nursery.killed_after(order, path, number, chance.randrange(1, 15), chance.uniform(0.0, 0.2))
        kept = kept_in(path)
        assert kept[: len(reported)] == reported
        assert len(kept) <= len(reported) + 1
        assert len({(one[0], one[1]) for one in kept}) == len(kept)
        reported_in_all += len(reported)
    nursery.close()
    assert reported_in_all > 0
    print(f"{number + 1} kills, {reported_in_all} reps reported, all of them kept once")


# What follows is the whole program in a process of its own, on a disk or a clock that plays tricks.

LONG = {"sets": 7, "reps": 10, "hold_s": 0.5, "rest_s": 1.0, "set_rest_s": 1.0, "trials": 1, "reps_per_day": 500}


@pytest.fixture
def long_run(full):
    """Several whole programs one after the other; the journal's own tests hold the same rules in less time."""
    if not full:
        pytest.skip("several whole programs: set MUSCLEWOOD_FULL=1")


def play_command(order: Path, journal: Path, *more: str) -> list[str]:
    command = [sys.executable, "-m", "musclewood.games", "play", str(order), "--source", "simulated:steady"]
    return [*command, "--offscreen", "--fast", "--journal", str(journal), *more]


def ran(command: list[str]) -> tuple[int, list[Attempt], str]:
    """Exit code, the reps it reported, and what it said on standard error."""
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    return done.returncode, attempts_in(done.stdout.splitlines()), done.stderr


def kept_in(journal_path: Path, session_id: int = 1) -> list[Attempt]:
    with Journal.open(journal_path) as journal:
        assert journal.verify() == [] and journal.set_aside is None
        assert all(session.end is not None for session in journal.sessions())
        return [(one.set_number, one.rep_number, one.verdict) for one in journal.records(session_id, RepRecord)]


@contextmanager
def small_disk(place: Path, size: str) -> Iterator[Path]:
    """A file system of its own in memory; skips the test where this user may not mount one."""
    place.mkdir()
    mounting = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
    if not sys.platform.startswith("linux") or subprocess.run(mounting, capture_output=True, check=False).returncode:
        pytest.skip("only who may mount a small disk can fill it")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_costs_no_reported_rep_and_is_said_in_one_line(written_order, tmp_path):
    order = written_order(**LONG)
    with small_disk(tmp_path / "disk", "500k") as disk:
        code, reported, said = ran(play_command(order, disk / "journal.sqlite"))
        assert code == 1 and said.count("\n") <= 2 and ("disk is full" in said or "disk reports" in said)
        assert reported
        rescued = tmp_path / "rescued"
        shutil.copytree(disk, rescued)
    kept = kept_in(rescued / "journal.sqlite")
    assert kept[: len(reported)] == reported and len(kept) <= len(reported) + 1


@pytest.mark.full_size
def test_play_goes_on_in_the_same_journal_once_there_is_room(written_order, tmp_path, long_run):
    order = written_order(**LONG)
    with small_disk(tmp_path / "disk", "400k") as disk:
        _, reported, _ = ran(play_command(order, disk / "journal.sqlite"))
        subprocess.run(["mount", "-o", "remount,size=20M", str(disk)], check=True)
        code, later, _ = ran(play_command(written_order(**{**LONG, "sets": 1, "reps": 2}), disk / "journal.sqlite"))
        assert code == 0 and len(later) >= 2
        first, second = (kept_in(disk / "journal.sqlite", number) for number in (1, 2))
    assert first[: len(reported)] == reported and second == later


@pytest.mark.full_size
def test_a_read_only_folder_is_said_in_one_line_and_changes_nothing(written_order, tmp_path, long_run):
    order = written_order(**{**LONG, "sets": 1, "reps": 2})
    with small_disk(tmp_path / "disk", "20M") as disk:
        _, reported, _ = ran(play_command(order, disk / "journal.sqlite"))
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        for name in ("journal.sqlite", "new.sqlite"):
            code, none, said = ran(play_command(order, disk / name))
            assert (code, none) == (1, []) and said.count("\n") == 1 and "cannot be" in said
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
        assert kept_in(disk / "journal.sqlite") == reported


@pytest.mark.full_size
def test_a_second_copy_is_told_so_and_the_first_plays_on(written_order, tmp_path, long_run):
    order, path = written_order(**LONG), tmp_path / "journal.sqlite"
    first = subprocess.Popen(play_command(order, path), stdout=subprocess.PIPE, text=True)
    assert first.stdout is not None
    heard = [first.stdout.readline()]
    code, none, said = ran(play_command(order, path))
    assert first.poll() is None, "the first must still be at it"
    assert (code, none) == (1, []) and said.count("\n") == 1 and "another program" in said
    heard += first.stdout.readlines()
    first.stdout.close()
    assert first.wait() == 0
    reported = attempts_in(heard)
    assert kept_in(path) == reported and len(reported) >= 70


_DAY_BACK = """
import datetime as real, sys
import musclewood.games.commands.play as play, musclewood.profiles.journal.journal as journal
from musclewood.games.__main__ import main
class Back(real.datetime):
    @classmethod
    def now(cls, tz=None):
        return real.datetime.now(tz) - real.timedelta(days=1)
play.datetime = journal.datetime = Back
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.full_size
def test_a_clock_set_back_a_day_loses_and_doubles_nothing(written_order, tmp_path, long_run):
    order, path = written_order(**{**LONG, "sets": 1, "reps": 3}), tmp_path / "journal.sqlite"
    command = play_command(order, path)
    code, first, _ = ran(command)
    code_back, second, said = ran([sys.executable, "-c", _DAY_BACK, *command[3:]])
    assert (code, code_back, said) == (0, 0, "")
    assert kept_in(path, 1) == first and kept_in(path, 2) == second
    with Journal.open(path) as journal:
        days = [datetime.fromisoformat(one.start.started_at) for one in journal.sessions()]
    assert timedelta(hours=23) < days[0] - days[1] < timedelta(hours=25)
