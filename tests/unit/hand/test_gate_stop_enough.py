"""Long recordings: so many flicks are fitted, the others are told."""

from __future__ import annotations

import numpy as np

from feelcheck.hand.gate_stop.numbers import MOST_FLICKS
from feelcheck.hand.gate_stop.stick_fit import _enough
from feelcheck.hand.gate_stop.windows import FlickWindow


def _window(start_s: float, why_not: str = "") -> FlickWindow:
    nothing = np.zeros(0)
    seen = np.zeros((2, 0), dtype=bool)
    return FlickWindow(start_s=start_s, direction_deg=0.0, t_s=nothing, y=np.zeros((2, 0)), seen=seen, why_not=why_not)


def test_a_usual_recording_keeps_all_its_flicks() -> None:
    windows = [_window(float(k)) for k in range(MOST_FLICKS)]
    assert _enough(windows) is windows


def test_of_many_flicks_an_even_choice_is_used_and_the_others_say_why_not() -> None:
    windows = [_window(float(k), "not held at the rim" if k % 5 == 0 else "") for k in range(200)]
    kept = [w for w in _enough(windows) if not w.why_not]
    assert len(kept) == MOST_FLICKS
    assert kept[0].start_s == 1.0
    assert kept[-1].start_s == 199.0
    assert max(np.diff([w.start_s for w in kept])) <= 5.0
    reasons = {w.why_not for w in _enough(windows)} - {""}
    assert reasons == {"not held at the rim", "as many others were used"}
