"""The numbers that decide about a response behind the rim: `feelcheck why` tells which of them did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

SYSTEMATIC = Number(
    0.007,
    "1",
    "relative standard uncertainty from motion at the rim that no fit tells apart; from simulated rims that bounce, "
    "give and lead the stick along",
    by_trial=True,
    sets="motion at the rim that no fit tells apart",
)

SYSTEMATIC_S = Number(
    0.0003,
    "s",
    "the same as a time: the first milliseconds at the rim count with the square of this over the pole",
    by_trial=True,
    sets="first milliseconds at the rim",
)

LARGEST_SYSTEMATIC = Number(0.08, "1", "and no more than this", by_trial=True, sets="first milliseconds at the rim")

SYSTEMATIC_PER_S = Number(
    0.15,
    "1/s",
    "growth with the pole: the hand moves on while a slow response ends; from simulated plain flicks",
    by_trial=True,
    sets="hand that moves on while the response ends",
)

SHORT_U_S = Number(
    0.0002,
    "s",
    "standard uncertainty of any response: a thumb that yields, and a corner with two sides, take a part of a "
    "millisecond to stop, whatever the electronics do; from simulated thumbs and gates",
    by_trial=True,
    sets="thumb that yields, corner of two sides",
)

UNSEEN_GIVE = Number(
    0.004,
    "reach",
    "what a rim may give in some ten milliseconds with nothing to show it; it moves a response by that share of the "
    "time in which the stick, at its speed at contact, would cross the reach",
    by_trial=True,
    sets="rim that gives and does not show it",
)

SCATTER_SHARE = Number(
    2.0,
    "1",
    "how far stamps that scatter by one second move a time constant; they hang together, so flicks do not average it",
    by_trial=True,
    sets="scatter of the time stamps",
)

GIVE_SHARE = Number(
    0.5,
    "1",
    "a rim that gives over 5 to 50 ms looks like a pole of that length: the share of what it gave that stays in doubt",
    by_trial=True,
    sets="rim that gives",
)

GIVE_S = Number(0.01, "s", "a response shorter than this hides less of what a rim gives", by_trial=True)

HARD = Number(
    0.4,
    "mean speed of the flick",
    "contact at this speed and more is a stop at the rim; flicks driven into it come with 1 to 2.5 times that",
    by_trial=True,
)

SOFT_U = Number(
    0.2,
    "1",
    "relative standard uncertainty of a stick that has come to rest before it meets the rim",
    by_trial=True,
    sets="stop without a sharp edge",
)

STOP_SHOWS_S = Number(
    0.006,
    "s",
    "from this delay on, three times `rim_bracket.BRAKE_S`, a stick that the rim stops shows it when un-smoothed; one "
    "that does not slowed down by itself or met two sides of a corner one after the other",
    by_trial=True,
)

MIN_TO_NAME = Count(4, "flicks", "a direction with fewer does not speak for or against a filter")

SPLIT = Number(
    0.25,
    "1",
    "relative standard uncertainty of a pole that makes up little of the delay; from simulated poles with averages",
    by_trial=True,
)

OK_FROM_INTERVALS = Number(0.95, "report intervals", "a shorter response is only a limit", by_trial=True)

LEAST_BOUND_INTERVALS = Number(
    1.05,
    "report intervals",
    "no limit is given below: rebounds of a few milliseconds can hide a pole as long as that",
    by_trial=True,
)

LARGEST_RELATIVE_U = Number(0.35, "1", "a response that is less sure than this is only a limit", by_trial=True)

NEAR_INTERVALS = Number(2.0, "report intervals", "within so many a value must be surer", by_trial=True)

LARGEST_NEAR_U = Number(
    0.2, "1", "how sure it must be there, or rebounds and second poles pass for a response", by_trial=True
)

MEMORY_U = Number(
    0.15,
    "1",
    "relative uncertainty of the noise's memory; from simulated filters",
    by_trial=True,
    sets="memory of the noise at rest",
)

SILLY = Number(8.0, "1", "a limit so many times above what was fitted limits nothing")

SILLY_S = Number(0.5, "s", "nor does one as long as this")

SLOW_SHARE = Number(
    0.006,
    "1",
    "the hand moves on while a slow response ends; share of the delay, from simulated sticks",
    by_trial=True,
    sets="hand that moves on after the contact",
)

RIM_TO_INTERVALS = Number(
    0.25,
    "report intervals",
    "other motions at the rim move contact and smoothing against each other by no more; from simulated sticks",
    by_trial=True,
    sets="motion at the rim, contact and response together",
)

RIM_SLOW = Number(
    4.0,
    "1",
    "where the pole is as long as a rim's give they move together; from simulated sticks",
    by_trial=True,
    sets="motion at the rim behind a slow response",
)

RIM_SLOW_S = Number(0.01, "s", "a pole as long as a rim gives", by_trial=True)

MISFIT_SHARE = Number(
    2.0,
    "1",
    "how much of what a spring's equation leaves of a return may hide in the response; from simulated dry friction, "
    "springs that stiffen, thumbs that linger and returns that begin at full speed",
    by_trial=True,
    sets="way back that is no spring's",
)

LEAST_MISFIT = Number(
    0.00015, "of the way", "a misfit that no residuals show", by_trial=True, sets="way back that is no spring's"
)

LET_GO_S = Number(
    0.0016,
    "s",
    "what a thumb that slides off the stick within some 5 ms adds to the spread of a response in time",
    by_trial=True,
    sets="thumb that lets go",
)

CONFIRMS_U = Number(
    0.05,
    "1",
    "a way back that is as sure as this of the same response stands in for a stop without a sharp edge",
    by_trial=True,
)
