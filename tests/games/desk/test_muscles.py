"""The muscles that the desk offers: enough of them, each with its place by source, and words for both readers."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files

import pytest
from musclewood.games.desk.form import offered
from musclewood.games.screens.base.bodies import lay_place

ENTRIES = tomllib.loads(files("musclewood.assets").joinpath("desk", "muscles.toml").read_text("utf-8"))
TRADE = re.compile(
    r"acromion|condyl|epicondyl|malleol|trochanter|spinous|anterior|superior|styloid|SENIAM|Knorren", re.IGNORECASE
)


def test_there_are_at_least_thirty_five() -> None:
    assert len(offered.known_muscles()) >= 35


@pytest.mark.parametrize("key", ENTRIES)
def test_each_has_a_source_and_words_for_both(key: str) -> None:
    entry = ENTRIES[key]
    assert re.search(r"SENIAM|atlas|published", entry["source"])
    assert entry["lay_en"] != entry["en"] and entry["lay_de"] != entry["de"]
    for language in ("en", "de"):
        lay = entry[f"lay_{language}"]
        assert len(lay.split()) <= 10 and not TRADE.search(lay)
        assert lay_place(entry["en"], language) == lay_place(entry["de"], language) == lay
    assert lay_place("On the therapist's own mark.", "en") is None


def test_peroneal_muscles_are_there() -> None:
    assert {"peroneus-longus", "peroneus-brevis"} <= set(ENTRIES)
