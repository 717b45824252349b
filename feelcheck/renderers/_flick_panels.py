"""Panels of movements: flicks that stop at the rim, and the spring's return."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from feelcheck.model import DirectionResponse, FloatArray, Trace
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._panels import Panel, heading
from feelcheck.renderers._style import FAINT, FIT, MARK, REFERENCE, REPORTS
from feelcheck.renderers._thinning import evenly

__all__ = ["flick_panel", "release_panel"]

N_CLEAREST = 2
N_MARKERS = 34
N_FAINT = 12
N_POINTS = 240
BEFORE_MS, AFTER_MS = 40.0, 60.0
AROUND_MS = 30.0
WAY_LABEL = "way to the rim, %"


def flick_panel(axis: str, direction: str, flicks: Sequence[Trace], response: DirectionResponse | None) -> Panel:
    """Return the panel of one axis and direction: flicks laid over each other at their contact with the rim.

    Parameters
    ----------
    axis, direction : str
        Stream name, and whether its code rises or falls.
    flicks : sequence of Trace
        Kind ``"flick"``: ``t_s``, ``measured_fs``, ``model_fs`` of shape (n,), and the mark ``contact_s``. The clearest
        are drawn with their reports and their fit, the others faintly.
    response : DirectionResponse or None
        What was concluded; stands under the title.
    """
    clear = sorted(flicks, key=_misfit)
    said, after_ms = _conclusion(response), _after_ms(response)

    def draw(ax: Axes) -> None:
        for flick in clear[N_CLEAREST : N_CLEAREST + N_FAINT]:
            since_ms, measured, _ = _about_contact(flick)
            ax.plot(since_ms, measured, **FAINT)
        for style, flick in zip(REPORTS, clear[:N_CLEAREST], strict=False):
            since_ms, measured, model = _about_contact(flick)
            seen = np.flatnonzero((since_ms >= -BEFORE_MS) & (since_ms <= after_ms))
            _draw_fit(ax, (since_ms, measured, model), seen, style, N_MARKERS)
        ax.axvline(0.0, label="contact", **MARK)
        ax.set_xlim(-BEFORE_MS, after_ms)
        ax.set_ylim(-8, 115)
        ax.set_yticks([0, 25, 50, 75, 100])
        ax.set_xlabel("time since contact, ms")
        ax.set_ylabel(WAY_LABEL)
        ax.legend(loc="lower right", handlelength=1.6)
        heading(ax, f"{axis}, code {direction}", said)

    description = (
        f"{len(flicks)} flicks of {axis}, code {direction}, laid over each other at their contact. {said.capitalize()}."
    )
    return Panel(draw=draw, description=description)


def _draw_fit(
    ax: Axes, curves: tuple[FloatArray, FloatArray, FloatArray], seen: NDArray[np.int64], style: dict[str, Any], n: int
) -> None:
    """Draw one fit over about `n` of its reports; the first event in a panel gives the legend its words."""
    t_ms, measured, model = curves
    stride = max(1, -(-seen.size // n))
    few, first = seen[::stride], style is REPORTS[0]
    ax.plot(t_ms, model, label="fit" if first else None, **FIT)
    words = "reports" if stride == 1 else f"reports, 1 in {stride}"
    ax.plot(t_ms[few], measured[few], label=words if first else None, **style)


def _conclusion(response: DirectionResponse | None) -> str:
    if response is None:
        return "no fit"
    return f"smoothing delay {format_brief(response.smoothing_delay)}"


def _after_ms(response: DirectionResponse | None) -> float:
    delay_s = response.smoothing_delay.value if response is not None else None
    return AFTER_MS if delay_s is None else float(np.clip(6e3 * delay_s, AFTER_MS / 2, 300.0))


def _misfit(flick: Trace) -> float:
    """Root mean square of what the fit leaves, as a share of the way."""
    _, measured, model = _about_contact(flick)
    return float(np.sqrt(np.mean((measured - model) ** 2)))


def _about_contact(flick: Trace) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return time since contact in ms, reports and fit in per cent of the way; thinned to what can be seen."""
    t_s = np.asarray(flick.arrays["t_s"], dtype=np.float64)
    measured, model = (np.asarray(flick.arrays[name], dtype=np.float64) for name in ("measured_fs", "model_fs"))
    since_ms = 1e3 * (t_s - flick.marks.get("contact_s", 0.0))
    start, end = model[0], model[-1]
    way = (end - start) or 1.0
    near = np.flatnonzero((since_ms > -2 * BEFORE_MS) & (since_ms < 300.0))
    kept = near[evenly(near.size, N_POINTS)] if near.size else np.arange(t_s.size)
    return since_ms[kept], 100 * (measured[kept] - start) / way, 100 * (model[kept] - start) / way


def release_panel(axis: str, returns: Sequence[Trace], words: str) -> Panel:
    """Return the panel of one axis' returns after letting go.

    Parameters
    ----------
    axis : str
        Stream name.
    returns : sequence of Trace
        Kind ``"release"``: ``t_s``, ``measured_fraction``, ``model_fraction`` of shape (n,);
        times count from half way.
    words : str
        What was concluded; stands under the title.
    """
    after_ms = max((_settled_ms(one) for one in returns), default=AFTER_MS)

    def draw(ax: Axes) -> None:
        for style, one in zip(REPORTS, returns[:N_CLEAREST], strict=False):
            t_ms, measured, model = _about_half_way(one)
            seen = np.flatnonzero((t_ms >= -AROUND_MS) & (t_ms <= after_ms))
            _draw_fit(ax, (t_ms, measured, model), seen, style, 2 * N_MARKERS)
        for one in returns[N_CLEAREST:]:
            ax.plot(*_about_half_way(one)[:2], **FAINT)
        ax.axhline(0.0, **REFERENCE)
        ax.set_xlim(-AROUND_MS, after_ms)
        ax.set_xlabel("time since half way, ms")
        ax.set_ylabel("way left to rest, %")
        ax.legend(loc="upper right", handlelength=1.6)
        heading(ax, f"{axis}, let go", words)

    return Panel(draw=draw, description=f"{len(returns)} spring returns of {axis}. {words}".strip())


def _settled_ms(one: Trace) -> float:
    """Twice the time until the fit stays within 1 %, kept to what can be looked at."""
    t_ms, _, model = _about_half_way(one)
    late = t_ms[np.abs(model) > 1.0]
    return float(np.clip(2 * late[-1] if late.size else 0.0, AROUND_MS, 300.0))


def _about_half_way(one: Trace) -> tuple[FloatArray, FloatArray, FloatArray]:
    t_s = np.asarray(one.arrays["t_s"], dtype=np.float64)
    kept = evenly(t_s.size, N_POINTS)
    since_ms = 1e3 * t_s[kept]
    measured, model = (100 * np.asarray(one.arrays[f"{name}_fraction"])[kept] for name in ("measured", "model"))
    return since_ms, measured, model
