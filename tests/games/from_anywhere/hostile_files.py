"""Makes damaged and hostile files of every kind that comes from somewhere else, from sound ones, by a seed.

Three hands at work: a disk that damages bytes, somebody who knows the format and signs or seals what they made up, and
somebody who knows what breaks readers (bombs, deep nesting, numbers without end, letters that move a cursor).
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import random
import re
import zipfile
from collections.abc import Callable
from typing import Any

NUMBERS = (
    "1e308", "-1e308", "1e-320", "inf", "-inf", "nan", "1" + "0" * 300, "9" * 5000, "-1", "0", "1_000", "0x10", "1e999",
    "２", "1,5", "2147483648", "99999999999999999999", "+5", " 7", "",
)  # fmt: skip
MOMENTS = (
    "garbage", "2026-11-25", "2026-11-25T18:30:00", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00",
    "2026-02-30T10:00:00+01:00", "", "2026-11-25T25:00:00+01:00", "20261125T183000Z", "2026-W48-3T10:00+00:00",
    "1e308", "2026-11-25T18:30:00+23:59:59.999999",
)  # fmt: skip
TEXTS = (
    "\x1b[2J\x1b[1;1Hwords: alpha bravo", "a\nmusclewood: fine", "\x00", "\u202eevil", "=HYPERLINK(\"x\")", "@SUM(1)",
    "A" * 131_073, "\ufeff", "<script>alert(1)</script>", "'; DROP TABLE", "%s%n{0}", "\r\n", "\x85\u2028", "🦊" * 50,
    "../../etc/passwd", "null", "true", "\ud7ff",
)  # fmt: skip
JSONS: tuple[Any, ...] = (None, 0, -1, 1e308, [], {}, [[]], "x", True, [None], {"a": {}}, 10**30, "garbage", [1, "a"])
BYTES = (
    b"\x00" * 64, b"\xff\xfe", b"\xef\xbb\xbf", b"\xc3\x28", b"\xed\xa0\x80", b"[" * 3000, b"a." * 3000 + b"a=1\n",
    b'"""', b"'" * 5, b"\n\n[[x]]\n", b"\x1b[31m", b"{" * 2000, b"#" * 5000, b"\r", b"= = =", b"1e308", b"-" * 300,
)  # fmt: skip


def mutated(chance: random.Random, content: bytes, times: int = 0) -> bytes:
    """As a broken disk, a bad copy or a fuzzer leaves it."""
    data = bytearray(content)
    for _ in range(times or chance.randint(1, 6)):
        if not data:
            break
        at = chance.randrange(len(data))
        length = min(chance.choice((1, 2, 7, 64, 900)), len(data) - at)
        hand = chance.randrange(8)
        if hand == 0:
            for _ in range(chance.randint(1, 20)):
                data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        elif hand == 1:
            del data[at:]
        elif hand == 2:
            del data[at : at + length]
        elif hand == 3:
            data[at:at] = bytes(data[at : at + length]) * chance.choice((1, 2, 50))
        elif hand == 4:
            data[at:at] = chance.choice(BYTES)
        elif hand == 5:
            data[at : at + length] = chance.randbytes(length)
        elif hand == 6:
            numbers = list(re.finditer(rb"\d+(\.\d+)?", data))
            if numbers:
                one = chance.choice(numbers)
                data[one.start() : one.end()] = chance.choice(NUMBERS).encode()
        else:
            lines = bytes(data).split(b"\n")
            chance.shuffle(lines) if chance.random() < 0.3 else lines.insert(
                chance.randrange(len(lines)), chance.choice(lines)
            )
            data = bytearray(b"\n".join(lines))
    return bytes(data)


def packed(files: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return buffer.getvalue()


def unpacked(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def rehashed(files: dict[str, bytes]) -> dict[str, bytes]:
    """With the digests set right again, so that what was changed is really read."""
    package = json.loads(files["datapackage.json"])
    for resource in package["resources"]:
        if resource["path"] in files:
            resource["hash"] = f"sha256:{hashlib.sha256(files[resource['path']]).hexdigest()}"
    return files | {"datapackage.json": json.dumps(package).encode()}


def hostile_payload(chance: random.Random, sound: bytes) -> bytes:
    """The zip of a hand-over as no sound computer makes it."""
    files = unpacked(sound)
    hand: Callable[[random.Random, dict[str, bytes]], bytes] = chance.choice(
        (_a_cell, _a_cell, _a_cell, _a_row, _the_descriptor, _the_descriptor, _a_file, _a_file, _a_bomb, _an_order)
    )
    return mutated(chance, sound) if chance.random() < 0.15 else hand(chance, files)


def _a_cell(chance: random.Random, files: dict[str, bytes]) -> bytes:
    name = chance.choice([one for one in files if one.endswith(".csv")])
    rows = list(csv.reader(io.StringIO(files[name].decode(), newline="")))
    row = chance.choice(rows[1:]) if len(rows) > 1 else rows[0]
    row[chance.randrange(len(row))] = chance.choice(NUMBERS + MOMENTS + TEXTS)
    return packed(rehashed(files | {name: _as_csv(rows)}))


def _a_row(chance: random.Random, files: dict[str, bytes]) -> bytes:
    name = chance.choice([one for one in files if one.endswith(".csv")])
    rows = list(csv.reader(io.StringIO(files[name].decode(), newline="")))
    row = chance.choice(rows)
    match chance.randrange(4):
        case 0:
            row.pop()
        case 1:
            row.append("extra")
        case 2:
            rows += [row] * chance.choice((1, 3000))
        case _:
            rows.pop(0)
    return packed(rehashed(files | {name: _as_csv(rows)}))


def _the_descriptor(chance: random.Random, files: dict[str, bytes]) -> bytes:
    package = json.loads(files["datapackage.json"])
    inside = package["musclewood"]
    match chance.randrange(6):
        case 0:
            package["created"] = chance.choice(MOMENTS + JSONS)
        case 1:
            inside[chance.choice(sorted(inside))] = chance.choice(JSONS + TEXTS)
        case 2:
            package[chance.choice(sorted(package))] = chance.choice(JSONS + TEXTS)
        case 3:
            chance.choice(package["resources"])[chance.choice(("path", "hash", "name"))] = chance.choice(JSONS + TEXTS)
        case 4:
            deep = chance.choice((b"[", b'{"a":')) * chance.choice((500, 100_000))
            return packed(files | {"datapackage.json": deep})
        case _:
            inside["journal_notices"] = [chance.choice(TEXTS)[:900]] * chance.choice((1, 5000))
    return packed(files | {"datapackage.json": json.dumps(package, default=str).encode()})


def _a_file(chance: random.Random, files: dict[str, bytes]) -> bytes:
    name = chance.choice(sorted(files))
    if chance.random() < 0.2:
        return packed({key: content for key, content in files.items() if key != name})
    changed = files | {name: mutated(chance, files[name])}
    return packed(changed if name == "datapackage.json" else rehashed(changed))


def _an_order(chance: random.Random, files: dict[str, bytes]) -> bytes:
    return packed(files | {"prescription.toml": hostile_toml(chance, files["prescription.toml"])})


def _a_bomb(chance: random.Random, files: dict[str, bytes]) -> bytes:
    match chance.randrange(6):
        case 0:
            return packed(files | {"report.html": b"\0" * (40 << 20)})
        case 1:
            return packed(files | {f"{number}.txt": b"" for number in range(3000)})
        case 2:
            return packed(files | {"../../outside.txt": b"x", "con": b"x"})
        case 3:
            head = files["efforts.csv"].split(b"\r\n")[0]
            return packed(rehashed(files | {"efforts.csv": head + b'\r\n1,1,"' + b"1 " * 3_000_000 + b'"\r\n'}))
        case 4:
            head = files["ratings.csv"].split(b"\r\n")[0]
            rows = b"1,1,1.0,pain,3,before,\r\n" * 500_000
            return packed(rehashed(files | {"ratings.csv": head + b"\r\n" + rows}))
        case _:
            return packed(files | {"inner.zip": packed({"a": b"\0" * (30 << 20)})}, zipfile.ZIP_STORED)


def _as_csv(rows: list[list[str]]) -> bytes:
    buffer = io.StringIO(newline="")
    csv.writer(buffer, lineterminator="\r\n").writerows(rows)
    return buffer.getvalue().encode("utf-8", "surrogatepass")


def hostile_toml(chance: random.Random, sound: bytes) -> bytes:
    """A prescription, key, sensor description or settings file that is none, or says what it must not."""
    lines = sound.split(b"\n")
    match chance.randrange(9):
        case 0 | 1 | 2:
            return mutated(chance, sound)
        case 3:
            return sound + b"\n" + chance.choice((b"a.", b"'x'.", b'"y" . ')) * chance.choice((20, 40_000)) + b"a = 1\n"
        case 4:
            return sound + b"\nx = " + chance.choice((b"[", b"{a=")) * chance.choice((100, 20_000))
        case 5:
            return sound + b"\n" + b"".join(b"unknown%d = %d\n" % (number, number) for number in range(4000))
        case 6:
            values = [at for at, line in enumerate(lines) if b" = " in line]
            at = chance.choice(values)
            key = lines[at].split(b" = ")[0]
            value = chance.choice((*NUMBERS, *(json.dumps(text) for text in TEXTS), "[]", "{}", "2026-99-99", "[[1]]"))
            lines[at] = key + b" = " + value.encode("utf-8", "surrogatepass")
            return b"\n".join(lines)
        case 7:
            at = chance.randrange(len(lines))
            return b"\n".join(lines[:at] + [b"[[exercises]]"] * chance.choice((2, 3000)) + lines[at:])
        case _:
            return chance.choice((b"", b"\0" * 100_000, b"#" * 900_000, b"\xff\xfea\0", b"x = 1", b"[" * 900_000))


def hostile_name(chance: random.Random, patient: str) -> str:
    """How somebody who can write into the exchange folder calls a prescription."""
    return chance.choice(
        (
            f"{patient}-9999", f"{patient}-10000", f"{patient}-0001 (conflicted copy)", f"{patient}-0002\n\x1b[2Jx",
            f"{patient}-00٣", ".hidden", f"{patient}-0001", "-" * 200, "=cmd", "\u202e", f"{patient}-0003",
        )
    )  # fmt: skip
