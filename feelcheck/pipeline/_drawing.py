"""The pictures of results: each kind's figure and card, written with the mark of its form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

from feelcheck.model import BenchResult, Comparison, FeelResult, HandResult, RepeatabilityResult
from feelcheck.outputs import (
    BENCH_FIGURE,
    CARD,
    COMPARISON_FIGURE,
    FEEL_FIGURE,
    HAND_FIGURE,
    REPEATABILITY_FIGURE,
    Form,
    numbered,
)

__all__ = ["draw", "draw_card"]


@dataclass(frozen=True, slots=True)
class _Pictures:
    """Where a kind of result has its figure and its card, which are loaded only when asked for."""

    form: Form
    figure: str
    card: str = ""


KINDS: dict[type, _Pictures] = {
    HandResult: _Pictures(HAND_FIGURE, "hand_figures:hand_figure", "card:hand_card"),
    BenchResult: _Pictures(BENCH_FIGURE, "bench_figures:bench_figure", "card:bench_card"),
    Comparison: _Pictures(COMPARISON_FIGURE, "compare_figures:compare_figure", "card:comparison_card"),
    RepeatabilityResult: _Pictures(REPEATABILITY_FIGURE, "compare_figures:repeatability_figure"),
    FeelResult: _Pictures(FEEL_FIGURE, "feel_figures:feel_figure"),
}


def draw(results: Sequence[Any], path: Path) -> list[Path]:
    """Draw the evidence of each result; all but the first get a number in their file name.

    Parameters
    ----------
    results : sequence of results
        What the commands give; several of `feel` that belong into one picture stand in a sequence of their own.
    path : Path
        The picture (.png or .svg).

    Returns
    -------
    list of Path
        The files written, one a result.
    """
    from feelcheck.renderers import save_figure

    targets = numbered(path, len(results))
    for result, target in zip(results, targets, strict=True):
        pictures = KINDS[type(result[0] if isinstance(result, Sequence) else result)]
        save_figure(_renderer(pictures.figure)(result), target, pictures.form)
    return targets


def draw_card(result: HandResult | BenchResult | Comparison, path: Path, command: str) -> None:
    """Draw the one picture of a result to share.

    Parameters
    ----------
    result : HandResult, BenchResult or Comparison
        What is shown.
    path : Path
        The picture (.png or .svg).
    command : str
        Stands on it, to make it again.
    """
    from feelcheck.renderers import save_figure

    save_figure(_renderer(KINDS[type(result)].card)(result, command), path, CARD)


def _renderer(place: str) -> Any:
    module, _, name = place.partition(":")
    return getattr(import_module(f"feelcheck.renderers.{module}"), name)
