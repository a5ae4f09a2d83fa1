"""Every code that a room gives to a person has its sentence in every language; a sentence in the code is found.

Codes are taken from the code itself: enumerations and literal types. A key that is put together while the program runs
(`words(f"advice.{name}")`) stands here with all that may fill it, so that a new code without a sentence is seen.
"""

from __future__ import annotations

import typing
from pathlib import Path

import pytest
from musclewood.games.engine.endings import Why
from musclewood.games.kit.words import LANGUAGES, catalogue
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.plan.reasons import Change, Reason
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.quality.quality import FaultName
from musclewood.signal.sensors.troubles import Trouble

HOUSE = Path(__file__).resolve().parents[2]
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
    "desk.kind.{}": tuple(KINDS),
    "desk.kind.{}-hint": tuple(KINDS),
}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_code_has_its_sentence(language: str) -> None:
    said = catalogue(language)
    wanted = {key.format(code) for key, codes in CODES.items() for code in codes}
    assert sorted(wanted - said.keys()) == []
