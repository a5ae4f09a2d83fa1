"""T10: the whole way through each kind of address, against the real server: order, fetch, hand over, collect.

Servers: OpenSSH's sshd, wsgidav on cheroot, moto's S3.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from musclewood.games.home.handing_over import hand_over
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.errors import StorageError
from musclewood.profiles.exchange.places import open_place
from musclewood.profiles.home.exchange import remembered_address
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import SessionStart
from musclewood.profiles.trust.key_file import LOWEST

TODAY = date(2026, 11, 25)
# The libraries close their sockets when the program ends, which is soon enough for a command.
pytestmark = pytest.mark.filterwarnings(
    "ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning", "ignore::DeprecationWarning"
)
KNEE = "weak-thigh-after-knee-operation"


def test_a_whole_round(server: Any, run: Any, tmp_path: Path) -> None:
    clinic = Clinic(tmp_path / "desk")
    clinic.save_settings(DeskSettings(clinic="Hornbeam practice", exchange=server.address))
    keys = clinic.make_key("twig lantern kettle plank", LOWEST)
    home = Home(tmp_path / "home")
    today = datetime.now(UTC).date()
    first = clinic.issue(clinic.draft_from_template(KNEE, "HB-0042", today).set("muscles.0.side", "left"), keys)
    assert first.delivered, first.trouble
    words = " ".join(clinic.words())
    visit = ("exchange", server.address, "--home", home.root)
    code, told = run(*visit, "--patient", "HB-0042", "--words", words)
    assert code == 0 and "now in force" in told
    assert remembered_address(home) == server.address
    with Journal.open(home.journal_path("HB-0042")) as journal:
        journal.begin_session(SessionStart("HB-0042", 1, "ble", datetime.now(UTC).isoformat(), "Europe/Prague"))
        hand_over(journal, first.prescription, home)
    code, told = run("exchange", "--home", home.root)
    assert code == 0 and told.count("sent: ") == 1
    collected = clinic.collect(keys, TODAY, confirm=lambda _: True)
    assert len(collected.received) == 1 and not collected.refused
    # A second revision takes the place of the first, and running everything again changes nothing.
    assert clinic.issue(clinic.draft_from_last("HB-0042", today), keys).delivered
    assert "prescription 2" in run("exchange", "--home", home.root)[1]
    assert "sent" not in run("exchange", "--home", home.root)[1] and clinic.deliver() == []


def test_a_file_that_was_cut_off_is_replaced_and_no_part_is_left(server: Any) -> None:
    place = open_place(server.address)
    for content in (b"half", b"the whole of it", b"the whole of it, again"):
        place.write("to-clinic", "one.sealed", content)
        assert place.read("to-clinic", "one.sealed", 100) == content
    assert place.sizes("to-clinic") == {"one.sealed": 22}
    with pytest.raises(StorageError, match="more than 5 bytes"):
        place.read("to-clinic", "one.sealed", 5)
    if server.files is not None:
        assert [path.name for path in (server.files / "to-clinic").iterdir()] == ["one.sealed"]


def test_a_slip_in_the_address_is_said_and_not_remembered(server: Any, run: Any, tmp_path: Path) -> None:
    home = Home(tmp_path / "home")
    code, told = run("exchange", server.elsewhere, "--patient", "HB-0042", "--home", home.root)
    assert code == 1 and told.count("\n") == 1
    assert "no such folder" in told or "cannot be read" in told
    assert remembered_address(home) == ""
    with pytest.raises(StorageError):
        open_place(server.elsewhere).write("to-clinic", "one.sealed", b"1")
    with pytest.raises(StorageError):  # the failed write made nothing
        open_place(server.elsewhere).sizes("to-clinic")


def test_a_server_with_an_unknown_key_is_refused(sftp: Any) -> None:
    hosts = Path("~/.ssh/known_hosts").expanduser()
    for content in ("", hosts.read_text().replace("AAAA", "AAAB")):
        hosts.write_text(content)
        with pytest.raises(StorageError, match=r"does not know the server's key.*ssh"):
            open_place(sftp.address).sizes("to-clinic")


def test_a_link_at_an_address_is_no_file(sftp: Any, tmp_path: Path) -> None:
    (tmp_path / "secret").write_bytes(b"secret")
    (sftp.files / "to-clinic").mkdir()
    (sftp.files / "to-clinic" / "one.sealed").symlink_to(tmp_path / "secret")
    assert open_place(sftp.address).sizes("to-clinic") == {}


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("webdav:///folder", "names no computer"),
        ("http://127.0.0.1/x", "can only be read"),
        ("gopher://x/y", "no kind of address"),
        ("webdav://127.0.0.1:1/x", "cannot be read"),
        ("sftp://127.0.0.1:1/x", "cannot be opened"),
    ],
)
def test_what_cannot_be_opened_says_why_in_one_line(address: str, says: str) -> None:
    pytest.importorskip("webdav4")
    pytest.importorskip("sshfs")
    with pytest.raises(StorageError, match=says) as caught:
        open_place(address).sizes("to-clinic")
    assert "\n" not in str(caught.value)


def test_plain_http_only_to_this_machine_itself() -> None:
    pytest.importorskip("webdav4")
    for host, scheme in (
        ("127.0.0.1", "http"),
        ("[::1]", "http"),
        ("localhost", "http"),
        ("hornbeam.example", "https"),
    ):
        place: Any = open_place(f"webdav://{host}/x")
        assert str(place._system.client.base_url).startswith(f"{scheme}://")
