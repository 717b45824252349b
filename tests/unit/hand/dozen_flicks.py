"""A dozen simulated flicks and what is fitted to them, made once for all tests that only look at it."""

from __future__ import annotations

from functools import cache

import numpy as np

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.batches import lay_out
from feelcheck.hand.gate_stop.choice import Chosen, choose_from_few
from feelcheck.hand.gate_stop.readings import stick_readings
from feelcheck.hand.gate_stop.search import Found, everything
from feelcheck.hand.gate_stop.windows import flick_windows
from feelcheck.hand.view import prepare
from feelcheck.model import FloatArray
from feelcheck.sources.synthetic import quick_script, simulate_recording, world_with

__all__ = ["chosen", "fitted", "flicks"]


@cache
def flicks(effect: str = "plain", tau_s: float = 0.006) -> tuple[Batch, FloatArray]:
    """Return the flicks and their onsets."""
    rng = np.random.default_rng(7)
    view = prepare(simulate_recording(world_with(effect, rng, tau_s=tau_s), quick_script(12, rng), rng))
    reports = stick_readings(view, view.sticks[0])
    windows, variance = flick_windows(reports, [(s.start_s, s.end_s) for s in view.segments if s.kind == "flick"])
    return lay_out([w for w in windows if not w.why_not], variance, reports.interval_s)


@cache
def chosen(effect: str = "plain") -> Chosen:
    """Return the choice from a few of them."""
    return choose_from_few(*flicks(effect), np.full(4, 0.005))


@cache
def fitted() -> Found:
    """Return the fit of one pole to all plain ones."""
    return everything(chosen().one_pole, *flicks())
