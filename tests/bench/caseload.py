"""How long a caseload takes: 10, 100 and 1,000 patient-years, each in a process of its own, with its memory.

Run with `python tests/bench/caseload.py`. The targets: 1,000 under 60 s and 1 GB, growing no faster than linearly.
Afterwards the desk's list of 200 patients, which is to open in under a second.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

from invented_years import a_year, an_order, reps_of_year, write_many

SIZES = (10, 100, 1000)


def gathered(folder: Path, into: Path, alone: bool) -> tuple[float, float, float, float]:
    """Seconds, processor seconds of it and its workers, and the largest memory in MB with and without what Python and
    its modules take."""
    from musclewood.profiles.caseload.parquet import gather

    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began, busy = time.perf_counter(), processor_s()
    if alone:
        with ThreadPoolExecutor(1) as pool:
            gather(folder, into, pool=pool)
    else:
        gather(folder, into)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return time.perf_counter() - began, processor_s() - busy, most / 1024, (most - before) / 1024


def processor_s() -> float:
    """Of this process and of those that it started and that ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def main() -> None:
    sizes = tuple(int(argument) for argument in sys.argv[1:]) or SIZES
    order = an_order()
    year = a_year(order, 0)
    print(f"a patient-year: {len(year.sessions)} sessions, {reps_of_year(year)} attempts")
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            source = Path(folder) / f"of-{size}"
            write_many(source, size)
            weight = sum(path.stat().st_size for path in source.iterdir()) / 1e6
            for way in ("one process", "all cores"):
                with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
                    into = Path(folder) / f"caseload-{size}-{way}"
                    seconds, busy, most, grown = pool.submit(gathered, source, into, way == "one process").result()
                print(f"  {way}: {seconds:.1f} s; processor {busy:.1f} s")
            print(
                f"{size:5d} patient-years ({weight:.0f} MB): {seconds:.1f} s ({1e3 * seconds / size:.0f} ms "
                f"each; processor {busy:.1f} s), at most {most:.0f} MB ({grown:.0f} above the program)"
            )


if __name__ == "__main__":
    main()
