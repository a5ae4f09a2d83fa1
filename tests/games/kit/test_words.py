"""Both languages say everything, and say it shortly."""

from __future__ import annotations

import re

import pytest
from musclewood.assets.saying import catalogue
from musclewood.games.kit.words import LANGUAGES, Words

SHORT = (
    "frame",
    "calibration",
    "comfort",
    "rating",
    "pause",
    "hurts",
    "hurts-after",
    "lost",
    "signal",
    "choose",
    "today",
)


def test_the_same_keys_with_the_same_gaps() -> None:
    english = catalogue("en")
    for language in LANGUAGES:
        other = catalogue(language)
        assert set(other) == set(english), language
        for key, sentence in english.items():
            assert _gaps(other[key]) == _gaps(sentence), f"{language}: {key}"
            assert other[key].strip(), f"{language}: {key} is empty"


def _gaps(sentence: str) -> list[str]:
    return sorted(re.findall(r"{(\w+)", sentence))


@pytest.mark.parametrize("language", LANGUAGES)
def test_at_work_no_more_than_eight_words(language: str) -> None:
    for key, sentence in catalogue(language).items():
        if key.split(".")[0] in SHORT:
            assert len(sentence.split()) <= 8, f"{language}: {key}: {sentence}"


@pytest.mark.parametrize("language", LANGUAGES)
def test_nobody_shouts(language: str) -> None:
    assert not [sentence for sentence in catalogue(language).values() if "!" in sentence.replace("!r}", "}")]


def test_the_cautions_are_complete() -> None:
    told = " ".join(value for key, value in catalogue("en").items() if key.startswith("cautions.")).lower()
    for word in (
        "not a medical device",
        "therapist",
        "licensed practice",
        "pain",
        "dizziness",
        "skin",
        "implanted",
        "pregnant",
    ):
        assert word in told


def test_counting() -> None:
    words = Words("en")
    assert words.count("today.count", 1) == "One thing to make."
    assert words.count("today.count", 8) == "8 things to make."


def test_an_unknown_language_reads_as_english() -> None:
    assert Words("xx")("common.stop") == "Stop"


def test_an_unknown_key_is_a_fault() -> None:
    with pytest.raises(KeyError):
        Words("en")("no.such.key")
