"""The window, and the evening sky in it while the rest of the program is still being loaded.

Without numpy, and without whatever needs it: it takes as long to load as everything that the first picture needs.
"""

import os
from contextlib import suppress

import pygame
from musclewood.assets.saying import say
from musclewood.games.kit.canvas import HEIGHT, WIDTH, Canvas, bare_sky
from musclewood.games.kit.kept import give_large_pictures_back
from musclewood.games.kit.palette import Hour
from musclewood.games.running.errors import CommandError

EVENING: tuple[Hour, float] = ("dusk", 0.5)  # hour and horizon of the village, which would have to load all workshops
UNSEEN = ("dummy", "offscreen")
BARS = (14, 15, 36)
# Of a screen, what a window may take: a title bar, a border and a panel need the rest. Our choice, on the safe side.
MOST_ACROSS, MOST_DOWN = 0.96, 0.86


def show_evening(*, full_screen: bool) -> None:
    """Open the window with the sky that Today begins under. Needs little of the program, so it is there at once."""
    canvas = Canvas(open_full_screen() if full_screen else open_window((WIDTH, HEIGHT)))
    canvas.surface.blit(bare_sky(*EVENING, canvas.size), (0, 0))
    pygame.display.flip()


def open_window(size: tuple[int, int], flags: int = pygame.RESIZABLE) -> pygame.Surface:
    """A window of this size, or as much smaller as the screen asks. Raises CommandError where none can be seen."""
    _begin()
    if not flags & pygame.FULLSCREEN:
        size = fitting(size, _screen())
    there = pygame.display.get_surface()
    if there is not None and _is_such(there, size, flags):  # to open it anew would take as long as the first time
        there.fill(BARS)
        return there
    try:
        screen = pygame.display.set_mode(size, flags)
    except pygame.error as error:
        raise _unseen(error) from None
    if size != (0, 0) and screen.get_size() != size:
        # The first call after full screen still answers with the size of the whole display.
        screen = pygame.display.set_mode(size, flags)
    screen.fill(BARS)
    return screen


def _is_such(screen: pygame.Surface, size: tuple[int, int], flags: int) -> bool:
    """Whether a window is there already as it is wanted; no size is that of the whole screen."""
    alike = bool(screen.get_flags() & pygame.FULLSCREEN) == bool(flags & pygame.FULLSCREEN)
    return alike and size in (screen.get_size(), (0, 0))


def open_full_screen() -> pygame.Surface:
    """The whole screen."""
    return open_window((0, 0), pygame.FULLSCREEN)


def fitting(size: tuple[int, int], screen: tuple[int, int] | None) -> tuple[int, int]:
    """The size of a window that is in sight as a whole on such a screen, in the same shape."""
    if screen is None:
        return size
    share = min(1.0, MOST_ACROSS * screen[0] / size[0], MOST_DOWN * screen[1] / size[1])
    return int(size[0] * share), int(size[1] * share)


def _screen() -> tuple[int, int] | None:
    """The first screen's size in the units that windows are measured in: smaller where everything is shown larger."""
    if pygame.display.get_driver() in UNSEEN:
        return None
    sizes = pygame.display.get_desktop_sizes()
    return sizes[0] if sizes else None


_raised: list[object] = []


def bring_to_front() -> None:
    """Show the window to somebody who started the program once more. Some systems only make it ask for attention."""
    from pygame._sdl2.video import Window

    with suppress(pygame.error, AttributeError):
        window = Window.from_display_module()
        _raised.append(window)  # events name it from now on, and pygame holds no reference of its own
        if not pygame.display.get_active():
            window.restore()
        window.focus()


def _begin() -> None:
    """Raises CommandError where no window can be seen; only whoever asks for an invisible one gets it."""
    if not pygame.display.get_init():
        give_large_pictures_back()
        try:
            pygame.display.init()
        except pygame.error as error:
            raise _unseen(error) from None
    if pygame.display.get_driver() in UNSEEN and os.environ.get("SDL_VIDEODRIVER") not in UNSEEN:
        raise _unseen("there is no screen")
    pygame.joystick.init()
    pygame.display.set_caption("Musclewood")


def _unseen(reason: object) -> CommandError:
    return CommandError(say("command.no-window", reason=reason))
