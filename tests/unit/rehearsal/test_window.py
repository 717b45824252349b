"""Every page of the window, light and dark, small and large: nothing outside, everything legible."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from feelcheck.rehearsal.controls import controls_from
from feelcheck.rehearsal.latency import Latency
from feelcheck.rehearsal.view import Command, RehearsalView, Stage

KEYS = (("Space, any pad button", "go on"), ("P", "pause"), ("Escape", "end here"))
LONG = (
    "Each trial plays two responses, one after the other. Flick the stick to the rim and let go, a few times in each."
)
SIZES = [(640, 400), (1280, 720), (1536, 864)]


def page(stage: Stage) -> RehearsalView:
    ringed = stage is Stage.AIM
    return RehearsalView(
        stage=stage, title="Blind trials", sentence="Which one was slower to stop?", more=(LONG,), label="A: birch",
        done=3, n=23, bead=(0.7, -0.4), left_s=12.0, choice=("left", 0.6), keys=KEYS,
        cursor=(0.1, 0.2) if ringed else None, target=(0.0, 0.5) if ringed else None,
        targets=((0.0, 0.5), (0.4, -0.3), (-0.4, -0.3)) if ringed else (),
        trace=tuple((k / 100, np.sin(k / 9), np.sin(k / 9 - 0.3)) for k in range(200)) if stage is Stage.FREE else (),
    )  # fmt: skip


EVERY_RUN = {((640, 400), "light", "large"), ((1280, 720), "dark", "normal"), ((1536, 864), "light", "normal")}
"""Each size, theme and size of letters once; all of them behind the mark ``full``."""
LOOKS = [
    pytest.param(*look, marks=() if look in EVERY_RUN else pytest.mark.full, id=f"{look[0][0]}-{look[1]}-{look[2]}")
    for look in itertools.product(SIZES, ("light", "dark"), ("normal", "large"))
]


@pytest.mark.parametrize(("sized", "theme", "size"), LOOKS)
def test_every_page_fits_and_stands_out(
    sized: tuple[int, int], theme: str, size: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import pygame

    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setenv("FEELCHECK_WINDOW", f"{sized[0]}x{sized[1]}")
    monkeypatch.delenv("FEELCHECK_PICTURES", raising=False)

    from feelcheck.rehearsal.window import RehearsalWindow
    from feelcheck.rehearsal.window.window import THEMES

    window = RehearsalWindow(controls_from([]), theme=theme, size=size)
    paper = np.array(THEMES[theme].paper)
    try:
        for stage in Stage:
            window.show(page(stage), Latency())
            pixels = pygame.surfarray.array3d(pygame.display.get_surface())
            away = np.abs(pixels.astype(int) - paper).sum(axis=2) > 60
            assert 0.003 < away.mean() < 0.5, stage
            for edge in (away[:4], away[-4:], away[:, :4], away[:, -4:]):
                assert not edge.any(), stage  # nothing runs out of the window
    finally:
        window.close()


def test_the_bead_is_where_the_output_is(monkeypatch: pytest.MonkeyPatch) -> None:
    import pygame

    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setenv("FEELCHECK_WINDOW", "1280x720")
    from feelcheck.rehearsal.window import RehearsalWindow
    from feelcheck.rehearsal.window.arena import BEAD, RADIUS, TOP
    from feelcheck.rehearsal.window.palette import LIGHT

    window = RehearsalWindow(controls_from([]))
    try:
        for x, y in ((0.0, 0.0), (1.0, 0.0), (-0.5, 0.5), (0.0, -1.0)):
            window.show(replace(page(Stage.FIRST), bead=(x, y)), Latency())
            reach = RADIUS - BEAD
            at = (round(320 + reach * x + 0.7 * BEAD), round(TOP - reach * y))
            assert tuple(pygame.display.get_surface().get_at(at))[:3] == LIGHT.bead
    finally:
        window.close()


def luminance(colour: tuple[int, int, int]) -> float:
    """Relative luminance (WCAG 2.1)."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: tuple[int, int, int], b: tuple[int, int, int]) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_letters_and_figures_have_the_contrast_that_guidelines_ask_for(theme: str) -> None:
    from feelcheck.rehearsal.window.window import THEMES

    palette = THEMES[theme]
    # WCAG 2.1, 1.4.3 and 1.4.11: letters 4.5 to 1, figures 3 to 1.
    for ground in (palette.paper, palette.shade):
        assert contrast(palette.ink, ground) >= 7
        assert contrast(palette.soft, ground) >= 4.5
        assert min(contrast(palette.bead, ground), contrast(palette.mark, ground)) >= 3
    # Told apart without red and green: blue and yellow channels differ clearly.
    assert abs(palette.bead[2] - palette.mark[2]) > 90


def test_nothing_flashes_three_times_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """WCAG 2.3.1: no more than three general flashes in any second; here the ground never changes its luminance."""
    import pygame

    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setenv("FEELCHECK_WINDOW", "640x400")
    from feelcheck.rehearsal.window import RehearsalWindow

    window = RehearsalWindow(controls_from([]))
    means = []
    try:
        for stage in (Stage.FIRST, Stage.BETWEEN, Stage.SECOND, Stage.ANSWER, Stage.FIRST):
            window.show(page(stage), Latency())
            means.append(float(pygame.surfarray.array3d(pygame.display.get_surface()).mean()))
    finally:
        window.close()
    # A flash is a change of a tenth of the greatest luminance; pages of one block differ by less.
    assert max(abs(a - b) for a, b in itertools.pairwise(means)) < 25


def test_keys_are_heard_and_can_be_placed_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    import pygame

    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setenv("FEELCHECK_WINDOW", "640x400")
    from feelcheck.rehearsal.window import RehearsalWindow

    window = RehearsalWindow(controls_from(["first=key:f"]))
    try:
        for key in (pygame.K_f, pygame.K_RIGHT, pygame.K_SPACE, pygame.K_z, pygame.K_ESCAPE):
            pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key))
        assert list(window.heard()) == [Command.FIRST, Command.SECOND, Command.GO, Command.END]
    finally:
        window.close()
