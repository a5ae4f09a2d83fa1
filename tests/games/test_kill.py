"""A session killed at any moment loses nothing that it reported."""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from musclewood.profiles.journal import Journal
from musclewood.profiles.records import RepRecord

REP = re.compile(r"^\S+, set (\d+), attempt (\d+): ([a-z ]+) \(")


def killed_after(order: Path, journal: Path, seed: int, lines: int, delay_s: float) -> list[tuple[int, int, str]]:
    """Start a session of its own process, kill it `delay_s` after its `lines`-th line; returns the reps it reported."""
    command = [sys.executable, "-m", "musclewood.games", "play", str(order), "--source", "simulated:shaky"]
    command += ["--offscreen", "--fast", "--seed", str(seed), "--journal", str(journal)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=os.environ)
    assert process.stdout is not None
    heard: list[str] = []
    enough = threading.Event()

    def listen() -> None:
        for line in process.stdout or ():
            heard.append(line)
            if len(heard) >= lines:
                enough.set()
        enough.set()

    listener = threading.Thread(target=listen)
    listener.start()
    try:
        assert enough.wait(120.0)
        time.sleep(delay_s)
    finally:
        process.send_signal(signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
        process.wait()
        listener.join()
        process.stdout.close()
    matches = [match for line in heard if (match := REP.match(line))]
    return [(int(match[1]), int(match[2]), match[3]) for match in matches]


@pytest.mark.full_size
def test_every_reported_rep_is_in_the_journal_after_a_kill(written_order, tmp_path, full):
    order = written_order(sets=4, reps=8, hold_s=0.5, rest_s=1.0, set_rest_s=1.0, trials=1, reps_per_day=500)
    chance = random.Random(3)
    reported_in_all = 0
    for number in range(50 if full else 2):
        path = tmp_path / f"{number}.sqlite"
        reported = killed_after(order, path, number, chance.randrange(1, 30), chance.uniform(0.0, 0.2))
        with Journal.open(path) as journal:
            kept = [(one.set_number, one.rep_number, one.verdict) for one in journal.records(1, RepRecord)]
            (session,) = journal.sessions()
            assert session.end is not None
            assert journal.verify() == [] and journal.set_aside is None
        assert kept[: len(reported)] == reported
        assert len(kept) <= len(reported) + 1
        reported_in_all += len(reported)
    assert reported_in_all > 0
