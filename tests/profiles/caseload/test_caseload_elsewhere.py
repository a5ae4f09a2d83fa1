"""A caseload is the same whoever works on it, and opens in DuckDB, in pandas and out of object storage."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime, timedelta
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import duckdb
import pytest
from musclewood.profiles.caseload import parquet
from musclewood.profiles.caseload.object_storage import put_caseload
from musclewood.profiles.caseload.parquet import gather
from musclewood.profiles.errors import HandoverError
from musclewood.profiles.handover.package import pack
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import read_ledger
from musclewood.profiles.orders.prescription import Prescription

START = datetime(2026, 11, 2, 16, tzinfo=UTC)
TABLES = ("days", "sessions", "sets", "repetitions", "calibrations", "ratings")


@pytest.fixture
def received(tmp_path: Path, play: Callable[..., int], knee: Prescription, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Six patients and a hand-over that cannot be read, in batches of two."""
    monkeypatch.setattr(parquet, "BATCH_FILES", 2)
    folder = tmp_path / "received"
    folder.mkdir()
    for number in range(6):
        with Journal.open(tmp_path / f"{number}.sqlite") as journal:
            for day in range(8 + number):
                play(journal, START + timedelta(days=2 * day), pain=(0, number % 3), mvc_uv=150.0 + 9 * day + number)
            ledger = read_ledger(journal)
        order = knee.model_copy(update={"patient": f"HB-005{number}"})
        content = pack(ledger, order, None, START + timedelta(days=40))
        (folder / f"HB-005{number}-0a0a0a0a-000001.zip").write_bytes(content)
    (folder / "HB-0059-0a0a0a0a-000001.zip").write_bytes(b"PK\x03\x04 holiday")
    return folder


def rows(folder: Path | str) -> dict[str, Any]:
    """Everything in a caseload, whatever its parts are called."""
    found = {}
    with duckdb.connect() as database:
        for table in TABLES:
            found[table] = database.execute(f"SELECT * FROM '{folder}/{table}/*.parquet' ORDER BY ALL").fetchall()
        found["patients"] = database.execute(f"SELECT * FROM '{folder}/patients.parquet' ORDER BY ALL").fetchall()
    return found


def test_two_processes_make_the_caseload_that_one_makes(received: Path, tmp_path: Path) -> None:
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        two = gather(received, tmp_path / "two", pool=pool)
    whole = gather_alone(received, tmp_path / "one")
    assert (two.patients, two.refused, two.alike) == (whole.patients, whole.refused, whole.alike)
    assert two.patients == 6 and len(two.refused) == 1 and two.alike is not None and two.alike[1] == 6
    assert rows(tmp_path / "two") == rows(tmp_path / "one")


def gather_alone(source: Path, into: Path) -> parquet.Gathered:
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(1) as pool:
        return gather(source, into, pool=pool)


def test_two_workers_of_a_cluster_make_the_same(received: Path, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="dask.distributed is not installed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert len(client.scheduler_info()["workers"]) == 2
        gather(received, tmp_path / "cluster", pool=client.get_executor())
    gather_alone(received, tmp_path / "one")
    assert rows(tmp_path / "cluster") == rows(tmp_path / "one")


def test_pandas_reads_what_duckdb_reads(received: Path, tmp_path: Path) -> None:
    pandas = pytest.importorskip("pandas", reason="pandas is not installed")
    pytest.importorskip("pyarrow", reason="pyarrow is not installed")
    gather_alone(received, tmp_path / "one")
    patients = pandas.read_parquet(tmp_path / "one" / "patients.parquet")
    with duckdb.connect() as database:
        names = [
            row[0] for row in database.execute(f"DESCRIBE SELECT * FROM '{tmp_path}/one/patients.parquet'").fetchall()
        ]
        sums = database.execute(
            f"SELECT sum(reps_counted), avg(mvc_uv) FROM '{tmp_path}/one/patients.parquet'"
        ).fetchone()
    assert list(patients.columns) == names
    assert sums is not None
    assert patients["reps_counted"].sum() == sums[0] and patients["mvc_uv"].mean() == pytest.approx(sums[1])
    reps = pandas.read_parquet(tmp_path / "one" / "repetitions")
    assert (reps["verdict"] == "counted").sum() == sums[0]


@pytest.fixture
def bucket(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A server that speaks S3, and an empty bucket in it."""
    for name in ("moto", "s3fs", "flask"):
        pytest.importorskip(name, reason=f"{name} is not installed: no S3 server to try it with")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    for key, value in {
        "AWS_ENDPOINT_URL": address, "AWS_ACCESS_KEY_ID": "invented", "AWS_SECRET_ACCESS_KEY": "invented",
        "AWS_DEFAULT_REGION": "us-east-1",
    }.items():  # fmt: skip
        monkeypatch.setenv(key, value)
    server = subprocess.Popen(
        [sys.executable, "-m", "moto.server", "-p", str(port)],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=os.environ.copy(),
    )  # fmt: skip
    try:
        for _ in range(150):
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.2)
        import s3fs

        s3fs.S3FileSystem(skip_instance_cache=True).mkdir("clinics")
        yield "s3://clinics/caseload"
    finally:
        server.terminate()
        server.wait(20)


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
def test_a_network_of_clinics_reads_it_from_object_storage(received: Path, bucket: str, tmp_path: Path) -> None:
    import s3fs

    gathered = gather_alone(received, tmp_path / "one")
    for _ in range(2):  # a newer caseload replaces an older one
        put_caseload(gathered.folder, bucket)
    system = s3fs.S3FileSystem(skip_instance_cache=True)
    with duckdb.connect() as database:
        database.register_filesystem(system)
        read = database.execute(f"SELECT * FROM read_parquet('{bucket}/patients.parquet') ORDER BY ALL").fetchall()
        (number,) = database.execute(
            f"SELECT count(*) FROM read_parquet('{bucket}/repetitions/*.parquet')"
        ).fetchone() or (0,)
    local = rows(gathered.folder)
    assert read == local["patients"] and number == len(local["repetitions"])
    assert not system.exists(f"{bucket}/unfinished.txt")
    system.pipe_file("clinics/holiday/beach.jpg", b"sun")
    with pytest.raises(HandoverError, match="something else"):
        put_caseload(gathered.folder, "s3://clinics/holiday")
