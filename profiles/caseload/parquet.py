"""All hand-overs of a folder as one table and Parquet files, through DuckDB.

    patients.csv, patients.parquet   one line a patient: adherence, recent MVC, pain, signal
    days/                            one line a patient and day
    sessions/, sets/, repetitions/, calibrations/, interruptions/, ratings/, scaling/
    refused.csv                      hand-overs that could not be read, and why
    datapackage.json, columns.csv    what every column means

A batch holds whole patients, so that memory stays the same and time grows with their number, however many there are.
"""

from __future__ import annotations

import csv
import glob
import importlib
import os
import shutil
import tempfile
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from musclewood.assets.saying import Saying, say
from musclewood.profiles.caseload.batches import (
    TABLES,
    Found,
    Listed,
    batches,
    list_handovers,
    numbered_rows,
    read_found,
    refuse_unsound,
)
from musclewood.profiles.caseload.patients import Case, add_reps, add_session, rows_of
from musclewood.profiles.caseload.schema import MARK, duck_columns, package_text, table_columns, write_columns
from musclewood.profiles.disk.files import sync_folder, sync_tree
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.disk.plain_text import safe_cell
from musclewood.profiles.errors import HandoverError
from musclewood.profiles.handover.columns import columns_of
from musclewood.profiles.plan.recent_mvc import Measured

BATCH_FILES = 40
EARLIER_NAME = "earlier"
MEMORY = "400MB"
SMALL = tuple(table for table in TABLES if table != "repetitions")  # kept in memory while a batch is worked on
THREADS = 2
# Pieces of the work, so that progress is seen and no worker waits long for the last; room for the names of their parts.
SLICES, PARTS_A_SLICE = 6, 10_000


Tell = Callable[[int, int], None]
# A session is known by its start, so that what two computers both hold is there once; the fuller copy stays.
_KEPT = """
CREATE OR REPLACE TEMP TABLE kept AS
SELECT patient, hand_over, session FROM (
    SELECT s.patient, s.hand_over, s.session, row_number() OVER (
        PARTITION BY s.patient, s.started_at, s.source, s.sensor, s.revision
        ORDER BY n.attempts DESC NULLS LAST, s.ended_at IS NULL, s.hand_over DESC) AS place
    FROM sessions s LEFT JOIN (
        SELECT hand_over, session, sum(attempts) AS attempts FROM sets GROUP BY ALL) n USING (hand_over, session))
WHERE place = 1
"""
_REPS = """
SELECT r.patient, r.hand_over, r.session, exercise_id, count(*) FILTER (verdict = 'counted'), count(*),
       coalesce(sum(in_band_s) FILTER (verdict = 'counted'), 0)
FROM read_parquet('{path}') r JOIN counting USING (hand_over, session) GROUP BY ALL
"""
_SETS = """
SELECT t.patient, t.hand_over, t.session, count(*) FILTER (reps_counted >= reps_ordered)
FROM sets t JOIN counting USING (hand_over, session) GROUP BY ALL
"""
_FIGURES = {
    "highest_pain": "SELECT patient, max(value) FILTER (what = 'pain') FROM ratings JOIN counting USING "
    "(hand_over, session)",
    "pain_stops": "SELECT patient, count(*) FILTER (ending = 'pain' AND (hand_over, session) NOT IN (SELECT "
    "(hand_over, session) "
    "FROM ratings WHERE what = 'pain' AND moment = 'after')) FROM sessions JOIN counting USING (hand_over, session)",
    "cocontraction_pct": "SELECT patient, avg(cocontraction_pct) FROM sets JOIN counting USING (hand_over, session)",
    "sets_tired": "SELECT patient, count(*) FILTER (cut_short = 'tired') FROM sets JOIN counting USING "
    "(hand_over, session)",
    "sets_poor_pct": "SELECT patient, 100.0 * count(*) FILTER (quality = 'poor') / nullif(count(quality), 0) "
    "FROM sets JOIN counting USING (hand_over, session)",
}


@dataclass(frozen=True)
class Gathered:
    """What came of it. `refused` are files with the reason in one line; `sealed` ones were left out."""

    folder: Path
    patients: int
    files: int
    refused: tuple[tuple[Path, str], ...]
    sealed: int
    alike: tuple[float, int] | None = None  # lag-one correlation of days, pooled, and over how many patients


