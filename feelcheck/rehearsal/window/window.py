"""The window itself: sixty frames a second where the machine can, keys, and how long each frame took."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from pathlib import Path

import pygame
import pygame.display
import pygame.event
import pygame.image

from feelcheck.canvas import PICTURES, open_canvas
from feelcheck.rehearsal.controls import Controls
from feelcheck.rehearsal.latency import FRAME_S, Latency
from feelcheck.rehearsal.view import Command, RehearsalView, Stage
from feelcheck.rehearsal.window.arena import Arena
from feelcheck.rehearsal.window.page import draw_words
from feelcheck.rehearsal.window.palette import DARK, LIGHT

__all__ = ["SIZES", "THEMES", "RehearsalWindow"]

THEMES = {"light": LIGHT, "dark": DARK}
SIZES = {"normal": 1.0, "large": 1.35}
RINGED = (Stage.FREE, Stage.FIRST, Stage.BETWEEN, Stage.SECOND, Stage.ANSWER, Stage.AIM, Stage.REST)
LINGER_S = 60.0
PICTURED_AT = 3


class RehearsalWindow:
    """Shows a rehearsal and hears the keyboard.

    Parameters
    ----------
    controls : Controls
        Which key does what.
    theme, size : str
        ``"light"`` or ``"dark"``, ``"normal"`` or ``"large"``.
    linger_s : float, s
        How long the last page stands.

    Raises
    ------
    SourceError
        If no window can be opened.
    """

    def __init__(
        self, controls: Controls, *, theme: str = "light", size: str = "normal", linger_s: float = LINGER_S
    ) -> None:
        self._controls, self._palette, self._size = controls, THEMES[theme], SIZES[size]
        self._canvas = open_canvas()
        self._arena = Arena(self._canvas, self._palette, self._size)
        self._linger_s = linger_s
        self._due_s = 0.0
        self._pictures = Path(os.environ[PICTURES]) if os.environ.get(PICTURES) else None
        self._shown: dict[str, int] = {}

    def due(self, now_s: float) -> bool:
        """Return whether a frame is due."""
        return now_s >= self._due_s

    def show(self, view: RehearsalView, latency: Latency) -> None:
        """Draw one frame and note when it was handed over."""
        now_s = time.perf_counter()
        self._due_s = max(self._due_s + FRAME_S, now_s - FRAME_S)
        self._draw(view, [])
        latency.frame(view.state_s, time.perf_counter())

    def heard(self) -> Sequence[Command]:
        """Return what was asked for by key since the last call."""
        commands: list[Command] = []
        for event in pygame.event.get():
            if event.type == pygame.QUIT:
                commands.append(Command.END)
            elif event.type == pygame.VIDEORESIZE:
                self._canvas.fit(pygame.display.get_surface())
                self._arena.fit()
            elif event.type == pygame.KEYDOWN:
                command = self._controls.keys.get(pygame.key.name(event.key))
                if command is not None:
                    commands.append(command)
        return commands

    def end(self, view: RehearsalView, told: Sequence[str]) -> None:
        """Show the last page with what was found until a key is pressed or its time is over."""
        until_s = time.perf_counter() + self._linger_s
        while time.perf_counter() < until_s:
            self._draw(view, list(told))
            if any(event.type in (pygame.KEYDOWN, pygame.QUIT) for event in pygame.event.get()):
                return
            time.sleep(0.05)

    def close(self) -> None:
        """Close the window; safe to call twice."""
        pygame.display.quit()

    def _draw(self, view: RehearsalView, told: list[str]) -> None:
        self._canvas.surface.fill(self._palette.paper)
        if view.stage in RINGED:
            self._arena.draw(view)
        draw_words(self._canvas, self._palette, view, self._size, told)
        pygame.display.flip()
        if self._pictures is not None:
            self._picture(view, self._pictures)

    def _picture(self, view: RehearsalView, folder: Path) -> None:
        """Keep one picture of each stage, taken when it has stood for a few frames."""
        name = f"{view.title.lower().replace(' ', '_')}_{view.stage}"
        self._shown[name] = self._shown.get(name, 0) + 1
        if self._shown[name] == PICTURED_AT:
            folder.mkdir(parents=True, exist_ok=True)
            pygame.image.save(self._canvas.surface, str(folder / f"{name}.png"))
