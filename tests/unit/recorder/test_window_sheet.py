"""The sheet's letters: all on the sheet, none over another, dark enough, at every size and in every state."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any

import pytest
from scripted_hand import Hand

from feelcheck.model import Action, Step
from feelcheck.recorder import load_script, script_names
from feelcheck.recorder.guide import Guide, Reason, Stage, Verdict
from feelcheck.recorder.guide.view import GuideView, Mark
from feelcheck.recorder.guide.words import asked_words, sentence

SIZES = [
    (1280, 720), (900, 700), (2560, 1440),
    *(pytest.param(size, marks=pytest.mark.full) for size in ((1920, 1080), (1280, 960))),
]  # fmt: skip


@pytest.fixture(scope="module")
def pygame_ready() -> Iterator[Any]:
    import pygame

    pygame.font.init()
    yield pygame
    pygame.font.quit()


def views() -> Iterator[GuideView]:
    """Every step of every shipped script with every verdict, and the other pages."""
    hand = Hand()
    guide = Guide(load_script("default"), hand.records)
    guide.take(hand.rows())
    guide.take(hand.move(1.0, 40.0, 0.2))
    guide.look(hand.t_s)
    usual: dict[str, Any] = {"pad": guide.pad, "n_blocks": 9, "n_steps": 88, "now_s": hand.t_s, "attempt": 3}
    steps = {step.say: step for name in script_names() for step in load_script(name).steps}
    verdicts = [
        Verdict(reason=reason, detail="down and left, 0.15 s for the middle part of the way") for reason in Reason
    ]
    for k, step in enumerate(steps.values()):
        stage = Stage.BREAK if step.action is Action.PAUSE else Stage.ASKING
        said = verdicts[k % len(verdicts)]
        yield GuideView(
            stage=stage,
            sentence=sentence(stage, step),
            step=step,
            verdict=said,
            judged=asked_words(step),
            next_try=bool(k % 2),
            block_name=step.block,
            progress=0.43,
            left_s=3.4,
            **usual,
        )
    for step, tied in itertools.product((step for step in steps.values() if step.waits), (False, True)):
        more: dict[str, Any] = {"verdict": verdicts[0], "judged": "Both sticks, rest", "left_s": math.inf, "tied": tied}
        said_now = sentence(Stage.BREAK, step)
        yield GuideView(stage=Stage.BREAK, sentence=said_now, step=step, block=0, block_name="Set-up", **more, **usual)
    flick = Step(action=Action.FLICK, duration_s=1.0, direction_deg=225.0, stick="right")
    for verdict in verdicts:
        words = asked_words(flick)
        yield GuideView(
            stage=Stage.ASKING, sentence=f"{words}.", step=flick, verdict=verdict, judged=words, next_try=True, **usual
        )
    ledger = tuple(
        (f"Diagonal flicks, right {k}", tuple(itertools.islice(itertools.cycle(Mark), 28))) for k in range(9)
    )
    for stage in (Stage.READY, Stage.PAUSED, Stage.UNPLUGGED, Stage.FINISHED):
        yield GuideView(
            stage=stage, sentence=sentence(stage, None), step=None, ledger=ledger, choice=("left", 0.6), **usual
        )


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_no_text_leaves_the_sheet_or_runs_over_another(
    pygame_ready: Any, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    from feelcheck.canvas import Canvas
    from feelcheck.recorder.window.sheet import draw_sheet

    surface = pygame_ready.Surface(size)
    placed: list[tuple[Any, str]] = []
    write = Canvas.text

    def noted(self: Canvas, text: str, x: float, y: float, letters: float, **more: Any) -> None:
        write(self, text, x, y, letters, **more)
        width = self.width(text, letters, more.get("face", "plain")) * self.scale
        left, top = self.at(x, y)
        shift = {"left": 0.0, "middle": width / 2, "right": width}[more.get("side", "left")]
        # The letters' own height, without the room that fonts keep above and below.
        height = letters * self.scale
        placed.append((pygame_ready.Rect(left - shift, top + 0.15 * height, width, height), text))

    monkeypatch.setattr(Canvas, "text", noted)
    canvas = Canvas(surface)
    for view in views():
        placed.clear()
        draw_sheet(canvas, view, ["Left stick, flick up and right: none of 3 tries counted; gone on without it."] * 9)
        for rect, text in placed:
            assert surface.get_rect().contains(rect), text
        for (one, text), (two, other) in itertools.combinations(placed, 2):
            assert not one.colliderect(two), f"{text!r} over {other!r}"


def luminance(colour: tuple[int, int, int]) -> float:
    # WCAG 2.2, relative luminance.
    parts = [c / 255 for c in colour]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: tuple[int, int, int], two: tuple[int, int, int]) -> float:
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_letters_and_figures_stand_out_from_the_paper() -> None:
    from feelcheck import canvas

    # WCAG 2.2, success criteria 1.4.3 (4.5 for text) and 1.4.11 (3 for figures).
    for ground in (canvas.PAPER, canvas.SHADE):
        for colour in (canvas.INK, canvas.SOFT, canvas.GOOD, canvas.AGAIN):
            assert contrast(colour, ground) >= 4.5
    assert contrast(canvas.WAY, canvas.PAPER) >= 3.0


def test_keys_and_closing_the_window_are_commands(monkeypatch: pytest.MonkeyPatch) -> None:
    import pygame

    from feelcheck.recorder.window import SheetWindow

    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setenv("FEELCHECK_WINDOW", "1280x720")
    joysticks = pygame.joystick.get_init()
    window = SheetWindow(linger_s=0.0)
    view = next(views())
    try:
        assert list(window.show(view)) == []
        for key in (pygame.K_SPACE, pygame.K_r, pygame.K_s, pygame.K_x, pygame.K_ESCAPE):
            pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key))
        assert [str(command) for command in window.show(view)] == ["go", "repeat", "skip", "stop"]
        pygame.event.post(pygame.event.Event(pygame.QUIT))
        assert [str(command) for command in window.show(view)] == ["stop"]
        assert pygame.joystick.get_init() == joysticks
    finally:
        window.close()
        window.close()


def test_a_screen_is_where_there_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    from feelcheck.recorder.window import has_display

    monkeypatch.setattr("sys.platform", "linux")
    for name in ("SDL_VIDEODRIVER", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert not has_display()
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert has_display()
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    assert not has_display()
