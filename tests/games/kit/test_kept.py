"""What is kept of pictures is bounded by memory, and the pictures in use stay."""

import pygame
from musclewood.games.kit.kept import kept


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
