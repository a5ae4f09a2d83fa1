"""T7, a power cut at any moment of collect, exchange, sign, caseload and backup: nothing lost, doubled, left or
unnamed."""

from __future__ import annotations

import random
import re
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.errors import TrustError
from musclewood.profiles.exchange.admission import open_prescription
from watched_clinic import KNEE, NOW, handover

NAMED = re.compile(
    r"^received: hand-over (\d+) of (HB-\d+)(?P<again> \(when the last run was cut off\))?", re.MULTILINE
)


def kills(full: bool) -> int:
    return 100 if full else 2


def longest(nursery: Any, *command: object) -> float:
    """How long it takes when nobody ends it, by the processor; under load the kills come earlier, which is as good."""
    return 1.5 * float(nursery(*command).cpu_s) + 0.02


def leftovers(*roots: Path) -> list[str]:
    return [path.name for root in roots for path in root.rglob("*") if path.name.endswith(".part")]


@pytest.mark.full_size
def test_t7_collect(bed: Any, nursery: Any, full: bool) -> None:
    chance, collect = random.Random(1), ("desk", "--desk", bed.clinic.root, "collect")
    computers = [bed.patient(f"HB-{400 + number}") for number in range(3)]
    for computer in computers:
        bed.put(computer.sealed(handover(computer.patient)), computer.patient)
    bed.collect()
    with bed.clinic.naming():
        pass
    span, plain, told, sent = 0.0, [], set(), set()
    for number in range(kills(full) + 1):
        for computer in computers:
            bed.put(computer.sealed(handover(computer.patient)), computer.patient)
            sent.add((str(computer.sequence), computer.patient))
        span = span or longest(nursery, *collect)
        last = number == kills(full)
        ran = nursery(*collect, kill_after_s=None if last else chance.uniform(0, span))
        for match in NAMED.finditer(ran.said if ran.said.endswith("\n") else ran.said[: ran.said.rfind("\n") + 1]):
            told.add((match[1], match[2]))
            plain += [] if match["again"] else [(match[1], match[2])]
    said_first = {(str(1 + 1), computer.patient) for computer in computers}  # by the run that was only timed
    assert told | said_first == sent, "one was never named"
    assert len(plain) == len(set(plain)), "one was named twice without saying so"
    assert nursery(*collect).said == "nothing new\n"
    assert not leftovers(bed.clinic.root)
    for computer in computers:
        assert len(bed.clinic.done(computer.patient).sessions) == 2


@pytest.mark.full_size
def test_t7_sign_and_exchange(bed: Any, nursery: Any, full: bool, tmp_path: Path) -> None:
    chance, desk, home = random.Random(2), ("desk", "--desk", bed.clinic.root), tmp_path / "patient"
    bed.patient("HB-0042")
    visit = ("exchange", bed.exchange, "--patient", "HB-0042", "--home", home)
    assert nursery(*visit, "--words", " ".join(bed.clinic.words())).code == 0
    sign = ("prescribe", "--patient", "HB-0042", "--issue")
    signing, visiting = longest(nursery, *desk, *sign), longest(nursery, *visit)
    said = {2}
    for _ in range(kills(full)):
        ran = nursery(*desk, *sign, kill_after_s=chance.uniform(0, signing))
        said |= {int(number) for number in re.findall(r"^issued: revision (\d+) ", ran.said, re.MULTILINE)}
        nursery(*visit, kill_after_s=chance.uniform(0, visiting))
    assert nursery(*desk, *sign).code == 0 and nursery(*desk, "deliver").code == 0
    ran = nursery(*visit)
    orders = [order.revision for order in bed.clinic.orders("HB-0042")]
    assert orders == list(range(1, len(orders) + 1)) and said <= set(orders)
    assert ran.code == 0 and f"prescription {orders[-1]} for HB-0042" in ran.said
    for path in (bed.exchange / "to-home" / "HB-0042").iterdir():
        if not path.name.startswith("."):
            open_prescription(path.read_bytes())
    assert not leftovers(bed.clinic.root, home, bed.exchange)


@pytest.mark.full_size
def test_t7_caseload(bed: Any, nursery: Any, full: bool) -> None:
    pytest.importorskip("duckdb")
    chance = random.Random(3)
    for number in range(4):
        computer = bed.patient(f"HB-{500 + number}")
        bed.put(computer.sealed(handover(computer.patient)), computer.patient)
    bed.collect()
    into = bed.root / "caseload"
    gather = ("report", "--caseload", bed.clinic.root / "handovers", "--into", into)
    span = longest(nursery, *gather)
    whole = (into / "patients.csv").read_bytes()
    for _ in range(kills(full)):
        nursery(*gather, kill_after_s=chance.uniform(0, span))
        if into.exists():
            assert (into / "patients.csv").read_bytes() == whole
    assert nursery(*gather).code == 0 and (into / "patients.csv").read_bytes() == whole
    assert not leftovers(bed.root)


@pytest.mark.full_size
def test_t7_backup(bed: Any, nursery: Any, full: bool) -> None:
    chance, target, restored = random.Random(4), bed.root / "stick" / "desk.backup", bed.root / "restored"
    for number in range(5):
        bed.clinic.issue(
            bed.clinic.draft_from_template(KNEE, f"HB-{600 + number}", NOW.date()).set("muscles.0.side", "left"),
            bed.keys,
        )
    make = ("desk", "--desk", bed.clinic.root, "backup", "make", target)
    restore = ("desk", "--desk", restored, "backup", "restore", target)
    span = longest(nursery, *make)
    for _ in range(kills(full)):
        nursery(*make, kill_after_s=chance.uniform(0, span))
        nursery(*restore, kill_after_s=chance.uniform(0, span))
        assert target.exists()
        if (restored / "orders").exists():
            assert len(list((restored / "orders").glob("*.toml"))) == 5
    assert nursery(*make).code == 0 and nursery("desk", "backup", "verify", target).code == 0
    assert nursery(*restore).code == 0 or (restored / "orders").exists()
    assert not leftovers(bed.root)


def test_a_copy_that_is_damaged_by_the_kill_is_never_taken(bed: Any) -> None:
    """What `open_prescription` in the test above would raise for a file cut in the middle."""
    bed.patient("HB-0042")
    (path,) = (bed.exchange / "to-home" / "HB-0042").glob("*.toml")
    with pytest.raises(TrustError):
        open_prescription(path.read_bytes()[:-10])
