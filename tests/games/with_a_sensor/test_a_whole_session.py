"""The program, unmodified and in a process of its own, plays from a fake sensor over the real Bluetooth library."""

from __future__ import annotations

import csv
import importlib.util
import os
import signal
import subprocess
import time
import warnings
import zipfile
from collections.abc import Callable
from io import StringIO
from pathlib import Path

import bluez_bed
import edfio
import numpy as np
import pytest
from bluez_bed import BluezBed
from fake_sensor import FakeSensor, Squeeze, wearer_of
from musclewood.profiles.journal.records import InterruptionRecord
from musclewood.signal.recordings.recording_file import ANNOTATION_BYTES, mend_all
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sources.replay import read_recording
from own_process import BAND, DOSE, GOOD, MAXIMUM, PLAY, SENSOR, Begin, Run, recorded

pytestmark = pytest.mark.skipif(bool(bluez_bed.missing()), reason=bluez_bed.missing() or "usable")


def test_a_killed_session_leaves_its_samples(written_order: Callable[..., Path], tmp_path: Path, whole: Run) -> None:
    """kill -9 amid a session that records: another library reads all but the last two seconds, and the next start
    mends.

    The whole session of the next test plays meanwhile.
    """
    description = known_sensors().sensor(SENSOR)
    assert description is not None
    sensor, home = FakeSensor(description, wearer_of(description, [MAXIMUM, GOOD, GOOD])), tmp_path / "home"
    order = recorded(written_order(reps=8, **BAND, **DOSE))
    command = [*PLAY, str(order), "--source", f"ble:{SENSOR}", "--offscreen", "--home", str(home)]
    with BluezBed(sensor):
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=os.environ)
        limit_s, kept = time.monotonic() + 60.0, 0
        while kept < 4 or sensor.sent / 100.0 - kept > 2.0:  # a busy computer may be behind for a while
            assert time.monotonic() < limit_s, f"{kept} s kept of {sensor.sent / 100.0} s"
            time.sleep(0.01)
            kept = sum(seconds_on_disk(path) for path in home.glob("recordings/*.edf"))
        process.send_signal(signal.SIGKILL)
        process.communicate()
    (path,) = (home / "recordings").iterdir()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that the newest record may not be counted yet
        kept_s = len(edfio.read_edf(path).signals[0].data) / 1000.0
    assert kept <= kept_s <= sensor.sent / 100.0
    with open(path, "ab") as file:
        file.write(b"half a record")
    os.utime(path, (time.time() - 60.0,) * 2)
    assert mend_all(path.parent) == [path] and mend_all(path.parent) == []
    assert assert_others_can_read(path) == kept_s


def test_a_whole_session_from_launch_to_hand_over(whole: Run) -> None:
    """Squeezes that are too weak or too short among good ones: the verdicts are those of what the sensor sent."""
    out, reps, verdicts = whole.end(), whole.reps(), whole.truth
    assert [rep.verdict for rep in reps] == verdicts
    assert [line.split(": ")[1].split(" (")[0] for line in out.splitlines() if ", attempt " in line] == verdicts
    times = whole.wearer().times_s()[1:]
    for rep, (from_s, to_s) in zip(reps, times, strict=True):
        assert rep.onset_s - reps[0].onset_s == pytest.approx(from_s - times[0][0], abs=0.25)
        if rep.verdict != "counted":  # a counted rep is over once its hold is
            assert rep.held_s == pytest.approx(to_s - from_s, abs=0.25)
    assert_handed_over(whole, verdicts)
    assert_recorded(whole, verdicts.count("counted"))


def assert_handed_over(run: Run, verdicts: list[str]) -> None:
    (path,) = (run.home / "outbox").iterdir()
    with zipfile.ZipFile(path) as content:
        table = next(name for name in content.namelist() if name.endswith("repetitions.csv"))
        rows = list(csv.DictReader(StringIO(content.read(table).decode())))
    assert [row["verdict"] for row in rows] == verdicts


def assert_recorded(run: Run, counted: int) -> None:
    """Every sample in the recording is the one that the sensor sent, none is missing, and the reps are noted."""
    (path,) = (run.home / "recordings").iterdir()
    edf, kept, sent = edfio.read_edf(path), read_recording(path).samples_uv, run.wearer()
    end = round(next(note.onset for note in edf.annotations if note.text == "end of the recording") * 1000)
    for sent.first in range(20011):  # the number of the first sample is the only thing that is not known
        if all(abs(0.1 * sent(sent.first + n, 0) - kept[n, 0]) < 0.06 for n in range(20)):
            break
    wanted = np.array([[0.1 * sent(sent.first + n, channel) for channel in (0, 1)] for n in range(end)])
    assert np.abs(wanted - kept[:end]).max() < 0.06
    assert [note.text for note in edf.annotations].count("rep counted") == counted


@pytest.mark.full_size
@pytest.mark.parametrize(
    "happens",
    [
        ("hole", 2.0, "near"),
        ("power-off", 4.0, "power-on"),
        ("vanish", 4.0, "return"),
        ("adapter-off", 4.0, "adapter-on"),
    ],
    ids=lambda happens: happens[0],
)
def test_the_sensor_goes_amid_a_rep_and_comes_back(
    written_order: Callable[..., Path], runs: Begin, full: bool, happens: tuple[str, float, str]
) -> None:
    """One rep is made, one is in progress: that one is unreadable, and the session comes to its end all the same."""
    if not full:
        pytest.skip("takes half a minute each; played at full size (MUSCLEWOOD_FULL=1), and in virtual time always")
    gone, away_s, back = happens
    squeezes = [MAXIMUM, GOOD, Squeeze(1.8, 0.55, 3.0), *[GOOD] * 9]
    at_s = sum(squeeze.rest_s + squeeze.held_s for squeeze in squeezes[:2]) + 1.8 + 0.4
    order = written_order(reps=3, **{**BAND, **DOSE, "hold_s": 0.8})
    run = runs(order, squeezes, "--happens", f"{at_s}:{gone},{at_s + away_s}:{back}", name=gone)
    out = run.end()
    verdicts = [rep.verdict for rep in run.reps()]
    assert verdicts[:2] == ["counted", "unreadable"] and verdicts.count("counted") == 3, out
    with run.journal() as journal:
        (interruption,) = journal.records(1, InterruptionRecord)
    assert interruption.reason == "sensor" and away_s - 1.0 < interruption.duration_s < away_s + 3.5
    assert "paused (sensor)" in out


def seconds_on_disk(path: Path) -> int:
    """Whole records after the header: two signals of 1000 samples and the annotations, a second each."""
    return max(0, path.stat().st_size - 4 * 256) // (2 * 2 * 1000 + ANNOTATION_BYTES)


def assert_others_can_read(path: Path) -> float:
    """Seconds of signal that a library of somebody else's finds; two more agree where they are installed."""
    found = edfio.read_edf(path).signals[0].data
    if importlib.util.find_spec("pyedflib"):
        with importlib.import_module("pyedflib").EdfReader(str(path)) as theme:
            np.testing.assert_allclose(theme.readSignal(0), found, atol=0.01)
    if importlib.util.find_spec("mne"):
        raw = importlib.import_module("mne").io.read_raw_edf(path, verbose="error")
        np.testing.assert_allclose(1e6 * raw.get_data()[0], found, atol=0.01)
    return len(found) / 1000.0
