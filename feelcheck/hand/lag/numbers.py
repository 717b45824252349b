"""The numbers that decide about a lag: `feelcheck why` tells which of them did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

LEAST_EVENTS = Count(5, "events", "fewer closings of the button near a stop have no spread to speak of")

LEAST_SHARE = Number(0.6, "1", "share of the flicks with a closing beside them, from which on the button is a marker")

MOST_SPREAD_S = Number(0.003, "s", "a button that closes with more scatter than this is pressed, not struck")

MARKER_FLOOR_S = Number(
    0.00007,
    "s",
    "contact instants together, from simulated rims that bounce and give",
    by_trial=True,
    sets="rims alike in all events",
)

LEAST_STROKES = Count(6, "strokes", "fewer strokes of tied sticks cannot part delay, smoothing, gain and play")

LEAST_STROKES_A_WAY = Count(4, "strokes", "fewer strokes one way have no scatter of their own")

TOGETHER = Number(0.9, "1", "median correlation inside the strokes from which on two sticks move as one")

TIED_FIT = Number(0.99, "1", "share of the motion that the tied model must explain", by_trial=True)

MOST_LAG_SPREAD_S = Number(0.003, "s", "strokes whose lags scatter more were not made by one tie", by_trial=True)

FLOOR_S = Number(
    0.000018,
    "s",
    "what a trembling hand does inside the linkage's play, without smoothing; from simulated sticks",
    by_trial=True,
    sets="link between the sticks",
)

FLOOR_SMOOTHED_S = Number(
    0.00004,
    "s",
    "the same behind a slow response; from simulated sticks",
    by_trial=True,
    sets="slow response of either stick",
)

SMOOTHED_S = Number(0.012, "s", "from this pole on a response counts as slow", by_trial=True)

ROUNDED = Number(
    0.2,
    "1",
    "share of a rounding error, over the speed, that all strokes have in common; from simulated sticks of 8 bits",
    by_trial=True,
    sets="reports of both sticks",
)

LEFT_OF_PLAY = Number(
    0.04,
    "1",
    "how a linkage plays that no column of the fit describes, as a share of play over speed; from dragged, sprung and "
    "thrown sticks",
    by_trial=True,
    sets="play of the linkage",
)

LEFT_OF_PLAY_SMOOTHING = Number(
    0.3,
    "1",
    "the same of the relative smoothing: a stick that flies through its clearance at the stop looks quicker",
    by_trial=True,
    sets="play of the linkage",
)

CLEAR_T = Number(4.0, "1", "standard uncertainties by which both ways differ clearly", by_trial=True)
