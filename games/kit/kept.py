"""Pictures that are made once and kept, the least used of them for no longer than there is room.

A cache that counts its entries may hold some kilobytes or half a gigabyte: a glow over the whole stage is a thousand
times as large as that of a spark. So room is given in megabytes. And what is dropped goes back to the system.
"""

from __future__ import annotations

import ctypes
import gc
import sys
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, Generic, ParamSpec, Protocol, TypeVar

import pygame

M_MMAP_THRESHOLD, M_ARENA_MAX = -3, -8  # values from malloc.h of the GNU C library
LARGE_BYTES = 256 * 1024  # our choice: a picture of 256 by 256


class Drawn(Protocol):
    """Something with a picture, such as a sheet of paper."""

    @property
    def surface(self) -> pygame.Surface: ...


P = ParamSpec("P")
T = TypeVar("T", bound="pygame.Surface | Drawn")


class Kept(Generic[P, T]):
    """A function of hashable arguments that paints; what it painted is kept, up to so many megabytes. Safe between
    threads."""

    def __init__(self, make: Callable[P, T], most_mb: float) -> None:
        self.__doc__ = make.__doc__
        self._make, self._most_bytes = make, most_mb * 1e6
        self._done: OrderedDict[Hashable, T] = OrderedDict()
        self._lock = threading.Lock()
        self.held_bytes = 0

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> T:
        key = (args, tuple(sorted(kwargs.items())))
        with self._lock:
            if key in self._done:
                self._done.move_to_end(key)
                return self._done[key]
        picture = self._make(*args, **kwargs)  # outside the lock: nobody waits for what another one paints
        with self._lock:
            if key not in self._done:
                self._done[key] = picture
                self.held_bytes += size_bytes(picture)
            while self.held_bytes > self._most_bytes and len(self._done) > 1:
                self.held_bytes -= size_bytes(self._done.popitem(last=False)[1])
        return picture

    def cache_clear(self) -> None:
        """Keep nothing of what was painted."""
        with self._lock:
            self._done.clear()
            self.held_bytes = 0


def kept(most_mb: float) -> Callable[[Callable[P, T]], Kept[P, T]]:
    """Keep what the function below paints, up to so many megabytes."""
    return lambda make: Kept(make, most_mb)


def size_bytes(picture: pygame.Surface | Drawn) -> int:
    """The memory of its pixels."""
    surface = picture if isinstance(picture, pygame.Surface) else picture.surface
    return surface.get_pitch() * surface.get_height()


def give_large_pictures_back() -> None:
    """Let the C library ask the system for each large picture by itself; once, before the first.

    Most Linux systems' takes larger and larger pieces from one heap, where holes stay: 30 MB at the first session. And
    a heap of its own for each thread that paints would have holes of its own.
    """
    set_option = _c_library("mallopt")
    if set_option is not None:
        set_option(M_MMAP_THRESHOLD, LARGE_BYTES)
        set_option(M_ARENA_MAX, 2)


def sweep() -> None:
    """Let go of pictures that name one another, and of the holes that they leave; where a place or a window is left."""
    gc.collect()
    trim = _c_library("malloc_trim")
    if trim is not None:
        trim(0)


def _c_library(name: str) -> Any:
    """A function of the GNU C library, None on other systems."""
    return getattr(ctypes.CDLL(None), name, None) if sys.platform == "linux" else None
