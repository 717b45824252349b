"""The numbers that decide in the mathematics that bench and hand share: `feelcheck why` tells which of them did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

# The clock behind time stamps

FEWEST_STAMPS = Count(24, "stamps", "a guard: of fewer no clock is told, and no log of flicks is so short")
WINDOW_STAMPS = Count(
    150,
    "stamps",
    "in a window of the search, whose phase is free: more drift, fewer fit anything",
    by_trial=True,
)
LONGEST_WINDOW_S = Number(
    1.2, "s", "of the search: clocks drift over a longer one; binds below 125 Hz only", by_trial=True
)
SHORTEST_WINDOW_S = Number(
    0.04, "s", "a guard for reports above 3750 Hz: host delays of milliseconds fill a shorter window"
)
N_WINDOWS = Count(32, "windows", "the densest ones are searched; more take time and tell the same: for speed alone")
LONGEST_OF_USUAL = Number(
    1.7, "1", "of the usual step between stamps: no interval is sought beyond, where its double begins", by_trial=True
)
NEAR_BEST = Number(
    0.97,
    "1",
    "of the best coherence: a guard for exact stamps, which a whole part of the interval fits as well; with delays the "
    "interval itself is best",
)
BLOCK_STAMPS = Count(64, "stamps", "of a block whose phase is followed: late ones are outvoted", by_trial=True)
FEWEST_BLOCKS = Count(12, "blocks", "of a short log: fewer do not tell the scatter about a line", by_trial=True)
SMALLEST_BLOCK = Count(5, "stamps", "a guard for logs of less than sixty: in a block of those")
HUBER_SDS = Number(1.5, "sd", "from which on a block counts less; common practice, between 1.3 and 2", by_trial=True)
LEAST_PHASE_SPREAD = Number(0.001, "cycles", "no block's phase is surer: a stamp is no instant", by_trial=True)
MOST_ALIKE = Number(0.95, "1", "a guard: of residuals of neighbouring blocks; with 1 the variance of a mean has no end")
LONGEST_BURST_S = Number(
    0.1, "s", "a guard: a stalled host hands over that much at once; a stamp moves no further back"
)
LONGEST_SILENCE_S = Number(
    30.0, "s", "a clock drifts by more than a report over a longer silence: each stretch is laid on a grid of its own"
)
SAME_RHYTHM = Number(
    0.01, "1", "a stretch whose interval differs by more from that of the longest one has no part in the clock"
)
EARLY_SHARE = Number(
    0.05,
    "1",
    "quantile of the lateness that stands for an undelayed report: the earliest of all breaks on one slipped number",
    by_trial=True,
)

# Spacings

COMB_SHARE = Number(
    0.75,
    "1",
    "of the highest power, from which on a lower frequency is the comb and the highest a multiple of it",
    by_trial=True,
)

# A response undone

LEAST_WIDTH = Count(5, "readings", "the shortest local parabola that still averages, and the shortest local cubic")
BRIEF = Number(
    1.5, "reports", "poles of a shorter sum are undone exactly, from report to report: a local parabola rings there"
)
BLOCKS = Number(2.0, "1", "lengths of an average that a quick movement lasts: their errors add up", by_trial=True)
WIDTH_OF_POLES = Number(
    0.6, "1", "of the poles' sum: a longer parabola rounds off the kink that is looked for", by_trial=True
)

# Springs

SLOWEST_RING_HZ = Number(4.0, "Hz", "undamped frequency of a stick on its spring, at least: a weak one rings with 10")
FASTEST_RING_HZ = Number(400.0, "Hz", "the same at most: beyond, no stick has so little mass")
LEAST_DAMPING = Number(0.02, "1", "damping ratio of a stick on its spring, at least; bearings alone damp more")
MOST_DAMPING_FITTED = Number(0.98, "1", "the same at most: the closed form holds below 1")
ALIKE_WAYS = Number(0.01, "1", "relative difference from which on a pole's rising and falling are told apart")
MOST_SWINGS = Count(
    6, "turns", "at which rising and falling change places; what is left of the ring then tells them apart no more"
)

# A response played

SILENT_REPORTS = Number(
    1.5, "reports", "a report that comes later ends a run of silent ones, which held their value: half way to the next"
)
