"""Both languages say everything, and say it shortly."""

from __future__ import annotations

import re
from inspect import getsource

import pytest
from musclewood.games.kit.words import LANGUAGES, Words, catalogue
from musclewood.games.running import setting_up
from musclewood.profiles.plan import dose, safety
from musclewood.signal.measures import calibration, plateaus
from musclewood.signal.quality import quality

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
    return sorted(re.findall(r"{(\w+)}", sentence))


@pytest.mark.parametrize("language", LANGUAGES)
def test_at_work_no_more_than_eight_words(language: str) -> None:
    for key, sentence in catalogue(language).items():
        if key.split(".")[0] in SHORT:
            assert len(sentence.split()) <= 8, f"{language}: {key}: {sentence}"


@pytest.mark.parametrize("language", LANGUAGES)
def test_nobody_shouts(language: str) -> None:
    assert not [sentence for sentence in catalogue(language).values() if "!" in sentence]


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


def test_what_other_rooms_say_is_translated() -> None:
    """Their sentences are found word for word in their own code; a changed one must be changed here too."""
    german = Words("de")
    said = list(quality.ADVICE.values())
    said += [value for module in (calibration, plateaus) for value in _sentences_of(module)]
    for sentence in said:
        assert german.told(sentence) != sentence, f"not translated: {sentence}"
    sources = "".join(getsource(module) for module in (dose, safety, setting_up))
    for key, sentence in catalogue("en").items():
        if key.startswith("reasons."):
            assert sentence in sources, f"nobody says this any more: {sentence}"


def _sentences_of(module: object) -> list[str]:
    names = [name for name in vars(module) if name.isupper()]
    values = [getattr(module, name) for name in names]
    return [value for value in values if isinstance(value, str) and value.endswith(".") and " " in value]


def test_counting() -> None:
    words = Words("en")
    assert words.count("today.count", 1) == "One thing to make."
    assert words.count("today.count", 8) == "8 things to make."


def test_an_unknown_language_reads_as_english() -> None:
    assert Words("xx")("common.stop") == "Stop"


def test_an_unknown_key_is_a_fault() -> None:
    with pytest.raises(KeyError):
        Words("en")("no.such.key")
