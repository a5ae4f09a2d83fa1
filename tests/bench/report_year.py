"""How long a year's report takes, from the opened hand-over to the page and as a command of its own, and the desk's
list.

Run with `python tests/bench/report_year.py`. The targets: 3 s for the report, 1 s for the list of 200 patients.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from invented_years import DAYS_A_YEAR, FIRST, a_year, an_order, reps_of_year
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.handover.package import pack
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.orders.prescription import dump
from musclewood.profiles.report.page import render_report
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.signature import sign

MADE = datetime(FIRST.year, FIRST.month, FIRST.day, 20, tzinfo=UTC) + timedelta(days=DAYS_A_YEAR - 1)
PATIENTS = 200


def report() -> bytes:
    order = an_order("co-contracting-hamstring")
    year = a_year(order, 1)
    packed = pack(year, order, None, MADE)
    print(
        f"a year: {len(year.sessions)} sessions, {reps_of_year(year)} attempts, hand-over of {len(packed) / 1e6:.1f} MB"
    )
    for attempt in range(3):
        began, busy = time.perf_counter(), time.process_time()
        handover = read_handover(packed)
        read = time.perf_counter()
        page = render_report(handover.ledger, handover.prescription, now=MADE)
        done = time.perf_counter()
        print(
            f"report, run {attempt + 1}: {done - began:.2f} s (read {read - began:.2f}, render {done - read:.2f}); "
            f"processor {time.process_time() - busy:.2f} s; {len(page) / 1e6:.2f} MB of HTML"
        )
    return packed


def command(packed: bytes) -> None:
    """`musclewood report` in a process of its own, from its start to its end."""
    with tempfile.TemporaryDirectory() as folder:
        handover = Path(folder) / "year.zip"
        handover.write_bytes(packed)
        for attempt in range(2):
            began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run([sys.executable, "-m", "musclewood.games", "report", str(handover)], check=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            print(f"command, run {attempt + 1}: {time.perf_counter() - began:.2f} s; processor {busy:.2f} s")


def desk(packed: bytes) -> None:
    """Every patient with a year handed over; once from nothing, then as it opens every day."""
    keys = ClinicKeys.new()
    with tempfile.TemporaryDirectory() as folder:
        clinic = Clinic(Path(folder))
        for name in ("orders", "handovers"):
            (clinic.root / name).mkdir()
        for number in range(PATIENTS):
            code = f"HB-{10000 + number}"
            signed = sign(dump(an_order("co-contracting-hamstring", code)).encode(), keys)
            (clinic.root / "orders" / f"{code}-0001.prescription.toml").write_bytes(signed)
            (clinic.root / "handovers" / f"{code}-{number:08x}-000001.zip").write_bytes(packed)
        for what in ("first time ever", "every day after", "and again"):
            began, busy = time.perf_counter(), time.process_time()
            rows = clinic.patients(MADE.date())
            print(
                f"desk, {len(rows)} patients, {what}: {time.perf_counter() - began:.3f} s; "
                f"processor {time.process_time() - busy:.3f} s"
            )


if __name__ == "__main__":
    year = report()
    command(year)
    desk(year)
