"""The numbers that decide verdicts: `feelcheck why --against` tells which of them did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number
from feelcheck.numerics.uncertainty import NORMAL_90, NORMAL_95

ALPHA_FIXED = Number(0.05, "1", "level of each decision where the number of recordings was fixed before the first one")

ALPHA_LOOK = Number(
    0.0221,
    "1",
    "level of each of up to three equally strict looks that together stay at 0.05 (S. J. Pocock, Biometrika "
    "64:191-199, 1977; constant from memory, held by simulation in the tests)",
)

POWER = Number(0.9, "1", "chance with which as many more recordings as are advised decide (common practice, no source)")

MAX_PER_SIDE = Count(60, "recordings", "nobody records more a side: beyond that no number is advised")

BOOTSTRAP_FROM = Count(
    15, "replicates a side", "from here on a bootstrap interval covers what it says (common practice, no source)"
)

RANKS_FROM = Count(
    5, "replicates a side", "from here on the rank test can reach the level of a look: 5 against 5 can give p = 0.008"
)

EXACT_UP_TO = Count(8, "replicates", "of the smaller side, up to which the ranks' distribution is counted out")

PAIRS_FROM = Count(
    7, "pairs", "from here on the signed-rank test can reach the level of a look: 7 of one sign give p = 0.016"
)

N_RESAMPLES = Count(4999, "resamples", "the ends of an interval move by less than 2 % of its width between draws")

REPEATS_LEVEL = Number(
    0.999, "1", "intervals of repeats that must be apart: several quantities of several pairs are looked at"
)

LIKE_FRACTION = Number(
    0.05,
    "1",
    "what repeats may differ by beyond their own intervals: warm parts, a probe touched (common practice, no source)",
)

LIKE_S = Number(5e-5, "s", "the same for delays too short for a fraction to mean anything (common practice, no source)")

LIKE_DRIVES = Number(1.5, "1", "ratio of two drives' transitions from which edges are no longer like with like")

HIDDEN_FILTER = Number(
    0.3,
    "report intervals",
    "standard deviation of what a quick recursive filter leaves when it passes for an average or for dead time "
    "(simulated filters of 1 ms delay at 1 kHz)",
)

WIDEST_BAND_RATIO = Number(
    4.0, "1", "a prediction whose ends are so far apart agrees with everything, so it cannot tell", by_trial=True
)

SENSOR_LEVEL = Number(
    0.05, "1", "level at which two boards differ by more than their networks do; Holm's over all quantities"
)

STEPS_HIDDEN_ABOVE = Number(
    0.8,
    "sampling intervals",
    "delay of a board that hides internal steps: half for holding, a third for smoothing",
)

LONGEST_STEP_S = Number(
    0.001,
    "s",
    "longest internal sampling interval to reckon with where steps are not seen (common practice, no source)",
)

RESIDUAL_MARGIN_S = Number(
    0.0005, "s", "delay beyond the network's that sets two sensor types apart (common practice, no source)"
)

ALIKE_S = Number(
    0.00025, "s", "how near it must be before two boards are called alike: what holding samples at 2 kHz adds"
)

OWN_DELAY_SPREAD_S = Number(
    0.00004, "s", "standard deviation between the delays of two specimens of one type (common practice, no source)"
)

BAND_FACTOR = Number(NORMAL_90, "1", "standard deviations of a prediction either way: 90 % of a normal distribution")

RIM_GIVE_FS = Number(
    0.004,
    "throws",
    "what slide, bounce and give of a rim move a stopped stick, root mean square; from simulated rims",
    by_trial=True,
)

POOL_ABOVE_P = Number(
    0.25, "1", "an interaction less clear than this is part of the repeatability (common practice, no source)"
)

DISTINCT_FACTOR = Number(
    1.41,
    "1",
    "times specimens over gauge is the number of distinct categories (common practice, no source)",
)

RUN_OF = Count(8, "points", "so many in a row on one side of the centre are a run (common practice, no source)")

POINTS_OF_A_CHART = Count(8, "points", "fewer points make no chart")

CONFIDENCE = Number(0.95, "1", "confidence of tolerance limits (common practice, no source)")

FEWEST_FOR_OUTLIERS = Count(5, "sticks", "the robust spread of fewer is no spread")

FALSE_ALARM = Number(0.05, "1", "how probable it is that a clean normal population shows any outlier at all")

MOST_STICKS = Count(4000, "sticks", "pairs grow with the square: more are matched within the first so many")

STICKS_OF_A_PLACE = Count(5, "sticks", "among fewer no place is told")

SPECIMENS_OF_A_SPREAD = Count(3, "specimens", "fewer do not show a spread")

FEWEST_FOR_SHAPE = Count(
    8, "sticks", "the test of skewness is not defined well for fewer (D'Agostino, Biometrika 57 (1970) 679)"
)

SKEWED = Number(NORMAL_95, "1", "standard deviations of the test of skewness: 5 %, two-sided")

MOST_BOUNDED = Number(
    0.5, "1", "share of bounds among the values beyond which no shape is fitted, and limits go by order"
)

ENOUGH_OPERATORS = Count(3, "operators", "from which on shares of a gauge study are not called rough (common practice)")

ENOUGH_SPECIMENS = Count(5, "specimens", "the same (common practice, no source: ten are usual)")

WEAKLY_SUNK = Number(1.5, "1", "ratio of both directions' delays that no passive network makes, tolerances included")
