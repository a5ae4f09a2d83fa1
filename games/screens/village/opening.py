"""The window, and the evening sky in it while the rest of the program is still being loaded."""

import os

import pygame
from musclewood.games.kit.canvas import HEIGHT, WIDTH, Canvas
from musclewood.games.screens.base.scenery import bare_sky
from musclewood.games.screens.base.scenes import village

BARS = (14, 15, 36)


def show_evening() -> None:
    """Open the window with the sky that Today begins under. Needs little of the program, so it is there at once."""
    canvas = Canvas(open_window((WIDTH, HEIGHT)))
    canvas.surface.blit(bare_sky(village("dusk", ()), canvas.size), (0, 0))
    pygame.display.flip()


def open_window(size: tuple[int, int], flags: int = pygame.RESIZABLE) -> pygame.Surface:
    """A window of this size; on a computer without a display the dummy driver stands in."""
    if not pygame.display.get_init():
        try:
            pygame.display.init()
        except pygame.error:
            os.environ["SDL_VIDEODRIVER"] = "dummy"
            pygame.display.init()
    pygame.joystick.init()
    pygame.display.set_caption("Musclewood")
    screen = pygame.display.set_mode(size, flags)
    if size != (0, 0) and screen.get_size() != size:
        # The first call after full screen still answers with the size of the whole display.
        screen = pygame.display.set_mode(size, flags)
    screen.fill(BARS)
    return screen
