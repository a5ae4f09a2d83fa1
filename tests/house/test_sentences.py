"""Every code that a room gives to a person has its sentence in every language; a sentence in the code is found.

Codes are taken from the code itself: enumerations and literal types. A key that is put together while the program runs
(`words(f"advice.{name}")`) stands here with all that may fill it, so that a new code without a sentence is seen.
"""

from __future__ import annotations

import ast
import re
import typing
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TypeVar

import pytest
from musclewood.assets.saying import catalogue
from musclewood.games.engine.endings import Why
from musclewood.games.kit.words import LANGUAGES
from musclewood.games.running.errors import CommandError
from musclewood.profiles.errors import HandoverError, JournalError, PrescriptionError, TrustError
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.plan.reasons import Change, Reason
from musclewood.profiles.report.words import Words as ReportWords
from musclewood.profiles.report.words import catalogue as report_catalogue
from musclewood.signal.errors import RecordingError, SensorError
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.quality.quality import FaultName
from musclewood.signal.sensors.description import SensorDescriptionError
from musclewood.signal.sensors.troubles import Trouble

from tests.house.source import HOUSE, nodes, written_down

Kind = TypeVar("Kind", bound=Exception)


def kinds_of(kind: type[Kind]) -> Iterator[type[Kind]]:
    yield kind
    for child in kind.__subclasses__():
        yield from kinds_of(child)


WHY, PAINS = typing.get_args(Why), ("pain-level", "pain-rise")

# Which codes may fill the gap of each key, by the room that gives them.
CODES: dict[str, tuple[str, ...]] = {
    "reasons.{}": tuple(Reason),
    "today.scaled.{}": tuple(change for change in Change if not change.endswith("-now")),  # of the day, not of the hour
    "measuring.{}": tuple(Remark),
    "advice.{}": typing.get_args(FaultName),
    "trouble.{}": tuple(trouble.value for trouble in Trouble),
    "trouble-advice.{}": tuple(trouble.value for trouble in Trouble),
    "wrap.{}": WHY,
    "wrap.{}-after": PAINS,
    "wrap.{}-rule": PAINS,
    "letters.{}": tuple({kind.letter for kind in kinds_of(TrustError)}),
    "desk.kind.{}": tuple(KINDS),
    "desk.kind.{}-hint": tuple(KINDS),
}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_code_has_its_sentence(language: str) -> None:
    said = catalogue(language)
    wanted = {key.format(code) for key, codes in CODES.items() for code in codes}
    assert sorted(wanted - said.keys()) == []


# Errors whose words a person reads, and how their sentences are drawn: nothing of either is written in the code.
# Each of these classes stands for itself and all that derive from it; a room's new one is found by where it is defined.
TOLD = {
    kind.__name__
    for told in (
        TrustError,
        JournalError,
        HandoverError,
        PrescriptionError,
        RecordingError,
        SensorDescriptionError,
        CommandError,
    )
    for kind in kinds_of(told)
}
FAULTS = {"Fault", "DescriptionFault", "fault"}  # a place in a file, and what is wrong and right there
DRAWN = {"sentence": 2, "button": 3, "words_at": 2, "NotePage": 1, "ExerciseChange": 1}
LOWER = ("signal", "profiles", "games")
REPORT = HOUSE / "profiles" / "report"  # its words are the report's own


def calls(found: Iterable[ast.AST]) -> Iterator[tuple[str, ast.Call]]:
    for node in found:
        if isinstance(node, ast.Call):
            match node.func:
                case ast.Name(name) | ast.Attribute(attr=name):
                    yield name, node


def written(node: ast.expr | None) -> bool:
    """Whether an argument is a sentence in the code: words of its own, not a name, a number or a sign alone."""
    match node:
        case ast.Constant(str(text)):
            return bool(re.search(r"[A-Za-z]{2}", text))
        case ast.JoinedStr(values):
            return any(written(part) for part in values if isinstance(part, ast.Constant))
        case ast.IfExp(_, body, orelse):
            return written(body) or written(orelse)
        case ast.BinOp(left, _, right):
            return written(left) or written(right)
    return False


def told_in(name: str, call: ast.Call) -> list[ast.expr]:
    """The arguments of a call that a person comes to read."""
    if name in FAULTS:
        return call.args[1:3]
    if name in TOLD:
        return call.args
    if name in DRAWN:
        return call.args[DRAWN[name] : DRAWN[name] + 1]
    return []


