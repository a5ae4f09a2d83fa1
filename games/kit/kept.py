"""Pictures that are made once and kept, the least used of them for no longer than there is room.

A cache that counts its entries may hold some kilobytes or half a gigabyte: a glow over the whole stage is a thousand
times as large as that of a spark. So room is given in megabytes. And what is dropped goes back to the system.
"""

from __future__ import annotations

import ctypes
import gc
import sys
import threading
import time
import weakref
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, ClassVar, Generic, ParamSpec, Protocol, TypeVar

import pygame

M_MMAP_THRESHOLD, M_ARENA_MAX = -3, -8  # values from malloc.h of the GNU C library
LARGE_BYTES = 128 * 1024  # our choice: a picture of 180 by 180
# Our choice: a session in the usual window uses about that; in a larger one, what is in use stays all the same.
MOST_TOGETHER_MB, UNUSED_S = 28.0, 10.0


class Drawn(Protocol):
    """Something with a picture, such as a sheet of paper."""

    @property
    def surface(self) -> pygame.Surface: ...


P = ParamSpec("P")
T = TypeVar("T", bound="pygame.Surface | Drawn")


class Kept(Generic[P, T]):
    """A function of hashable arguments that paints; what it painted is kept, up to so many megabytes. Safe between
    threads.

    All of them together share `MOST_TOGETHER_MB`: beyond it goes what was not asked for longest, whoever painted it,
    so that the things of an earlier workshop make room for those of the next. What is in use stays.
    """

    _every: ClassVar[weakref.WeakSet[Kept[Any, Any]]] = weakref.WeakSet()
    _lock: ClassVar[threading.Lock] = threading.Lock()
    clock: ClassVar[Callable[[], float]] = time.monotonic

    def __init__(self, make: Callable[P, T], most_mb: float) -> None:
        self.__doc__ = make.__doc__
        self._make, self._most_bytes = make, most_mb * 1e6
        self._done: OrderedDict[Hashable, T] = OrderedDict()
        self._asked_s: dict[Hashable, float] = {}
        self.held_bytes = 0
        with self._lock:
            self._every.add(self)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> T:
        key = (args, tuple(sorted(kwargs.items())))
        now_s = Kept.clock()
        with self._lock:
            if key in self._done:
                self._done.move_to_end(key)
                self._asked_s[key] = now_s
                return self._done[key]
        picture = self._make(*args, **kwargs)  # outside the lock: nobody waits for what another one paints
        with self._lock:
            if key not in self._done:
                self._done[key], self._asked_s[key] = picture, now_s
                self.held_bytes += size_bytes(picture)
            while self.held_bytes > self._most_bytes and len(self._done) > 1:
                self._drop_first()
            self._make_room(now_s - UNUSED_S)
        return picture

    @classmethod
    def _make_room(cls, before_s: float) -> None:
        """Drop, of what was not asked for since then, the oldest first, until there is room for all."""
        every = list(cls._every)
        while sum(one.held_bytes for one in every) > MOST_TOGETHER_MB * 1e6:
            oldest = min((one for one in every if one._done), key=lambda one: one._first_s, default=None)
            if oldest is None or oldest._first_s > before_s:
                return
            oldest._drop_first()

    @property
    def _first_s(self) -> float:
        """When what was not asked for longest was asked for."""
        return self._asked_s[next(iter(self._done))]

    def _drop_first(self) -> None:
        key, picture = self._done.popitem(last=False)
        del self._asked_s[key]
        self.held_bytes -= size_bytes(picture)

    def cache_clear(self) -> None:
        """Keep nothing of what was painted."""
        with self._lock:
            self._done.clear()
            self._asked_s.clear()
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