def gather(source: Path, into: Path, tell: Tell = lambda done, of: None, *, pool: Executor | None = None) -> Gathered:
    """Read every hand-over below `source` and write the caseload to `into`, which is new or holds an earlier caseload.

    `tell` hears how many of how many files are done. `pool` does the work: without one, as many processes as there are
    cores, where there is enough for more than one. An executor of dask.distributed takes it to other machines that see
    the same folders. The caseload is the same whoever does it. Raises HandoverError when nothing can be read or
    written, OSError.
    """
    duckdb = _duckdb()
    listed = list_handovers(source)
    if not listed.files:
        sealed = f"; {listed.sealed} are still sealed" if listed.sealed else ""
        raise HandoverError(
            say("wrong.no-hand-over-lies", source=source, sealed=sealed), say("mend.open-sealed-ones-musclewood")
        )
    with locked(into):
        _clear_leftovers(into)
        _refuse_foreign(into)
        return _gathered(duckdb, listed, into, tell, pool)


def _gathered(duckdb: Any, listed: Listed, into: Path, tell: Tell, pool: Executor | None) -> Gathered:
    parts = list(batches(listed, BATCH_FILES))
    with (
        tempfile.TemporaryDirectory(prefix=f".{into.name}.", suffix=".part", dir=into.parent) as work,
        ExitStack() as own,
    ):
        target = Path(work) / "caseload"
        slices = [_Slice(target, Path(work), number, part) for number, part in enumerate(_sliced(parts))]
        if pool is None and len(slices) > 1 and (cores := min(len(slices), os.cpu_count() or 1)) > 1:
            pool = own.enter_context(ProcessPoolExecutor(cores, get_context("spawn")))
        patients: list[list[Any]] = []
        refused: list[tuple[Path, str]] = []
        done = 0
        for piece, worked in zip(slices, (pool.map if pool else map)(_work, slices), strict=True):
            patients += worked.patients
            refused += worked.refused
            done += sum(map(len, piece.batches))
            tell(done, listed.files)
        _finish(duckdb, target, Path(work), patients, refused)
        _put_in_place(target, into)
    return Gathered(into, len(patients), listed.files, tuple(refused), listed.sealed, _alike(patients))


def _alike(patients: Sequence[list[Any]]) -> tuple[float, int] | None:
    """The mean of the patients' lag-one correlations, each with the weight of its days."""
    names = list(table_columns("patients"))
    lag, sessions = names.index("mvc_lag_one"), names.index("sessions")
    known = [(row[lag], row[sessions]) for row in patients if row[lag] is not None]
    days = sum(weight for _, weight in known)
    return (sum(value * weight for value, weight in known) / days, len(known)) if days else None


@dataclass(frozen=True)
class _Slice:
    """Some batches in a row, for one worker."""

    target: Path
    work: Path
    number: int
    batches: tuple[tuple[Path, ...], ...]


@dataclass(frozen=True)
class _Worked:
    patients: list[list[Any]]
    refused: list[tuple[Path, str]]


