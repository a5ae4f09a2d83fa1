"""How often pictures are drawn: within what the computer can spare, and not at all where nobody sees them."""

import pygame
import pytest
from musclewood.games.screens.app import App
from musclewood.games.screens.base.pace import LIVELY, QUIET, RESTING, Pace, Pacing
from musclewood.games.screens.village.keys import KeysPage


@pytest.mark.parametrize("pace", [QUIET, RESTING, LIVELY])
@pytest.mark.parametrize("cost_s", [0.0005, 0.002, 0.004, 0.01, 0.1])
def test_a_picture_takes_its_share_of_a_core_and_no_more(pace: Pace, cost_s: float) -> None:
    pacing = Pacing()
    for _ in range(200):
        pacing.spent(cost_s)
    wait_s = pacing.wait_s(pace)
    assert 1 / pace.most_hz <= wait_s <= 1 / pace.least_hz
    slowest = wait_s == 1 / pace.least_hz
    assert cost_s / wait_s <= pace.share * 1.001 or slowest, "only a computer too slow for that gives more"


def test_a_window_that_nobody_sees_is_not_drawn(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = App(lambda app: KeysPage(app.around), tmp_path / "settings.toml")
    steps, pictures, once = [], [], []
    app.once_shown = lambda: once.append(len(pictures))
    seen = iter([True] * 40 + [False] * 5)

    def step(events: object, dt_s: float) -> None:
        steps.append(dt_s)

    def active() -> bool:
        shown = next(seen, None)
        app.leaving = app.leaving or shown is None
        return bool(shown)

    monkeypatch.setattr(app, "step", step)
    monkeypatch.setattr(app, "draw", lambda: pictures.append(len(steps)))
    monkeypatch.setattr(pygame.display, "get_active", active)
    monkeypatch.setattr(pygame.event, "get", list)
    app.run()
    hidden = [number for number in range(1, len(steps) + 1) if number not in pictures]
    assert pictures and hidden, "drawn while it is seen, and only stepped while it is not"
    assert max(pictures) < min(hidden), "not drawn from then on"
    assert once == [1], "what waits for something to see goes on after the first picture"
    assert sum(steps) >= 5 * 0.18, "time goes on for what is under way"
