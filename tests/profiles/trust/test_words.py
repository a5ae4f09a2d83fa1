"""Fingerprints as words."""

from __future__ import annotations

from itertools import combinations

import pytest
from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys
from musclewood.profiles.trust.words import same_words, to_words, word_list


def letters_apart(one: str, other: str) -> int:
    """Levenshtein distance."""
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        following = [i]
        for j, b in enumerate(other, 1):
            following.append(min(row[j] + 1, following[-1] + 1, row[j - 1] + (a != b)))
        row = following
    return row[-1]


def test_there_is_one_plain_short_word_for_every_byte() -> None:
    words = word_list()
    assert len(words) == 256 and list(words) == sorted(words)
    assert all(word.isascii() and word.isalpha() and word.islower() and 3 <= len(word) <= 8 for word in words)


def test_no_two_words_begin_alike_or_are_easily_mistaken() -> None:
    words = word_list()
    assert len({word[:3] for word in words}) == 256
    assert min(letters_apart(one, other) for one, other in combinations(words, 2)) >= 3


def test_words_and_bytes_stand_for_each_other() -> None:
    data = bytes(range(256))
    assert [word_list().index(word) for word in to_words(data)] == list(data)


def test_a_fingerprint_has_ten_words_and_covers_both_public_keys(hornbeam: ClinicKeys, stranger: ClinicKeys) -> None:
    mine, theirs = hornbeam.identity, stranger.identity
    mixed = [ClinicIdentity(mine.signing, theirs.sealing), ClinicIdentity(theirs.signing, mine.sealing)]
    shown = {to_words(identity.fingerprint) for identity in (mine, theirs, *mixed)}
    assert len(shown) == 4
    assert {len(words) for words in shown} == {10}


def test_the_words_of_a_key_never_change(hornbeam: ClinicKeys) -> None:
    # Written down once: another list, order or digest would make every clinic's printed words wrong.
    assert (
        " ".join(to_words(hornbeam.identity.fingerprint))
        == "forge ocean cabin carpet cedar rhubarb sunrise reindeer clamp trumpet"
    )


def test_typed_words_may_be_short_capitalised_and_punctuated_but_not_wrong(hornbeam: ClinicKeys) -> None:
    data = hornbeam.identity.fingerprint
    words = to_words(data)
    assert same_words(" ".join(words), data)
    assert same_words(", ".join(word.upper() for word in words) + ".", data)
    assert same_words(" ".join(word[:3] for word in words), data)


@pytest.mark.parametrize("spoil", ["swap", "drop", "more", "other", "two letters", "nothing"])
def test_wrong_words_are_not_taken(hornbeam: ClinicKeys, spoil: str) -> None:
    data = hornbeam.identity.fingerprint
    words = list(to_words(data))
    spoiled = {
        "swap": [words[1], words[0], *words[2:]],
        "drop": words[:-1],
        "more": [*words, words[0]],
        "other": [*words[:-1], next(word for word in word_list() if word != words[-1])],
        "two letters": [word[:2] for word in words],
        "nothing": [],
    }[spoil]
    assert not same_words(" ".join(spoiled), data)
