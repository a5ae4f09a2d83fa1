"""Which part of a long column is seen. Pure."""

from __future__ import annotations

from collections.abc import Sequence


def first_shown(heights: Sequence[float], room: float, first: int, focus: int | None) -> int:
    """The first item to show in `room`, moved as little as possible so that the item in focus is wholly seen.

    Nothing is scrolled further than to the end.
    """
    last_first = len(heights)
    used = 0.0
    while last_first > 0 and used + heights[last_first - 1] <= room:
        last_first -= 1
        used += heights[last_first]
    first = min(max(0, first), last_first)
    if focus is None:
        return first
    first = min(first, focus)
    while first < focus and sum(heights[first : focus + 1]) > room:
        first += 1
    return first


def count_shown(heights: Sequence[float], room: float, first: int) -> int:
    """How many items fit from the first on; at least one."""
    used, count = 0.0, 0
    for height in heights[first:]:
        used += height
        if used > room and count:
            break
        count += 1
    return count