def untold(found: Sequence[ast.AST]) -> list[int]:
    """Lines of a module that say something to a person which no catalogue holds, also by way of a name."""
    named = defaultdict(list)
    for node in found:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            named[node.targets[0].id].append(node.value)
    return [
        call.lineno
        for name, call in calls(found)
        for argument in told_in(name, call)
        if written(argument) or (isinstance(argument, ast.Name) and any(map(written, named[argument.id])))
    ]


def test_every_error_of_a_room_is_for_a_person() -> None:
    """A class of errors that nobody listed would be raised with any words. SensorError is a code among the troubles."""
    defined = {
        node.name
        for module in modules()
        for node in nodes(module)
        if isinstance(node, ast.ClassDef) and node.name.endswith("Error")
    }
    assert defined == TOLD | {SensorError.__name__}


def gaps(node: ast.expr) -> str | None:
    """A key as it is put together, `{}` for what is filled in; None for one that stands elsewhere."""
    match node:
        case ast.Constant(str(text)):
            return text
        case ast.JoinedStr(values):
            return "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in values)
    return None


def keys_of(found: Iterable[ast.AST]) -> Iterator[tuple[int, str]]:
    """Every key of the window's catalogue that a module asks for."""
    for name, call in calls(found):
        if name in ("words", "say") and call.args and (key := gaps(call.args[0])):
            yield call.lineno, key


@cache
def modules() -> tuple[Path, ...]:
    return tuple(path for room in LOWER for path in sorted((HOUSE / room).rglob("*.py")))


@cache
def keys() -> tuple[tuple[Path, int, str], ...]:
    """Where each key is asked for."""
    return tuple((module, line, key) for module in modules() for line, key in keys_of(nodes(module)))


def test_no_sentence_for_a_person_is_written_in_the_code() -> None:
    assert [f"{module}:{line}" for module in modules() for line in untold(nodes(module))] == []


@pytest.mark.parametrize(
    "planted",
    [
        'raise CommandError("--fast needs --offscreen", code=USAGE_WRONG)',
        'raise CommandError(f"{path}: cannot be read")',
        'raise RecordingError(name, "this is not text", say("mend.give-csv"))',
        'raise RecordingError(f"{name}, row {number}", say("recording.no-text"), say("mend.give-csv"))',
        'table.fault("samples", "contradicts samples_to_the_end", say("mend.keep-one"))',
        'raise StorageError("the folder is gone", say("mend.try-again"))',
        'raise AnotherKeyError(say("wrong.nothing"), f"call {name} and ask")',
        'Fault(path, say("wrong.key-missing"), "add it" if fits else say("mend.add"))',
        'sentence(canvas, self.theme, "Rest now.", at, 560, look)',
        'button(canvas, self.theme, "go", "Go on", at)',
        'NotePage(around, words("desk.moment") + " Please wait.")',
    ],
)
def test_a_planted_sentence_is_found(planted: str) -> None:
    assert untold(written_down(planted)) == [1]


def test_a_planted_sentence_is_found_by_way_of_a_name() -> None:
    assert untold(written_down('remedy = "call and ask"\nraise StorageError(say("wrong.nothing"), remedy)')) == [2]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_key_that_is_asked_for_is_there(language: str) -> None:
    """In the window's catalogue; a key with a gap must fit at least one sentence, and `CODES`
    says which it must fit."""
    said = catalogue(language)
    missing = [
        f"{module}:{line}: {key}"
        for module, line, key in keys()
        if REPORT not in module.parents
        and not any(
            re.fullmatch(re.escape(key).replace(r"\{\}", ".+"), one) for one in ([key] if key in said else said)
        )
        and not any(one.startswith(f"{key}.") for one in said)  # words.count asks for `.one` or `.other` of it
    ]
    assert missing == []


def test_a_planted_key_is_found() -> None:
    planted = written_down('words("no.such") + say(f"wrong.{why}")')
    assert [key for _, key in keys_of(planted)] == ["no.such", "wrong.{}"]


def test_the_report_says_the_same_in_every_language() -> None:
    def flat(table: dict[str, object], before: str = "") -> Iterator[str]:
        for name, value in table.items():
            if isinstance(value, dict):
                yield from flat(value, f"{before}{name}.")
            else:
                yield f"{before}{name}"

    english, *others = (sorted(flat(report_catalogue(language))) for language in LANGUAGES)
    assert all(other == english for other in others)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_key_that_the_report_asks_for_is_there(language: str) -> None:
    words = ReportWords(language)
    missing = []
    for module, line, key in keys():
        if REPORT in module.parents:
            try:
                words.get(key.partition("{}")[0].rstrip("._-") if "{}" in key else key)
            except KeyError:
                missing.append(f"{module}:{line}: {key}")
    assert [one for one in missing if "{}" not in one] == []
