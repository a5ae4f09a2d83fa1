"""Real servers on this machine: OpenSSH, a WebDAV server, and an S3 that keeps everything in memory.

Each is started when a test asks for it, and the test is skipped with the reason where the server is not installed.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

STARTS_WITHIN_S = 40.0


@dataclass
class Server:
    """address: of an empty exchange folder; elsewhere: the same with a slip in the folder or bucket; files: where the
    folder lies on this disk, if it does."""

    address: str
    elsewhere: str
    files: Path | None


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def started(command: list[str], port: int, log: Path, **options: object) -> subprocess.Popen[bytes]:
    """Raises when the server does not listen in time, with what it said."""
    with open(log, "wb") as said:
        process = subprocess.Popen(command, stdout=said, stderr=said, **options)  # type: ignore[call-overload]
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until and process.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return process  # type: ignore[no-any-return]
        time.sleep(0.1)
    process.kill()
    process.wait()
    pytest.skip(f"{command[0]} did not start: {log.read_text('utf-8', 'replace')[-300:]}")


def ended(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def needs(*packages: str) -> None:
    for package in packages:
        if importlib.util.find_spec(package) is None:
            pytest.skip(f"the package {package} is not installed")


@pytest.fixture
def webdav(tmp_path: Path) -> Iterator[Server]:
    needs("wsgidav", "cheroot", "webdav4")
    root = tmp_path / "dav"
    (root / "exchange").mkdir(parents=True)
    port = free_port()
    command = [sys.executable, "-m", "wsgidav.server.server_cli", "--host", "127.0.0.1", "--port", str(port)]
    server = started([*command, "--root", str(root), "--auth", "anonymous"], port, tmp_path / "dav.log")
    yield Server(f"webdav://127.0.0.1:{port}/exchange", f"webdav://127.0.0.1:{port}/exchnage", root / "exchange")
    ended(server)


@pytest.fixture
def s3(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    needs("moto", "s3fs", "boto3", "flask")
    port = free_port()
    server = started([sys.executable, "-m", "moto.server", "-p", str(port)], port, tmp_path / "s3.log")
    for key, value in {
        "AWS_ENDPOINT_URL": f"http://127.0.0.1:{port}",
        "AWS_ACCESS_KEY_ID": "invented",
        "AWS_SECRET_ACCESS_KEY": "invented",
        "AWS_DEFAULT_REGION": "us-east-1",
    }.items():
        monkeypatch.setenv(key, value)
    import boto3

    boto3.client("s3").create_bucket(Bucket="hornbeam")
    import fsspec

    fsspec.get_filesystem_class("s3").clear_instance_cache()
    yield Server("s3://hornbeam/exchange", "s3://hornbaem/exchange", None)
    fsspec.get_filesystem_class("s3").clear_instance_cache()
    ended(server)


@pytest.fixture
def sftp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """OpenSSH with a host key and a user's key of its own; the user's known_hosts has the host key."""
    needs("sshfs")
    sshd = shutil.which("sshd") or "/usr/sbin/sshd"
    if not Path(sshd).exists() or shutil.which("ssh-keygen") is None:
        pytest.skip("OpenSSH's server is not installed")
    if os.geteuid() == 0:
        Path("/run/sshd").mkdir(exist_ok=True)
    port, root, home = free_port(), tmp_path / "sftp", tmp_path / "user"
    (root / "exchange").mkdir(parents=True)
    (home / ".ssh").mkdir(parents=True)
    for path in (tmp_path / "host_key", home / ".ssh" / "id_ed25519"):
        subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(path)], check=True)
    shutil.copy(home / ".ssh" / "id_ed25519.pub", tmp_path / "authorized_keys")
    settings = {
        "Port": port, "ListenAddress": "127.0.0.1", "HostKey": tmp_path / "host_key", "StrictModes": "no",
        "AuthorizedKeysFile": tmp_path / "authorized_keys", "UsePAM": "no", "PasswordAuthentication": "no",
        "PidFile": "none", "Subsystem": "sftp internal-sftp", "PermitRootLogin": "prohibit-password",
    }  # fmt: skip
    (tmp_path / "sshd_config").write_text("".join(f"{key} {value}\n" for key, value in settings.items()))
    host_key = (tmp_path / "host_key.pub").read_text().split()[:2]
    (home / ".ssh" / "known_hosts").write_text(f"[127.0.0.1]:{port} {' '.join(host_key)}\n")
    monkeypatch.setenv("HOME", str(home))
    command = [sshd, "-D", "-e", "-f", str(tmp_path / "sshd_config")]
    server = started(command, port, tmp_path / "sshd.log", start_new_session=True)
    user = os.environ.get("USER") or __import__("pwd").getpwuid(os.geteuid()).pw_name
    at = f"sftp://{user}@127.0.0.1:{port}{root}"
    yield Server(f"{at}/exchange", f"{at}/exchnage", root / "exchange")
    ended(server)


@pytest.fixture(params=["sftp", "webdav", "s3"])
def server(request: pytest.FixtureRequest) -> Server:
    found: Server = request.getfixturevalue(request.param)
    return found


Run = Callable[..., tuple[int, str]]


@pytest.fixture
def run(capfd: pytest.CaptureFixture[str]) -> Run:
    """One command of the program; its exit code and all that it said."""
    from musclewood.games.__main__ import main

    def command(*arguments: object) -> tuple[int, str]:
        code = main([str(argument) for argument in arguments])
        told = capfd.readouterr()
        return code, told.out + told.err

    return command