def _sliced(parts: Sequence[tuple[Path, ...]]) -> list[tuple[tuple[Path, ...], ...]]:
    """At most SLICES of nearly the same size; one where there is only one batch."""
    size = -(-len(parts) // SLICES)
    return [tuple(parts[start : start + size]) for start in range(0, len(parts), size)]


def _work(piece: _Slice) -> _Worked:
    """All batches of a slice, in whichever process this is."""
    refused: list[tuple[Path, str]] = []
    with tempfile.TemporaryDirectory(dir=piece.work) as own:
        writer = _Writer(_duckdb(), piece.target, Path(own), piece.number * PARTS_A_SLICE)
        for _, batch in _read_ahead(piece.batches, refused):
            writer.add_sound(batch, refused)
        return _Worked(writer.close(), refused)


def _finish(
    duckdb: Any, target: Path, work: Path, patients: Sequence[list[Any]], refused: Sequence[tuple[Path, str]]
) -> None:
    """The table of patients and the descriptions."""
    _write_rows(work / "patients.csv", "patients", patients)
    source = f"SELECT * FROM read_csv('{_quoted(work / 'patients.csv')}', {_csv_options('patients')})"
    with duckdb.connect(":memory:") as database:
        for form in ("(FORMAT parquet)", "(FORMAT csv, HEADER)"):
            name = "patients.parquet" if "parquet" in form else "patients.csv"
            database.execute(f"COPY ({source} ORDER BY patient) TO '{_quoted(target / name)}' {form}")
    with open(target / "refused.csv", "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(
            [("file", "reason"), *((safe_cell(str(path)), safe_cell(reason)) for path, reason in refused)]
        )
    write_columns(target / "columns.csv")
    (target / "datapackage.json").write_text(package_text(target, datetime.now(UTC)), encoding="utf-8")


def _write_rows(path: Path, table: str, rows: Sequence[Sequence[Any]]) -> None:
    with open(path, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([list(table_columns(table)), *rows])


class _Writer:
    """Takes batches of hand-overs and leaves the files of the caseload in `target`."""

    def __init__(self, duckdb: Any, target: Path, work: Path, first: int) -> None:
        self._target, self._work, self._number = target, work, first
        self._patients: list[list[Any]] = []
        # What a hand-over that is wrong in a cell makes of a batch.
        self._unsound = (ValueError, TypeError, LookupError, ArithmeticError, duckdb.Error)
        self._db = duckdb.connect(":memory:")
        self._db.execute(
            f"SET memory_limit = '{MEMORY}'; SET threads = {THREADS}; SET preserve_insertion_order = false"
        )
        self._db.execute(f"SET temp_directory = '{_quoted(work / 'spill')}'")
        for table in (*TABLES, "days"):
            (target / table).mkdir(parents=True, exist_ok=True)

    def add_sound(self, batch: Sequence[Found], refused: list[tuple[Path, str]]) -> None:
        """A whole batch; where one hand-over makes it fail, each is looked at closely, and only that one is refused."""
        before, patients = self._number, len(self._patients)
        try:
            return self.add(batch)
        except self._unsound as error:
            self._forget_since(before, patients)
            if len(batch) == 1:
                refused.append((batch[0].path, _no_tables(error)))
                return
        sound = []
        for found in batch:
            try:
                refuse_unsound(found)
            except HandoverError as error:
                refused.append((found.path, error.args[0]))
            else:
                sound.append(found)
        if len(sound) < len(batch):
            return self.add_sound(sound, refused)
        for _, same_patient in groupby(sound, key=lambda found: found.patient):
            self._add_one_patient(list(same_patient), refused)

    def _add_one_patient(self, batch: list[Found], refused: list[tuple[Path, str]]) -> None:
        """Every cell is well, and yet something does not fit; the newest hand-overs of the patient go first."""
        while batch:
            before, patients = self._number, len(self._patients)
            try:
                return self.add(batch)
            except self._unsound as error:
                self._forget_since(before, patients)
                left_out = batch.pop()
                refused.append((left_out.path, _no_tables(error)))

    def _forget_since(self, number: int, patients: int) -> None:
        """Take back what a batch left that failed."""
        for part in (self._part(table) for table in (*TABLES, "days")):
            part.unlink(missing_ok=True)
        self._number = number
        del self._patients[patients:]

    def add(self, batch: Sequence[Found]) -> None:
        if not batch:
            return
        self._number += 1
        self._db.execute("CREATE OR REPLACE TEMP TABLE sources (number BIGINT, code VARCHAR, hand_over VARCHAR)")
        self._db.executemany(
            "INSERT INTO sources VALUES (?, ?, ?)",
            [(number, found.patient, found.path.name) for number, found in enumerate(batch)],
        )
        for table in SMALL:
            self._db.execute(f"CREATE OR REPLACE TEMP TABLE {table} AS {self._as_read(table, batch)}")
        self._db.execute(_KEPT)
        self._db.execute(
            "CREATE OR REPLACE TEMP TABLE counting AS SELECT hand_over, session FROM kept "
            "JOIN sessions USING (hand_over, session) WHERE NOT practice"
        )
        ((left_out,),) = self._rows("SELECT (SELECT count(*) FROM sessions) - (SELECT count(*) FROM kept)")
        only_kept = "JOIN kept USING (hand_over, session)" if left_out else ""  # mostly nothing is there twice
        for table in TABLES:
            columns = ", ".join(f't."{column}"' for column in table_columns(table))
            source = table if table in SMALL else f"({self._as_read(table, batch)})"
            self._copy(f"SELECT {columns} FROM {source} t {only_kept}", table)
        self._add_patients(batch)

    def close(self) -> list[list[Any]]:
        """The lines of all patients."""
        self._db.close()
        return self._patients

    def _as_read(self, table: str, batch: Sequence[Found]) -> str:
        """A query for one table of every hand-over of a batch, with the patient and the file it comes from."""
        path = self._work / f"{table}.csv"
        with open(path, "wb") as file:
            file.write(f"number,{','.join(columns_of(table))}\r\n".encode())
            file.writelines(numbered_rows(number, found.tables[table]) for number, found in enumerate(batch))
        own = "* EXCLUDE (patient)" if table == "sessions" else "*"
        return (
            f"SELECT code AS patient, hand_over, c.* EXCLUDE (number) FROM "
            f"(SELECT {own} FROM read_csv('{_quoted(path)}', {_csv_options(table)})) c JOIN sources USING (number)"
        )

    def _part(self, table: str) -> Path:
        return self._target / table / f"part-{self._number:05d}.parquet"

    def _copy(self, query: str, table: str) -> None:
        self._db.execute(f"COPY ({query}) TO '{_quoted(self._part(table))}' (FORMAT parquet, COMPRESSION zstd)")

    def _add_patients(self, batch: Sequence[Found]) -> None:
        cases = _cases(batch)
        for code, name, session, started in self._rows(
            "SELECT patient, hand_over, session, started_at FROM sessions JOIN counting USING (hand_over, session)"
        ):
            add_session(cases[code], name, session, started)
        for code, name, session, exercise, made, tried, in_band_s in self._rows(
            _REPS.format(path=_quoted(self._part("repetitions")))
        ):
            add_reps(cases[code], (name, session), exercise, made, tried, in_band_s)
        for code, name, session, whole in self._rows(_SETS):
            cases[code].sessions[name, session].sets_done = whole
        for code, muscle, started, mvc_uv, cv, sensor in self._rows(
            "SELECT c.patient, muscle, started_at, mvc_uv, cv, sensor FROM calibrations c JOIN counting "
            "USING (hand_over, session) JOIN sessions USING (hand_over, session) WHERE mvc_uv IS NOT NULL"
        ):
            cases[code].calibrations.append(
                (muscle, Measured(datetime.fromisoformat(started), mvc_uv, cv, sensor or ""))
            )
        for key, query in _FIGURES.items():
            for code, value in self._rows(f"{query} GROUP BY patient"):
                cases[code].figures[key] = value
        days: list[list[Any]] = []
        for case in cases.values():
            line, of_days = rows_of(case)
            self._patients.append(line)
            days += of_days
        _write_rows(self._work / "days.csv", "days", days)
        self._copy(f"SELECT * FROM read_csv('{_quoted(self._work / 'days.csv')}', {_csv_options('days')})", "days")

    def _rows(self, query: str) -> list[tuple[Any, ...]]:
        rows: list[tuple[Any, ...]] = self._db.execute(query).fetchall()
        return rows


def _cases(batch: Sequence[Found]) -> dict[str, Case]:
    cases: dict[str, Case] = {}
    for found in batch:
        case = cases.setdefault(found.patient, Case(found.patient))
        case.orders |= {order.revision: order for order in found.orders}
        case.hand_overs += 1
        case.newest = max(case.newest or found.created, found.created)
        case.remarks += found.problems
    return cases


def _read_ahead(parts: Iterable[Sequence[Path]], refused: list[tuple[Path, str]]) -> Iterator[tuple[int, list[Found]]]:
    """Each batch with the number of its files; the next one is read while DuckDB works on this one."""
    with ThreadPoolExecutor(1) as reader:
        waiting: deque[tuple[int, Future[list[Found]]]] = deque()
        for paths in parts:
            waiting.append((len(paths), reader.submit(_read_all, paths, refused)))
            if len(waiting) == 2:
                number, batch = waiting.popleft()
                yield number, batch.result()
        for number, batch in waiting:
            yield number, batch.result()


def _no_tables(error: Exception) -> Saying:
    return say("wrong.no-tables", reason=" ".join(str(error).split())[:160])


def _read_all(paths: Sequence[Path], refused: list[tuple[Path, str]]) -> list[Found]:
    found = []
    for path in paths:
        try:
            found.append(read_found(path))
        except HandoverError as error:
            refused.append((path, error.args[0]))
    return found


def _csv_options(table: str) -> str:
    return (
        "header = true, auto_detect = false, delim = ',', quote = '\"', escape = '\"', nullstr = '', "
        f"columns = {duck_columns(table)}"
    )


def _quoted(path: Path) -> str:
    return str(path).replace("'", "''")


def _duckdb() -> Any:
    try:
        return importlib.import_module("duckdb")
    except ImportError:
        raise HandoverError(
            say("wrong.caseload-needs-package-duckdb"), say("mend.install-musclewood-caseload")
        ) from None


def _refuse_foreign(into: Path) -> None:
    """What lies at the target is replaced only when it is a caseload."""
    if not into.exists() or (into.is_dir() and not any(into.iterdir())):
        return
    try:
        ours = MARK in (into / "datapackage.json").read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        ours = False
    if not ours:
        raise HandoverError(say("wrong.something-else", into=into), say("mend.name-new-folder-into"))


def _put_in_place(target: Path, into: Path) -> None:
    """The whole caseload appears at once, durable; an earlier one is moved aside until then."""
    sync_tree(target)
    if into.exists():
        into.rename(target.with_name(EARLIER_NAME))
    target.rename(into)
    sync_folder(into.parent)


def _clear_leftovers(into: Path) -> None:
    """What a killed run left. If it was killed between its two renames, the earlier caseload comes back."""
    for left in into.parent.glob(f".{glob.escape(into.name)}.*.part"):
        earlier = left / EARLIER_NAME
        if earlier.exists() and not into.exists():
            earlier.rename(into)
        shutil.rmtree(left, ignore_errors=True)
