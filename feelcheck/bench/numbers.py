"""The numbers that decide what is said of an edge: `feelcheck why` tells which of them did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number
from feelcheck.numerics.chi_squared import CHI_SQUARED_95

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

WINDOW_SAMPLES = Count(1500, "samples", "of an edge that are fitted: neighbours are averaged beyond, for speed alone")

WINDOW_BEFORE = Number(4.0, "durations", "of rest before an edge in its window: they tell its first level")

WINDOW_AFTER = Number(10.0, "durations", "behind the middle of an edge in its window: two poles are settled by then")

WINDOW_SETTLES = Number(3.0, "durations", "behind the middle of an edge from which on a drift shows", by_trial=True)

FOOT_LEFT_OUT = Number(
    0.3, "1", "of the time from onset to 50 % of an edge without a drive, before its onset", by_trial=True
)

CAP_REACH = Number(
    0.01, "swing", "within which readings at the end are one flat top, beside their noise", by_trial=True
)

CLEAR_CAP = Number(0.015, "swing", "noise above which a flat top is not told from a pole's last part", by_trial=True)

FEWEST_ON_ITS_WAY = Count(8, "samples", "between 10 and 90 % that an edge which runs into a flat top has at least")

STEP_SAMPLES = Number(4.0, "samples", "within which a step of the drive and the output that arrives with it are seen")

SHAPE_SAMPLES = Count(3, "samples", "in a drive's 10-90 % from which on its own shape is known, not only its instant")

SAME_DECAY = Number(0.3, "1", "logarithm of the ratio of times that count as one", by_trial=True)

ALIKE_MISFIT = Number(0.012, "swing", "up to this misfit a plain pole explains an edge, too", by_trial=True)

CHI2 = Number(
    CHI_SQUARED_95,
    "1",
    "chi-squared of one degree of freedom, 95 %: the upper end of its interval is the one-sided 97.5 % limit",
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

LEAST_SAG = Number(1.5, "converter steps", "less may be what rounding leaves of a level between two codes")

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

LEAST_PART = Number(0.1, "1", "of pole and average the one with less delay has so much of the other's", by_trial=True)

TAIL = Number(5.0, "1", "a slow tail beside a pole is as many times slower", by_trial=True)

MOST_FITS = Count(3, "edges", "what an effect changes is the same in all of them")

HIGHEST_LOG_WEIGHT = Number(300.0, "1", "exponentials beyond it are no numbers any more")

CURVED = Number(
    0.0025,
    "swing",
    "linearity of an 8-bit converter (half its last digit is 0.2 %) and of linear sensors (common practice, no source)",
    sets="bent characteristic of sensor or scope",
)

DECISIVE = Number(
    6.0,
    "1",
    "evidence from which a richer candidate is believed: a difference of the information criterion that "
    "counts as strong (R. E. Kass, A. E. Raftery, J. Am. Statist. Assoc. 90 (1995) 773-795)",
)

PRACTICAL_EFFECT = Number(
    0.004,
    "swing",
    "a candidate whose curve differs by less makes no difference: a code of 8 bits",
)

CLIP_EFFECT = Number(
    0.0003,
    "swing",
    "a cut drive changes the curve by little and the time constant by much",
    by_trial=True,
)

CLIP_DECISIVE = Number(
    2.0,
    "1",
    "evidence from which a cut drive is believed; what it changes is averaged over it and none",
    by_trial=True,
)

DEAD_DECISIVE = Number(
    20.0,
    "1",
    "evidence from which a dead time is believed: it can stand in for a cut or rounded drive",
    by_trial=True,
)

GOOD_MISFIT = Number(
    0.002,
    "swing",
    "below it nothing richer is looked for, if nothing is correlated either: half a code of 8 bits",
)

NO_DIFFERENCE = Number(
    0.00025,
    "swing",
    "below it not even correlated residuals ask for more: what counts as an effect is four times as large at its peak",
)

WEAK_MISFIT = Number(0.008, "swing", "below it no weak sink is looked for", by_trial=True)

GOOD_CORRELATION = Number(1.6, "1", "residuals whose variance correlation raises by less count as white", by_trial=True)

FASTEST_POLE = Number(0.2, "samples", "a second pole below it is not seen", by_trial=True)

FASTEST_SHARE = Number(
    0.02,
    "1",
    "of the slow pole below which a second one is not told from an onset that nobody captured; behind a captured drive "
    "it is what else a dead time may be",
    by_trial=True,
)

LEAST_OVERSHOOT = Number(0.01, "swing", "a ring goes at least so far beyond its level", by_trial=True)

RING_BLOCKS = Count(100, "blocks", "of an edge over which a way beyond its level is looked for: shorter ones are noise")

MOST_BESIDE = Number(0.3, "swing", "a drift within a window is smaller, or there is no edge", by_trial=True)

MOST_HUM = Number(0.15, "swing", "mains hum is smaller, or it is no hum beside an edge", by_trial=True)

MOST_DECAY = Number(
    8.0,
    "swing",
    "that two decays may hold together where they begin: more cancels, and any curve can be made of it",
    by_trial=True,
)

LEAST_BESIDE = Number(0.003, "swing", "what goes beside a pole is at least so much of the edge", by_trial=True)

MOST_AT_ONCE = Number(0.6, "swing", "what goes at once beside a pole is at most so much of the edge", by_trial=True)

MOST_SHARES = Number(2.0, "swing", "two ways side by side hold at most so much together: more cancels", by_trial=True)

POLES_APART = Number(2.0, "1", "two ways side by side are told apart from this ratio of their poles on", by_trial=True)

BESIDE_EFFECT = Number(
    0.001,
    "swing",
    "a drift, sag or hum that changes the curve by less is left to the uncertainty",
    by_trial=True,
)

BESIDE_DECISIVE = Number(15.0, "1", "evidence from which a drift, sag or hum is believed", by_trial=True)

SETTLED_POLES = Number(
    5.0,
    "1",
    "time constants after an edge from which on a drift is told from its end: 0.7 % is left",
)

CLEARLY_AGAINST = Number(
    24.0,
    "1",
    "evidence of one edge after which the others are not asked: a rival counts as close up to half of it (`DECIDED`)",
)

SWING_FRACTION = Number(0.3, "range", "an excursion counts as a change of state from here on", by_trial=True)

SIGNAL_TO_NOISE = Number(8.0, "1", "range over noise from which a waveform stands out of its noise", by_trial=True)

CLEAR_OF_NOISE = Number(16.0, "1", "range over noise from which no more averaging is tried", by_trial=True)

MOST_POINTS = Count(
    20_000, "samples", "in which edges are looked for, waves told and noise correlated: more cost time and tell no more"
)

RESOLVED = Number(
    1.7,
    "1",
    "widths of the average: a step between two samples reads as 0.8 of one, one that a sample falls into as up to 1.6",
)

CALM = Number(
    0.02,
    "swing",
    "noise that an edge may have where its instants are read: more is averaged away first",
    by_trial=True,
)

SHARPER = Number(
    0.5,
    "1",
    "share of the width an edge was found on that the samples under it must get along with to be read again",
)

FOOT = Number(0.18, "1", "time from the onset to 10 % in that from there to 50 %: 0.18 of a pole, 0.25 of a ramp")

FLAT_SHARE_LEFT = Number(
    0.35,
    "1",
    "variance within steps, of that of the smooth curve there, that stairs leave at most",
    by_trial=True,
)

FIRST_EDGE_LEFT = Number(
    0.7,
    "1",
    "periods that leave more on the first edge are not tried on the others: twice what may be left",
)

UNEXPLAINED = Number(
    3.0,
    "1",
    "standard deviations by which local means may exceed white noise at any of some eight lengths; stairs "
    "that pass the search leave more than eleven",
)

RAMP_SAMPLES = Count(3000, "samples", "in which steps of a ramp are looked for: of more, averages are taken")

N_STEP_PHASES = Count(12, "phases", "that are tried of each period of steps")

MIN_STEPS = Count(4, "steps", "in a ramp: fewer are left to the search for a hold")

MOST_STEPS = Count(64, "steps", "in a ramp: of more the periods that are tried, 1.5 % apart, miss the ends")

EDGE_SHARE = Number(0.18, "periods", "after a jump until the samples of a step must be flat", by_trial=True)

FLAT_POLES = Number(
    3.5,
    "1",
    "time constants of a pole that a step lasts, or its end is never flat: 0.39 of the smooth curve's "
    "variance is left at 3",
)

HOLD_SAMPLES = Count(8, "samples", "in the drive's transition, and half of them in a hold: fewer show no step")

HOLD_PACE = Number(0.07, "1", "logarithm of the ratio of two holds that are tried")

HOLD_REACH = Number(
    0.3, "1", "logarithm of the ratio within which a hold is refined: the grid is four times as fine, with other starts"
)

COARSER = Count(
    3,
    "holds",
    "of which one is tried first: what leaves more by a factor of `HOPELESS` there than the finer grid may is given up "
    "(holds that were found left a third of it)",
)

N_HOLD_PHASES = Count(8, "phases", "that are tried of each hold")

N_TICK_STEPS = Count(9, "steps", "in which the instant of a hold is narrowed, from a 24th of it at most to a 1000th")

N_HOLD_STARTS = Count(6, "holds", "that are refined a little, the best of them to its end")

HOLD_EVALUATIONS = Count(140, "evaluations", "of one refinement")

SAME_PLACE = Number(
    1e-3,
    "holds",
    "between two places of a hold, and that share of what noise leaves, below which a search ends: a third of what is "
    "known of the interval",
)

HOLD_LEAVES = Number(
    0.5,
    "1",
    "of the smooth candidate's sum of squares that a hold leaves at most, if the sensor holds",
    by_trial=True,
)

HOPELESS = Number(
    4.0,
    "1",
    "times what a smooth candidate, or the best hold so far, leaves; where the grid of holds leaves more, refining "
    "leads nowhere",
    by_trial=True,
)

STILL_FROM = Number(3.0, "drive durations", "after which neither a drive nor what it left to be held moves any more")

STILL_SHARE = Number(0.25, "drive durations", "over which the samples before and after are averaged to look for holds")

PLAIN_LEAVES = Number(
    0.1,
    "1",
    "of the sum of squares of every smooth rival that a hold leaves at most, if its steps are plain to see",
    by_trial=True,
)

HOLD_DECISIVE = Number(20.0, "1", "evidence on each edge from which a hold counts as found", by_trial=True)

HOLD_POSSIBLE = Number(-12.0, "1", "evidence from which a hold is possible, and a pole only a limit", by_trial=True)

HOLDS_ALIKE = Number(0.06, "1", "logarithm of the ratio of holds of two edges that count as one")

FULLEST = Number(
    0.72,
    "1",
    "mean height of a half-wave above half its height: 0.64 for a sine, 0.5 for a triangle, 0.79 for ramps "
    "that take 0.42 of the time between extremes, more where a state is held",
)

LEANING = Number(
    0.012,
    "half-lengths",
    "centre of a half-wave behind its middle up to which it counts as even: a square wave through one pole "
    "leans by 0.025 where a state lasts 0.3 time constants",
)

LEANING_NOISY = Number(0.04, "half-lengths", "the same, whatever the noise", by_trial=True)

LEANING_SWEPT = Number(0.08, "half-lengths", "the same in a sweep, whose pace changes steadily", by_trial=True)

SWEPT = Number(1.25, "1", "ratio of the longest to the shortest half-wave from which a wave is a sweep", by_trial=True)

MOVING_SHARE = Number(0.55, "1", "share of a record in which a wave of fewer half-waves moves", by_trial=True)

SURE_COUNT = Count(3, "half-waves", "from which on a wave need not move all the time")

LOBE_SAMPLES = Count(8, "samples", "in a half-wave, or its shape is not told")

N_CHOOSING = Count(3, "edges", "on which the model is chosen")

N_FITTED = Count(24, "edges", "of one direction that are fitted: more tell little more")

REFUSED_MISFIT = Number(0.03, "swing", "a candidate that leaves more explains nothing")

UNDRIVEN_MISFIT = Number(
    0.5,
    "1",
    "of the misfit behind a drive, that steps without it leave at most where another channel drove the output",
    by_trial=True,
)

DECIDED = Number(12.0, "1", "evidence up to which a rival counts as close")

SAME_AIM = Number(
    0.03,
    "1",
    "logarithm of the ratio of times of a pole and a discharge to ground that count as one",
    by_trial=True,
)

LATE_BY = Number(
    3.0,
    "1",
    "standard uncertainties from which levels of saturation that lie apart both ways are a dead time, not chance",
    sets="levels of saturation both ways",
)

STEPPED_MISFIT = Number(0.004, "swing", "a pole that leaves more may be a sensor that holds: a code of 8 bits")

N_QUICK = Count(4, "edges", "that are asked whether there are steps")

HELD_DRIVE_LEAVES = Number(
    0.5,
    "1",
    "of a single pole's misfit that may be left once its drive is held between samples, if the sensor holds",
    by_trial=True,
)

FAST_POLE = Number(0.7, "drive durations", "a pole below it delays and rounds an edge as a hold of twice its time does")

SAME_AVERAGE = Number(0.1, "1", "logarithm of the ratio of both directions' averages that count as one")

BARE = Number(0.15, "drive durations", "dead time or smoothing of a board on which nothing slow is", by_trial=True)

ALIKE_BOTH_WAYS = Number(
    0.15, "1", "by which fall and rise of one resistor and capacitor differ at most", by_trial=True
)

SMALL_SWING_V = Number(0.3, "V", "a sensor of low sensitivity swings by less on a bench's coil", by_trial=True)

SMALL_SIGNAL_TO_NOISE = Number(
    90.0, "1", "the same in units of the noise, where the swing is not in volts", by_trial=True
)

FAR_SLOWER = Number(
    3.0, "1", "ratio of fall to rise that only a capacitor on the output's own pin makes", by_trial=True
)

SEEN_BEHIND_DRIVE = Number(0.5, "drive durations", "a quicker pole is not clearly a part's", by_trial=True)

LONGEST_FILTER = Number(10.0, "drive durations", "a slower pole is none of the common boards'", by_trial=True)

LATE_FOR_A_POLE = Number(0.3, "time constants", "a dead time beyond it is no part of a plain filter", by_trial=True)

TAIL_DURATIONS = Number(
    3.2,
    "10-90 % durations",
    "behind its middle an exponential is within 0.1 % of its end: a straight end that is looked for earlier takes a "
    "part of its tail for level",
)

DRIVES_QUICKER = Number(
    0.8,
    "1",
    "of the output's duration and delay: a column without a telling name or unit that takes less counts as the drive, "
    "two that are closer are two outputs",
    by_trial=True,
)

REPEATED = Number(1 - 1e-9, "1", "correlation from which one column is another but for scale, offset and rounding")

CUT_SHARE = Number(
    0.05, "1", "of all samples at one end of the range, from which a plateau may be cut off", by_trial=True
)

CUT_RUN = Count(20, "samples", "in a mean run at one end of the range: noise makes shorter ones", by_trial=True)

CUT_NOISE = Number(0.7, "converter steps", "rms noise with which a level changes its code every other sample")

MIDWAY_NOISE = Number(0.02, "range", "noise that a column may have where its levels are told apart", by_trial=True)

ALIKE_DRIVES = Number(1.4, "1", "ratio of a drive's two transitions that counts as symmetrical", by_trial=True)

SWEEPS = Number(0.6, "1", "share of a record in which a drive moves that is a sweep and no step", by_trial=True)

STRAIGHT = Number(0.995, "1", "correlation of a flank with a straight line: 0.993 for a sine, less for an exponential")

READ_OVER = Number(1 / 12, "1", "part of a transition over which it is averaged before its 10 and 90 % are read")

BLURRED = Number(
    0.3, "1", "what an average over a width w adds to a duration d at most, in w^2 / d: w^2 / 12 to its variance"
)

LEAST_PACE = Number(1e-3, "1", "of a transition's mean pace, at least, where its levels are crossed: no division by 0")

PLATEAU_SAMPLES = Count(8, "samples", "on either side of an edge: fewer are no plateau, and its extremes count")

N_SHAPE_BLOCKS = Count(24, "blocks", "of a drive's residual, in each of which a plain shape leaves nothing but noise")

WORST_BLOCK = Number(
    3.5, "1", "standard deviations of the worst of these blocks: once in a hundred drives of that shape"
)

MOST_OF_A_DRIVE = Count(1200, "samples", "of a transition that a plain shape is fitted to, for speed alone")

MAIN_SHARE = Number(0.2, "1", "of what is seen of the edge the slowest pole carries, or it is a tail", by_trial=True)

LONGEST_SEARCH = Count(40, "evaluations", "from one start: a search that has not ended by then creeps", by_trial=True)

LONGEST_KINKED_SEARCH = Count(
    120, "evaluations", "of a weak sink: straight lines have kinks, between which a search goes in short steps"
)

FAR_WORSE = Number(1.3, "1", "ratio of residuals of like edges, as shares of their swings, beyond noise's own")

FEWEST_BETWEEN_SPIKES = Count(50, "samples", "for one that stands alone far off: more than that is no accident")

SPIKE_NOISE = Number(12.0, "1", "standard deviations of noise that it stands off at least", by_trial=True)

SPIKE_SHARE = Number(0.05, "range", "that it stands off at least", by_trial=True)

QUANTILE_SAMPLES = Count(1_000_000, "samples", "tell a quantile: of more, every second, third, ... is taken, for speed")

RETURN_RATIO = Number(5.0, "1", "ratio of jump and way back of a column that falls back by itself", by_trial=True)

N_STRETCHES = Count(16, "stretches", "of a capture, whose sample intervals are held against each other")

UNLIKE_STEPS = Number(1.5, "1", "ratio of the sample intervals of two stretches that are two rates", by_trial=True)

GAP_STEPS = Number(10.0, "sample intervals", "without a sample are told as a gap", by_trial=True)

CLIPS_NEAR = Number(0.02, "swing", "beyond both directions' levels of saturation within which they are searched")

PROBE_MATTERS_S = Number(
    5e-5, "s", "edges below it may be the probe's: 100 pF behind 10 kOhm are 1 us (common practice, no source)"
)

USUAL_HOLD_S = Number(
    650e-6, "s", "interval at which sensors that sample internally usually do (common practice, no source)"
)

LEAST_RAMP_SAMPLES = Count(40, "samples", "in a ramp: the fewest steps, of ten each")

RAMP_STEPS = Number(12.0, "converter steps", "in a ramp: fewer are stairs of the converter's own")

RAMP_NOISE = Number(15.0, "1", "height of a ramp over its noise: the fewest steps, four of it each")

SAMPLES_A_STEP = Number(4.0, "samples", "that a step lasts: fewer have no flat part")

STEP_CODES = Number(2.5, "converter steps", "that a sensor's step is high: rounding makes steps of one, at times two")

STEP_NOISE = Number(4.0, "1", "standard deviations that a sensor's step is high")

UNEVEN_STEPS = Number(
    0.15, "periods", "by which instants may scatter about an even comb: chance makes 0.29", by_trial=True
)

STAIRS_DECISIVE = Number(10.0, "1", "evidence for stairs beyond the price of their search: once in 150 by chance alone")

N_BINS = Count(60, "bins", "of a sweep: 1.7 % of the drive each, finer than what is told of the line")

LINEAR_TOLERANCE = Number(0.02, "swing", "by which a linear range leaves its line (common practice, no source)")

FLAT_SLOPE = Number(0.15, "1", "of the line's slope, below which an end is saturated (common practice, no source)")

STEEP_SLOPE = Number(0.8, "1", "of the steepest slope, from which on a line is fitted", by_trial=True)

UNLIKELY = Number(0.01, "1", "chance of a misfit of typed points from which no pole passes through them")

ALIKE_DELAYS = Number(0.1, "1", "by which fall and rise may differ without being asked for a cause", by_trial=True)

ARRIVED = Number(0.99, "1", "way of an edge whose area is whole: what is left adds less than 1 % of the window")

WHOLE_MISFIT = Number(
    0.005, "swing", "an edge that leaves less is fitted whole: no part of it is left out", by_trial=True
)

RING_SHRINKS = Number(0.72, "1", "a ring's next excursion is smaller: a damping ratio of 0.1", by_trial=True)

QUICKEST_RING = Number(
    1.8, "10-90 % durations", "half a period of a second-order stage is 2.6 of them; a pole turned back less"
)

SLOWEST_RING = Number(4.0, "10-90 % durations", "an excursion that comes later is an edge of its own", by_trial=True)
