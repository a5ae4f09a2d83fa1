"""Cut paper: placed where the art says, shadowed without wrapping, grained the same every time,
quick enough to bake."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from importlib.resources import files

import numpy as np
import pygame
import pytest
from musclewood.games.kit import paper
from musclewood.games.kit.palette import HOURS
from musclewood.games.kit.paper import Cut, PaperBox, art_text, bake, lay, rasterise

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="100 200 80 60">'
    '<g data-lift="6"><path fill="#808080" d="M110 210 H170 V250 H110Z"/></g></svg>'
)


def art_files() -> list[str]:
    root = files("musclewood.assets").joinpath("art", "kiln")
    return [f"kiln/{entry.name}" for entry in root.iterdir() if entry.name.endswith(".svg")]


@pytest.mark.parametrize("scale", [0.5, 1.0, 1.5, 3.0])
def test_a_sheet_lies_where_its_view_box_says_at_any_scale(scale: float) -> None:
    sheet = bake(SQUARE, scale)
    stage = pygame.Surface((round(1280 * scale), round(720 * scale)), pygame.SRCALPHA, 32)
    sheet.draw(stage)
    opaque = pygame.surfarray.array_alpha(stage) > 250
    columns, rows = np.flatnonzero(opaque.any(axis=1)), np.flatnonzero(opaque.any(axis=0))
    assert [columns[0], columns[-1] + 1] == pytest.approx([110 * scale, 170 * scale], abs=1.5)
    assert [rows[0], rows[-1] + 1] == pytest.approx([210 * scale, 250 * scale], abs=1.5)


def test_the_shadow_falls_below_and_not_above() -> None:
    alpha = pygame.surfarray.array_alpha(bake(SQUARE, 1.0).surface).astype(int)
    middle = alpha[alpha.shape[0] // 2]
    solid = np.flatnonzero(middle > 250)
    assert middle[solid[-1] + 5] > 40 > middle[solid[0] - 5]


def test_paper_at_the_lower_edge_casts_no_shadow_at_the_upper() -> None:
    base = pygame.Surface((200, 200), pygame.SRCALPHA, 32)
    strip = pygame.Surface((200, 200), pygame.SRCALPHA, 32)
    strip.fill((120, 90, 60, 255), (0, 180, 200, 20))
    lay(base, strip, Cut(lift=10), 1.0)
    assert pygame.surfarray.array_alpha(base)[:, :140].max() == 0


def test_a_layer_that_meets_the_side_has_a_shadow_up_to_the_side() -> None:
    base = pygame.Surface((200, 200), pygame.SRCALPHA, 32)
    strip = pygame.Surface((200, 200), pygame.SRCALPHA, 32)
    strip.fill((120, 90, 60, 255), (0, 60, 200, 40))
    lay(base, strip, Cut(lift=8), 1.0)
    below = pygame.surfarray.array_alpha(base)[:, 104].astype(int)
    assert below[0] == pytest.approx(below[100], abs=6)


def test_the_upper_edge_is_lit_and_the_lower_is_not() -> None:
    sheet = bake(SQUARE.replace('data-lift="6"', 'data-lift="6" data-grain="0"'), 2.0)
    pixels, alpha = pygame.surfarray.array3d(sheet.surface), pygame.surfarray.array_alpha(sheet.surface)
    column = alpha.shape[0] // 2
    rows = np.flatnonzero(alpha[column] > 250)
    inside = int(pixels[column, rows[len(rows) // 2], 0])
    assert int(pixels[column, rows[1], 0]) > inside + 10 > inside - 5 > int(pixels[column, rows[-2], 0])


def test_baking_is_the_same_every_time() -> None:
    first, second = (pygame.surfarray.array3d(bake(SQUARE, 1.0).surface) for _ in range(2))
    assert (first == second).all()


def test_groups_are_sheets_of_their_own_and_shade_one_another() -> None:
    both = SQUARE.replace("</svg>", '<g data-lift="6"><path fill="#808080" d="M120 212 H160 V225 H120Z"/></g></svg>')
    below = (60 + (6 * 3 - 20), 0)  # any column inside both
    one, two = (pygame.surfarray.array3d(bake(text, 1.0).surface).astype(int) for text in (SQUARE, both))
    row = 18 + 225 - 200 + 4  # a little under the upper sheet
    column = 18 + 40 + below[1]
    assert two[column, row].sum() < one[column, row].sum() - 30


def test_art_without_a_view_box_is_refused() -> None:
    with pytest.raises(ValueError, match="viewBox"):
        bake('<svg xmlns="http://www.w3.org/2000/svg"><g/></svg>', 1.0)


def test_a_part_turns_about_its_pivot() -> None:
    sheet = bake(SQUARE, 1.0)
    turned = sheet.turned(180.0, (140.0, 230.0))  # its own middle: lands on itself, but for the shadow
    assert (turned.x, turned.y) == pytest.approx((sheet.x, sheet.y), abs=1.5)
    aside = sheet.turned(90.0, (140.0, 230.0))
    assert aside.surface.get_width() == pytest.approx(sheet.surface.get_height(), abs=2)


def test_all_art_is_drawn_with_colours_that_every_hour_has_and_only_what_sdl_can_read() -> None:
    assert len(art_files()) > 20
    for name in art_files():
        for hour in HOURS:
            text = art_text(name, hour)
            assert "var(" not in text
        for unread in ("<filter", "<text", "clip-path", "<mask", "<use", "<style", "<image"):
            assert unread not in text, f"{name}: {unread}"


def test_a_box_bakes_behind_and_keeps_what_it_baked() -> None:
    box = PaperBox(0.5)
    names = ["kiln/lantern.svg", "kiln/leaf.svg"]
    assert not box.ready(names)
    box.bake_behind(names).join(timeout=10)
    assert box.ready(names)
    assert box.sheet(names[0]) is box.sheet(names[0])


def test_a_full_layer_is_baked_in_about_a_tenth_of_a_second() -> None:
    layer = SQUARE.replace("100 200 80 60", "0 300 1280 420").replace(
        "M110 210 H170 V250 H110Z", "M-40 420 L600 330 1320 430 V760 H-40Z"
    )
    bake(layer, 1.0)  # the grain is made once
    spent = []
    for _ in range(3):
        begun = time.thread_time()
        bake(layer, 1.0)
        spent.append(time.thread_time() - begun)
    assert min(spent) < 0.15


def test_rasterising_goes_to_the_pixels_asked_for() -> None:
    assert rasterise(SQUARE, (100, 200, 80, 60), (333, 77)).get_size() == (333, 77)


def test_a_sheet_that_is_ready_never_waits_for_one_that_is_being_baked(monkeypatch: pytest.MonkeyPatch) -> None:
    box, begun, may_end = PaperBox(0.1), threading.Event(), threading.Event()
    ready = box.sheet("kiln/cat.svg")
    real = paper.bake_alike

    def slow(svgs: Sequence[str], scale: float) -> list[paper.Sheet]:
        begun.set()
        assert may_end.wait(10)
        return real(svgs, scale)

    monkeypatch.setattr(paper, "bake_alike", slow)
    afterwards: list[str] = []
    thread = box.bake_behind(["kiln/leaf.svg"], then=lambda: afterwards.append("picture"))
    assert begun.wait(10)
    asked = threading.Thread(target=lambda: afterwards.append(box.sheet("kiln/cat.svg") is ready and "at once"))
    asked.start()
    asked.join(5)
    assert afterwards == ["at once"]
    may_end.set()
    thread.join(10)
    assert afterwards == ["at once", "picture"] and box.ready(["kiln/leaf.svg"])


def test_a_sheet_can_be_turned_in_a_thread_while_it_is_drawn() -> None:
    """SDL refuses to blit a surface that another thread has locked, and turning locks it."""
    sheet, target, stop = PaperBox(1.0).sheet("kiln/potter.svg"), pygame.Surface((640, 640)), threading.Event()

    def turn() -> None:
        degrees = 0.0
        while not stop.is_set():
            sheet.turned(degrees, (352.0, 496.0))
            degrees += 7.0

    thread = threading.Thread(target=turn)
    thread.start()
    try:
        end = time.perf_counter() + 0.3
        while time.perf_counter() < end:
            sheet.draw(target)
    finally:
        stop.set()
        thread.join()


@pytest.mark.parametrize("name", ["kiln/village.svg", "village/season-autumn.svg", "yoke/brook.svg"])
def test_sheets_drawn_where_they_lie_look_as_if_drawn_whole(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line of pixels that a shape just touches may come out a fifth lighter; nothing else may differ."""
    part = _on_grey(bake(art_text(name), 0.8))
    monkeypatch.setattr(paper, "GLANCE_FROM_PX", 10**9)
    whole = _on_grey(bake(art_text(name), 0.8))
    assert np.count_nonzero(np.abs(part - whole).max(axis=2) > 3) < 0.001 * part[..., 0].size


