"""T1: zips that may be hostile."""

from __future__ import annotations

import io
import random
import stat
import struct
import warnings
import zipfile

import pytest
from musclewood.profiles.errors import ArchiveError
from musclewood.profiles.trust.archive import Limits, read_archive

SMALL = Limits(files=10, total_bytes=1 << 20, ratio=50, ratio_free_bytes=10_000)


def zipped(*files: tuple[str | zipfile.ZipInfo, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a name twice is what one test is about
        for name, content in files:
            archive.writestr(name, content)
    return buffer.getvalue()


def entry(name: str, kind: int = stat.S_IFREG) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.external_attr = (kind | 0o644) << 16
    return info


def test_a_plain_zip_gives_its_files() -> None:
    files = {"datapackage.json": b"{}", "recordings/2026-11-25 1.edf": bytes(999)}
    assert read_archive(zipped(*files.items())) == files
    assert read_archive(zipped()) == {}


@pytest.mark.parametrize(
    "name",
    [
        "../prescription.toml", "a/../../b", "/etc/passwd", "C:/windows", "C:evil", "..\\up", "a\\b", "a//b", "./a",
        "a/.",
        "", "a/", ".hidden", "nul", "con.csv", "name.", "name ", "a\nb", "a:b", "ä.csv", "x" * 130, "a/b/c/d/e", "~/a",
    ],
)  # fmt: skip
def test_names_that_could_land_elsewhere_are_refused(name: str) -> None:
    with pytest.raises(ArchiveError) as raised:
        read_archive(zipped(("fine.csv", b"1"), (entry(name), b"1")))
    assert "\n" not in str(raised.value)


def test_a_name_cut_by_a_zero_byte_is_refused() -> None:
    content = zipped(("aaaa.csv", b"1")).replace(b"aaaa.csv", b"aa\x00a.csv")
    with pytest.raises(ArchiveError):
        read_archive(content)


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFDIR, stat.S_IFIFO, stat.S_IFCHR])
def test_only_plain_files_are_read(kind: int) -> None:
    with pytest.raises(ArchiveError, match="no plain file"):
        read_archive(zipped((entry("link", kind), b"/etc/passwd")))


def test_two_files_with_one_name_are_refused() -> None:
    for names in (("a.csv", "a.csv"), ("a.csv", "A.CSV")):
        with pytest.raises(ArchiveError, match="two files"):
            read_archive(zipped(*((name, b"1") for name in names)))


def test_unusual_packing_is_refused() -> None:
    with pytest.raises(ArchiveError, match="unusual"):
        read_archive(zipped(("a.csv", b"1"), method=zipfile.ZIP_BZIP2))
    encrypted = bytearray(zipped(("a.csv", b"1")))
    encrypted[6] |= 1
    encrypted[encrypted.index(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(ArchiveError, match="unusual"):
        read_archive(bytes(encrypted))


def test_too_many_files_are_refused() -> None:
    files = [(f"{number}.csv", b"1") for number in range(11)]
    assert len(read_archive(zipped(*files[:10]), SMALL)) == 10
    with pytest.raises(ArchiveError, match="11 files"):
        read_archive(zipped(*files), SMALL)


def test_a_zip_that_unfolds_enormously_is_refused() -> None:
    with pytest.raises(ArchiveError, match="times its size"):
        read_archive(zipped(("a.csv", bytes(500_000))), SMALL)
    noise = random.Random(1).randbytes(400_000)
    assert read_archive(zipped(("a.csv", noise), ("b.csv", noise)), SMALL)
    with pytest.raises(ArchiveError, match="1 MB"):
        read_archive(zipped(*((f"{name}.csv", noise) for name in "abc")), SMALL)
    with pytest.raises(ArchiveError, match="times its size"):
        read_archive(zipped(("a.csv", bytes(40 << 20))))


def test_a_size_that_lies_is_not_believed() -> None:
    content = bytearray(zipped(("a.csv", bytes(900_000))))
    for start, offset in ((content.index(b"PK\x03\x04"), 22), (content.index(b"PK\x01\x02"), 24)):
        struct.pack_into("<I", content, start + offset, 1000)
    with pytest.raises(ArchiveError):
        read_archive(bytes(content), SMALL)


def test_many_small_files_cannot_unfold_past_the_total() -> None:
    tight = Limits(files=100, total_bytes=50_000, ratio=50, ratio_free_bytes=10_000)
    with pytest.raises(ArchiveError):
        read_archive(zipped(*((f"{number}.csv", bytes(9_000)) for number in range(6))), tight)


def test_damage_gives_one_clear_line_and_no_other_error(full: bool) -> None:
    content = zipped(
        ("datapackage.json", b"{}" * 50), ("sets.csv", b"1,2,3\n" * 200), ("report.html", bytes(range(256)))
    )
    chance = random.Random(9)
    spoiled = [content[:length] for length in range(0, len(content), 9)]
    for _ in range(5000 if full else 400):
        changed = bytearray(content)
        place = chance.randrange(len(content) * 8)
        changed[place // 8] ^= 1 << place % 8
        spoiled.append(bytes(changed))
    refused = 0
    for case in spoiled:
        try:
            read_archive(case)
        except ArchiveError:
            refused += 1
    assert refused > len(spoiled) // 2
