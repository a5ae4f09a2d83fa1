"""What is kept of pictures is bounded by memory, and the pictures in use stay."""

import pygame
import pytest
from musclewood.games.kit.kept import MOST_TOGETHER_MB, UNUSED_S, Kept, kept


def test_no_more_is_kept_than_there_is_room_for_and_what_is_used_stays() -> None:
    made: list[int] = []

    @kept(1.0)
    def paint(number: int) -> pygame.Surface:
        made.append(number)
        return pygame.Surface((256, 256), 0, 32)  # 262 kB: three fit

    for number in range(1, 20):
        paint(0)  # in every frame
        paint(number)
        assert paint.held_bytes <= 1_000_000
    assert made == list(range(20))
    paint(1)
    assert made[-1] == 1, "what was not used for long is painted anew"


def test_a_picture_larger_than_all_room_is_kept_alone() -> None:
    @kept(0.1)
    def paint(number: int) -> pygame.Surface:
        return pygame.Surface((256, 256), 0, 32)

    first = paint(1)
    assert paint(1) is first
    assert paint(2) is not first
    assert paint.held_bytes == 256 * 256 * 4
    paint.cache_clear()
    assert paint.held_bytes == 0 and paint(2) is not first


def test_what_an_earlier_place_painted_makes_room_and_what_is_in_use_never_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now_s = [Kept.clock() + 1000.0]
    monkeypatch.setattr(Kept, "clock", lambda: now_s[0])

    @kept(MOST_TOGETHER_MB)
    def earlier(number: int) -> pygame.Surface:
        return pygame.Surface((512, 512), 0, 32)

    @kept(MOST_TOGETHER_MB)
    def later(number: int) -> pygame.Surface:
        return pygame.Surface((512, 512), 0, 32)

    many = round(0.9 * MOST_TOGETHER_MB * 1e6 / (512 * 512 * 4))
    for number in range(many):
        earlier(number)
    in_use = earlier(0)
    for number in range(many):
        later(number)
    assert earlier.held_bytes + later.held_bytes > MOST_TOGETHER_MB * 1e6, "all of it was asked for just now"
    now_s[0] += UNUSED_S + 1
    assert earlier(0) is in_use
    last = later(-1)
    assert earlier.held_bytes + later.held_bytes <= MOST_TOGETHER_MB * 1e6
    assert earlier(0) is in_use and later(-1) is last
