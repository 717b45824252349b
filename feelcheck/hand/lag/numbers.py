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
    0.6,
    "1",
    "share of a rounding error, over the speed, that all strokes have in common; from simulated sticks of 8 bits, with "
    "play and without",
    by_trial=True,
    sets="reports of both sticks",
)

ROUNDED_SMOOTHING = Number(
    2.4,
    "1",
    "the same of the relative smoothing, which only the bends of a stroke tell from a delay: coarse codes hide them",
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
    1.2,
    "1",
    "the same of the relative smoothing: a stick that flies through its clearance at the stop looks quicker",
    by_trial=True,
    sets="play of the linkage",
)

CLEAR_T = Number(4.0, "1", "standard uncertainties by which both ways differ clearly", by_trial=True)

TURN_FS = Number(0.04, "throws", "a stick turns where it comes back by so much: less is its trembling", by_trial=True)

LEAST_STROKE_FS = Number(0.3, "throws", "a shorter way is no stroke", by_trial=True)

LEAST_SPEED_FS_PER_S = Number(0.5, "throws/s", "a slower stroke shows play, and no delay", by_trial=True)

LEAST_END_FS = Number(
    0.25, "throws", "a stroke that ends nearer to the centre came back to rest by its spring", by_trial=True
)

SHARE_OF_PEAK = Number(0.1, "1", "of the fastest speed: below it a stroke is over", by_trial=True)

STOPPED_SHARE = Number(
    0.03, "1", "of the way: a stick that moves more at the end of its stroke has not stopped", by_trial=True
)

STROKE_ENDS_S = Number(
    0.08, "s", "after its last fast report a stroke is followed for so long: slow responses end within", by_trial=True
)

LEAST_ROWS = Count(24, "reports", "fewer reports of a stroke do not part delay and smoothing", by_trial=True)

STROKE_SLOPE_S = Number(0.006, "s", "speed is taken over this span", by_trial=True)

NEAR_S = Number(0.1, "s", "a closing farther from a contact belongs to something else")

EDGES_ON_GRID = Number(
    0.7, "1", "mean phase of the button's stamps on the reports, above which it came in them", by_trial=True
)

CLEAR_GIVE_S = Number(0.00015, "s", "a rim that gives makes the smoothing unsure by more than this", by_trial=True)

LONGEST_FILLED_S = Number(0.05, "s", "over a longer hole the line between its ends is no motion", by_trial=True)

TAKE_UP_FS = Number(0.1, "throws", "a stroke is fitted from so far on: by then the play is taken up", by_trial=True)

LOOKS_PER_REPORT = Count(
    100, "looks", "a recording with more looks a report is mostly silence: it is looked at where there are reports"
)

LARGEST_TAU_S = Number(0.05, "s", "a longer pole would be seen as a stick that hangs back")

LARGEST_SHIFT_S = Number(0.1, "s", "a longer delay is none between two sticks of one pad")

AT_LIMIT = Number(
    0.97, "1", "of its limit: a pole that ends there may be longer, and the limit gives way", by_trial=True
)

SHIFT_PRIOR_S = Number(
    0.0004,
    "s",
    "one firmware sends both sticks, so dead times hardly differ; stands for about 1 ms, as residuals hang together",
    by_trial=True,
)
