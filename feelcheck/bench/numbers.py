"""The numbers that decide what is said of an edge: `feelcheck why` tells which of them did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

SETTLED = Number(0.9, "1", "an edge that got this far shows its end; one that did not may be the start of a slower one")

BENT = Number(0.4, "1", "an edge without a drive that got less far than this is hardly bent: a ramp would look like it")

VAGUE = Number(0.25, "1", "a value of a cut edge that is less sure than this is only a lower limit", by_trial=True)

TOO_VAGUE = Number(0.5, "1", "a value of a whole edge less sure than this is only an upper limit", by_trial=True)

GAP_SHARE = Number(
    0.2,
    "1",
    "a step in a gap of one sample, or a ramp across it, differ in variance by up to a quarter of the gap squared",
    sets="drive between samples",
)

SAME_DECAY = Number(0.3, "1", "logarithm of the ratio of times that count as one", by_trial=True)

ALIKE_MISFIT = Number(0.012, "swing", "up to this misfit a plain pole explains an edge, too", by_trial=True)

CHI2 = Number(
    3.841458820694124,
    "1",
    "chi-square of one degree of freedom, 95 %: its upper end is the one-sided 97.5 % limit (NIST/SEMATECH e-Handbook, "
    "1.3.6.7.4)",
)

N_GRID = Count(24, "time constants", "from a fiftieth of a sample to the window, a factor of 1.9 apart at most")

RESOLUTION = Number(0.5, "samples", "no bound below half a sample interval is claimed: the instants are no better")

LONG_FOR_WINDOW = Number(
    0.3, "windows", "a pole longer than this share of what was captured may as well be far longer", by_trial=True
)

CONVERSION_STEP = Number(
    1 / 24,
    "update intervals",
    "standard uncertainty of a conversion time: the levels of a few steps tell it no better",
    sets="conversion before an update",
)

DRIVE_FRACTION = Number(
    0.05,
    "1",
    "how far a drive's transition that somebody tells may be off, either way (common practice, no source)",
    sets="drive's transition as told",
)

SLOWEST_PACE = Number(
    0.8, "1", "ratio of an autocorrelation's late half to its early half beyond which its end was not seen"
)

LEAST_LEFT = Number(
    0.5, "1", "share of the slow noise that a fit can have left, at least: a correction beyond a factor of 2 is a guess"
)

MOST_SAG = Number(0.6, "swing", "a coupling capacitor that lets more sag within a window leaves no edge", by_trial=True)

SLOW_COUPLING = Number(
    4.0, "1", "a coupling capacitor this many times slower than the pole is told from a second pole", by_trial=True
)

RESTS = Number(0.03, "swing", "the middle half of a state's samples lies closer together than this", by_trial=True)

MOST_BEYOND = Number(0.45, "swing", "an edge goes no farther beyond the level that it ends at: a damping ratio of 0.25")

EFFECT = Number(
    0.01,
    "swing",
    "size given beforehand to an effect beside the model: from 0.4 % on the choice of model looks for it itself",
    by_trial=True,
    sets="drift and other effects beside the edge",
)

ODDS = Number(
    0.3,
    "1",
    "of each such effect against none, beforehand",
    by_trial=True,
    sets="drift and other effects beside the edge",
)

TAIL = Number(5.0, "1", "a slow tail beside a pole is as many times slower", by_trial=True)

MOST_FITS = Count(3, "edges", "what an effect changes is the same in all of them")

HIGHEST_LOG_WEIGHT = Number(300.0, "1", "exponentials beyond it are no numbers any more")

CURVED = Number(
    0.0025,
    "swing",
    "linearity of an 8-bit converter (half its last digit is 0.2 %) and of linear sensors (common practice, no source)",
    sets="bent characteristic of sensor or scope",
)
