"""The numbers that decide what answers of a person mean, and what is asked next."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

ALPHA = Number(0.05, "1", "probability of so many correct answers by guessing up to which they count as proof")

LAPSES_RARE = Number(25.0, "1", "prior of lapses: each per cent more is held a quarter less likely, logarithmically")

SHAPE_SPREAD = Number(
    0.5,
    "1",
    "prior of a Weibull's shape about 1.3, logarithmically: sensitivity in proportion to the lag, or quicker",
)

SHORTEST_S = Number(0.2e-3, "s", "shortest threshold that is looked for: below half of the least delay shown")

LONGEST_S = Number(0.5, "s", "longest threshold that is looked for: three times the greatest delay that is shown")

START_S = Number(40e-3, "s", "delay of the first trial: a large one, which teaches what is asked")

LEAST_S = Number(0.5e-3, "s", "least delay that is shown: half a report at 1 kHz")

MOST_S = Number(160e-3, "s", "greatest delay that is shown: two doublings of the first")

FIRST_STEP = Number(1.6, "1", "factor of a staircase's step before its second reversal: about 4 dB")

LAST_STEP = Number(1.19, "1", "the same afterwards: about 1.5 dB")

COARSE_REVERSALS = Count(2, "reversals", "after which a staircase goes in small steps")

EASY_EVERY = Count(12, "trials", "of which one is easy: it keeps the person going and tells lapses")

LEAST_MOVES = Count(5, "movements", "of a sequence: fewer have no spread of their ends")