def test_scattered_things_of_a_pixel_are_found_at_a_glance() -> None:
    thin = "".join(f'<path fill="#808080" d="M{x} {y} h1 v1 h-1Z"/>' for x, y in ((3, 380), (1270, 9), (640, 200)))
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1280 400"><g/><g data-shadow="0">{thin}</g></svg>'
    sheet = bake(svg, 1.0)
    alpha = pygame.surfarray.array_alpha(sheet.surface)
    for x, y in ((3, 380), (1270, 9), (640, 200)):
        left, top = round(x - sheet.x), round(y - sheet.y)
        assert alpha[left - 1 : left + 2, top - 1 : top + 2].any(), (x, y)


def test_each_part_of_a_drawing_is_a_sheet_whatever_it_is_and_however_it_ends() -> None:
    shapes = ('<rect x="10" y="10" width="20" height="20"/>', '<path d="M50 10h20v20h-20Z"></path>')
    opening = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 80 40">'
    together = bake(f"{opening}<g>{''.join(shapes)}</g></svg>", 1.0)
    parts = bake(f"{opening}<defs/> {' '.join(shapes)}</svg>", 1.0)
    paper_of = [pygame.surfarray.array_alpha(sheet.surface) > 250 for sheet in (together, parts)]
    assert paper_of[0].sum() == 800 and (paper_of[0] == paper_of[1]).all()


def test_hours_that_are_baked_together_look_as_if_baked_one_by_one() -> None:
    together, alone = PaperBox(0.4), PaperBox(0.4)
    together.sheet("kiln/yard.svg", "night", soon=("night", "dawn"))
    assert together.ready(["kiln/yard.svg"], "dawn")
    for hour in ("night", "dawn"):
        pair = [_on_grey(box.sheet("kiln/yard.svg", hour)) for box in (together, alone)]
        assert (pair[0] == pair[1]).all(), hour
    assert (_on_grey(alone.sheet("kiln/yard.svg", "night")) != _on_grey(alone.sheet("kiln/yard.svg", "dawn"))).any()


def _on_grey(sheet: paper.Sheet) -> np.ndarray:
    ground = pygame.Surface(sheet.surface.get_size())
    ground.fill((128, 128, 128))
    ground.blit(sheet.surface, (0, 0))
    return pygame.surfarray.array3d(ground).astype(int)
