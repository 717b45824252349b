"""The numbers that decide verdicts: `feelcheck why --against` tells which of them did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

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

WIDEST_BAND_RATIO = Number(
    4.0, "1", "a prediction whose ends are so far apart agrees with everything, so it cannot tell", by_trial=True
)
