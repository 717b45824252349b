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
    "from this delay on, three times `BRAKE_S`, a stick that the rim stops shows it when un-smoothed; one "
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

# Which flicks are used


MIN_FLICKS = Count(2, "flicks", "a single flick of a direction has no spread")

MOST_FLICKS = Count(
    48,
    "flicks",
    "more of one stick are not fitted; from a dozen a direction on, the rim limits the answer, not their number",
    by_trial=True,
)

MIN_STOPPED = Count(
    6,
    "flicks",
    "where so many of a direction were seen to stop short, those that slowed down by themselves are not needed",
    by_trial=True,
)

MIN_TRAVEL_FS = Number(0.2, "throws", "an axis that moves less shows no stop", by_trial=True)

MIN_REPORTS_IN_MOTION = Count(4, "reports", "a flick that is over within fewer tells no smoothing")

CAME_BACK = Number(
    1.04,
    "1",
    "farthest reading over the end of a flick, from which on the stick did not stay at the rim: rims give less, and "
    "what is held against such an end takes the way to the rim for one through it",
    by_trial=True,
)

SANK_BACK = Number(
    1.015,
    "1",
    "level of a hold over its end, from which on the thumb let the stick off the rim meanwhile: the hold ends there",
    by_trial=True,
)

MIN_HOLD_S = Number(0.03, "s", "a flick held for less at the rim does not show where the response ends", by_trial=True)

BEFORE_FLICK_S = Number(0.03, "s", "a window begins so long before the flick was seen to start", by_trial=True)

HOLD_TAIL_S = Number(
    0.15, "s", "the end of a hold, by which an end of the scale and the rim itself are known", by_trial=True
)

NEAR_FULL_THROW = Number(
    0.97, "throws", "holds that end on one same code from here on are at the end of the scale", by_trial=True
)

MIN_PLACES = Count(
    16, "codes", "fewer places on the rim do not show whether a firmware holds them on a circle", by_trial=True
)

STIFF = Number(
    0.35,
    "standard deviations of a reading",
    "a radius that scatters less than this is held on a circle by firmware",
    by_trial=True,
)

STIFF_CODES = Number(
    0.05,
    "standard deviations of a reading",
    "the same for codes that stand still: on a diagonal a step of one axis goes with one of the other, "
    "which hardly moves the radius",
    by_trial=True,
)

ROUNDED_SCATTER = Number(
    1.3,
    "standard deviations of a reading",
    "scatter of a radius that firmware held and then rounded to codes: that of rounding alone is 1",
)

ROUNDED_RADIUS = Number(
    2.5,
    "standard deviations of a reading",
    "largest error of such a radius: half a code of both axes on a diagonal, 2.4 times rounding's own",
)

FINE_RADIUS = Number(
    0.002, "throws", "least step towards such a radius on which flicks are seen to slow down", by_trial=True
)

FEW_CHANGES = Count(20, "changes", "fewer do not tell the width of a code", by_trial=True)

STILL_RUN = Count(20, "readings", "a code that stands for so long is one on which the stick rests", by_trial=True)

MIN_RESTING = Count(5, "codes", "fewer that the stick rests on do not tell their step", by_trial=True)

MOSTLY_STILL = Number(
    0.5, "1", "share of the readings in which a stick that is held must stand still to tell a step", by_trial=True
)

MOST_FINE = Number(32.0, "1", "no firmware averages over more readings (common practice, no source)")

MOST_TIMES_QUICK = Number(
    4.0, "1", "times the quicker flicks' way to the rim; a slower one was pushed, not flicked", by_trial=True
)

# Rows that a poller repeats


REPEATED = Number(
    1.25,
    "rows",
    "from one new value to the next, while the stick moves fast, from which on rows are a poller's; lost "
    "and doubled reports leave less, and at full speed a stick crosses several codes a report even at 8 "
    "bits",
    by_trial=True,
)

REPEAT_REACH_S = Number(
    0.015, "s", "the stick moves fast where it does on both sides of a row over this long", by_trial=True
)

REPEAT_SPEED = Number(2.5, "codes a row", "from this speed on a repeat cannot be a coarse step alone", by_trial=True)

FEWEST_NEWS = Count(30, "new values", "fewer in fast motion do not tell a poller's repeats", by_trial=True)

LOST_FROM = Number(
    1.6, "1", "rows between new values over the usual from which on a report was lost between them", by_trial=True
)

# Which response fits


CORRELATION = Number(3.0, "readings", "residuals of one flick hang together: so many count as one", by_trial=True)

N_TO_CHOOSE = Count(
    5, "flicks", "the candidates are held against so many of each group, the fastest ones", by_trial=True
)

WORSE = Number(
    50.0,
    "1",
    "gain by which a look at an average falls behind a pole alone from which on it is not fitted",
    by_trial=True,
)

N_STARTS = Count(2, "lengths", "averages that are fitted after the first look", by_trial=True)

CLEAR = Number(
    8.0,
    "1",
    "gain in -2 log likelihood of independent readings below which the simpler candidate stands",
    by_trial=True,
)

AGREED = Number(
    3.0,
    "standard errors",
    "mean gain of the flicks from which on it is the electronics': what a thumb does near the rim differs "
    "from flick to flick",
    by_trial=True,
)

LIKELIER = Number(
    2.0,
    "1",
    "times the weight of one pole is what another candidate comes to, however clear its gain: a thumb that yields "
    "gains too",
    by_trial=True,
)

LEAST_SEEN = Count(4, "reports", "shorter averages leave too little to see when undone wrongly")

QUIETER = Number(
    1.2,
    "1",
    "times the rest that undoing the right average leaves is what one report more and one less leave, in half the "
    "flicks: thumbs come to 1.1",
    by_trial=True,
)

OF_THE_POLE = Number(
    0.5,
    "1",
    "of the pole is the shortest average that is looked for behind it: a long pole's noise covers the ripple of a "
    "shorter one, and rims that give came to 2.8 standard errors",
    by_trial=True,
)

FEWEST_SEEN = Count(6, "flicks", "fewer agree by chance")

SEEN_WORTH = Number(200.0, "1", "gain that counts as much as seeing the length of an average: nothing else weighs then")

STOPS_WORTH = Number(
    30.0, "1", "gain that counts as much as having all sticks stop at the rim, when un-smoothed", by_trial=True
)

HOLDS = Number(
    4.0, "1", "gain over one pole that what a few flicks chose must still have in all of them", by_trial=True
)

DOUBT = Number(
    0.16,
    "1",
    "least weight of another candidate that fits as well: what no candidate fits is the hand's motion, "
    "not noise, so a likelihood alone settles less than it says",
    by_trial=True,
    sets="other models that fit about as well",
)

DOUBT_GAIN = Number(50.0, "1", "gain at which that weight has fallen to a quarter", by_trial=True)

INDIFFERENT = Number(
    5.0,
    "1",
    "gains below this say nothing: that is how far they scatter over simulated logs of one pole",
    by_trial=True,
)

DECIDED = Number(20.0, "1", "gain from which on another candidate weighs next to nothing", by_trial=True)

CONTACT_S = Number(
    0.003,
    "s",
    "in this time a stick and a stiff rim come to rest together; a shorter average cannot be told from that",
    by_trial=True,
)

YIELDS_S = Number(
    0.001,
    "s",
    "what a second pole or an average must add to the delay of one pole: less than that a yielding thumb may add",
    by_trial=True,
)

LONGEST_AVERAGE = Count(24, "reports", "longer averages are not looked for")

LONGEST_AVERAGE_S = Number(
    0.034, "s", "no firmware that is meant for play averages over longer (common practice, no source)"
)

STEPS_CLOSE = Number(
    0.02,
    "1",
    "how far the logarithm of a time constant may be off a filter in steps for a match, where it is known "
    "better than that",
    by_trial=True,
)

STEPS_KNOWN = Number(
    0.05,
    "1",
    "relative standard uncertainty up to which a match is evidence: neighbouring orders are a factor of two apart",
    by_trial=True,
)

# Smoothing that goes with speed


FLICKS_FOR_SPEED = Count(6, "flicks", "fewer of a direction do not tell how its smoothing goes with speed")

CLEAR_SLOPE = Number(
    4.0, "standard errors", "slope over speed from which on the smoothing depends on it", by_trial=True
)

CLEAR_CHANGE = Number(0.15, "1", "and by how much it must change from slow flicks to fast ones", by_trial=True)

CREEP_TAIL_S = Number(
    0.025, "s", "a pole from this length on cannot be told from a motion that creeps on", by_trial=True
)

LARGEST_GIVE_FS = Number(
    0.028, "throws", "no rim gives more by the time rebounds are over: what moves on there is a filter's", by_trial=True
)

# Memory of the noise at rest


MEMORY_SETTLE_S = Number(
    0.35, "s", "left out at a rest's beginning: the spring rings, and slow filters settle", by_trial=True
)

MEMORY_LEAVE_S = Number(0.05, "s", "left out at its end: the next movement may have begun", by_trial=True)

LARGEST_LEAP = Number(
    0.6,
    "1",
    "mean square of the changes that happen, over the plateau, above which the value is held or it is single steps",
    by_trial=True,
)

WHITE_CHANGES = Number(
    0.7,
    "1",
    "share of reports that bring another value from which on noise is neither held nor a matter of single steps",
    by_trial=True,
)

STEADY = Number(
    1.3,
    "1",
    "largest ratio of the structure function's values that still counts as a plateau; drift gives 2, hum more",
    by_trial=True,
)

MEMORY_READINGS = Count(400, "readings", "fewer at rest do not tell how long noise remembers itself", by_trial=True)

MEMORY_REPORTS = Number(3.0, "report intervals", "a shorter memory is not told from white noise", by_trial=True)

MEMORY_FACTOR = Number(
    1.6,
    "1",
    "an average's noise remembers itself for up to 1.3 times its delay, a pole's for its delay; longer is "
    "another filter",
    by_trial=True,
)

# What residuals have in common


FEWEST_ALIKE = Count(6, "flicks", "the mean of fewer is mostly chance")

COMMON_FROM = Count(
    -12, "reports", "from contact, the first at which residuals are laid upon each other", by_trial=True
)

COMMON_TO = Count(14, "reports", "from contact, where that ends: later the hand yields", by_trial=True)


FEWEST_AT = Count(3, "flicks", "an instant at which fewer have a reading has no scatter to go by")

MOST_CORRELATED = Number(
    0.7,
    "1",
    "neighbours that hang together more closely count as if by this: residuals of few reports would pass for one",
    by_trial=True,
    sets="residuals that hang together",
)

# Evidence that agrees


FEWEST_A_HALF = Count(3, "flicks", "the spread of two on either side says nothing")

ALONG_AXIS_RAD = Number(
    0.25, "rad", "flicks closer than this to an axis do not show a slide along the rim on it", by_trial=True
)

LARGEST_FLICK_LOG = Number(
    1.5,
    "1",
    "largest logarithm of one flick's own time constant over the joint one: a single step from there is no better",
    by_trial=True,
)

LEAST_INFORMATION = Number(
    0.02, "1", "share of the usual information below which a flick has no value of its own", by_trial=True
)

LIMIT_SDS = Number(2.0, "standard deviations", "from a way back's delay to the limit that it gives")

FAMILIES_APART = Number(
    0.15,
    "1",
    "how far the logarithms of one response's delay may lie apart, read at the rim and on the way back as if it were "
    "of another family: an average read as a pole is up to a fifth off",
    by_trial=True,
)

LED = Number(
    0.3,
    "1",
    "share of people who lead the stick back instead of letting go, before anything is known of them (common practice, "
    "no source)",
)

LED_LOG = Number(
    2.0,
    "1",
    "largest logarithm of a led way back's delay over that of the response: some tens of milliseconds over few",
)

MOST_LOG = Number(9.0, "1", "logarithm from which on a limit of the way back is none")

# The way back


FEWEST_RETURNS = Count(2, "returns", "without so many of an axis and direction nothing is said")

RETURNS_TO_CHOOSE = Count(2, "returns", "so many of each axis and direction hold candidates apart", by_trial=True)

RETURNS_TO_MEASURE = Count(
    4, "returns", "so many of each axis and direction measure; more take time and say little more", by_trial=True
)

RETURN_WORTH = Number(
    60.0,
    "1",
    "what ways back that one pole explains e times better, in squares, say against another candidate",
    by_trial=True,
)

CLEAN_RETURN = Number(
    0.0015, "of the way", "what one pole may leave of ways back that hold candidates apart", by_trial=True
)

GRANTED_RETURN = Number(0.0004, "of the way", "what any candidate may leave of them and it says nothing", by_trial=True)

MOST_DAMPING = Number(
    0.7,
    "1",
    "damping ratio from which on a return hardly rings: its spring and the electronics are one curve",
    by_trial=True,
)

RETURN_MISFIT = Number(
    0.03,
    "of the way",
    "standard deviation of what the spring's equation leaves beyond which it was no spring that brought the stick back",
    by_trial=True,
)

RETURN_READINGS = Count(12, "readings", "a return with fewer is not fitted")

HELD_BEFORE_S = Number(
    0.02,
    "s",
    "before the stick is half way back, counted from where the response has passed; earlier a thumb still holds it",
    by_trial=True,
)

DWELLS_LONGER = Number(
    2.0,
    "1",
    "reports on the last code before an extreme over those two codes further down, from which on flicks slow down "
    "towards it: 2.4 or more for an exponential that ends within that code, 1.8 for one cut off two codes below "
    "its end, 1.2 for nine",
)

FEWEST_ON_LAST = Count(4, "reports", "fewest reports on that last code, all flicks together, that can tell")

OBLIQUE = Number(
    0.15, "1", "share of the radius that both axes must have for a stick to be held obliquely: less is along an axis"
)

OPEN_SPREAD = Number(
    0.1,
    "1",
    "relative spread of the delay among responses that fit about as well, from which on a remark names them",
)

# Gates with corners


CORNER_FLICKS = Count(8, "flicks", "fewer do not tell a corner of the gate from a hand that repeats itself")

FLICKS_A_CORNER = Count(3, "flicks", "nor do fewer of one quadrant")

LEAST_SPREAD_RAD = Number(
    0.015, "rad", "directions that spread less are of flicks to one side of a corner as well as into it", by_trial=True
)

GATHERED = Number(
    0.3,
    "1",
    "share of the directions' spread that is left of it at the end, below which the gate has led the stick to a corner",
    by_trial=True,
)

SWINGS_PAST = Number(
    0.3,
    "1",
    "how far the axis that leads goes past its end, over how far it leads: a notch in a round rim turns "
    "the stick back by as much, a side of a square stops it",
    by_trial=True,
)

# The stop at the rim


SHARE_TO_TELL = Number(
    0.35, "1", "share of the way that an axis must have in a flick to be judged by it", by_trial=True
)

AFTER_STOP_S = Number(
    0.12,
    "s",
    "looked at after nine tenths of the way: `rim_bracket.TAIL_S` ends within it, and all but a hundredth "
    "of a pole of 25 ms",
)

END_S = Number(
    0.1,
    "s",
    "from here on after nine tenths of the way readings count as the end: e^-5 of a pole of 20 ms is "
    "left; a shorter hold gives its last two fifths",
)

SEEN_SHARE = Number(
    0.98,
    "1",
    "share of unclipped readings that an axis needs: one clipped at its end hides where the rim is, one stray does not",
)

GIVE = Number(
    0.03, "reach", "what rim and shaft give at most, outward, and what a stick springs back at most", by_trial=True
)

BRAKE_S = Number(
    0.002, "s", "no thumb brakes a stick in so short a time: what stops within it has met the rim", by_trial=True
)

HARD_BEFORE = Number(
    0.55, "1", "share of its highest speed that a stick has just before it meets the rim", by_trial=True
)

HARD_AFTER = Number(
    0.35,
    "1",
    "and down to which it has lost it `BRAKE_S` later; a thumb that brakes evenly takes longer from the "
    "one to the other",
    by_trial=True,
)

NEAR_RIM = Number(
    0.015,
    "reach",
    "a stick that has stopped so near is at the rim: a thumb may aim short of it, and then the stick creeps on",
    by_trial=True,
)

NEAR_RIM_S = Number(0.008, "s", "within this time", by_trial=True)

SPEED_FROM = Number(
    0.4,
    "reach",
    "from here on a stick's highest speed is looked for; the onset's edge is not undone well",
    by_trial=True,
)

NOISE_SDS = Number(
    2.5,
    "standard deviations",
    "of the un-smoothed path that count as inside: it is the largest of some twenty readings",
)

NOISE_SHARE = Number(
    1.0 / 3.0,
    "1",
    "share of `GIVE` that the un-smoothed noise may take before derivatives are taken over more readings",
    by_trial=True,
)

STOP_FROM = Number(
    0.65,
    "1",
    "share of the longest delay that the rim allows from which on the un-smoothed stick is looked at: "
    "undone too far, it runs on beyond the rim and stops later",
    by_trial=True,
)

TRAILS = Number(
    0.0015,
    "reach",
    "by which an un-smoothed stick may stay inside the rim; fixed responses, undone by the longest delay "
    "that the rim allows, end outside it or on it, simulated adaptive ones stay 0.2 to 1.4 % inside",
    by_trial=True,
)

START_S = Number(
    0.006, "s", "where the search starts if no flick says anything: the middle, in ratio, of what is found in practice"
)

FAR_OUTSIDE = Number(
    0.25, "reach", "the search for the longest delay ends where every axis of every flick is so far outside"
)

SLIDE_SHARE = Number(
    0.02,
    "1",
    "squared share of the way on the other axis up to which a flick counts as along one axis, where slides do not show",
    by_trial=True,
)

OF_UPPER = Number(0.8, "1", "share of the upper bound to start from where there is no lower one", by_trial=True)

OTHER_SHAPES = Number(
    1.25,
    "1",
    "what a limit leaves to responses of no family that is tried: an average behind two poles, or between "
    "a pole and a filter in integers, was up to 1.17 times the longest of them in simulated logs",
    by_trial=True,
)

BRACKET_SDS = Number(
    3.0,
    "standard deviations",
    "that both bounds together are apart, the truth lying between them like an even distribution's: that "
    "is wide by sqrt(12) = 3.5 of its own, and half of one is left for a truth just outside",
)

LONG_AVERAGE_S = Number(
    0.012,
    "s",
    "a thumb that brakes takes 15 ms and longer, which a longer average imitates: un-smoothed by one pole "
    "the sticks must stop short as well",
    by_trial=True,
)

STOPPED = Number(
    1.0 / 3.0,
    "1",
    "share of the flicks of a direction that must be seen to stop short: noise hides it in some",
    by_trial=True,
)

# Weights of the readings


TREMBLE_FS_PER_S = Number(
    0.02,
    "throws/s",
    "by how much a hand that holds wanders off, as a misfit of the readings long after contact",
    by_trial=True,
)

TREMBLES_FROM_S = Number(0.04, "s", "after contact, from when on it does", by_trial=True)

POST_S = Number(0.35, "s", "readings are looked at for so long after the rim is met at the latest", by_trial=True)

RUN_TELLS = Count(
    3,
    "readings",
    "a run of equal codes tells no more than so many: its error of rounding stays the same",
    by_trial=True,
)

MOTION_MISFIT = Number(
    20.0,
    "of the way",
    "fifth-order remainder of a movement; a minimum-jerk movement's is 3, but thumbs slow down and push "
    "on within a quarter of the way, and what a wider window adds in precision, such a thumb takes away "
    "many times",
    by_trial=True,
)

CONTACT_FLICKS = Count(4, "flicks", "of one stick, without which no contacts are told to a marker")

# One flick alone


FLICK_REPORTS = Count(12, "reports", "fewer in a flick say nothing about its stop")

FLICK_MOVED = Number(
    0.02,
    "1",
    "share of the way within which readings count as rest before the flick and as held after it",
    by_trial=True,
)

# The search


LOG_TAU_SD = Number(
    1.5,
    "1",
    "how far the logarithm of a time constant may lie from what is usual: from a fraction of a millisecond to hundreds",
)

SLOW_INTERVALS = Number(
    12.0,
    "report intervals",
    "behind a pole as long as this an average is looked for as a small part of the delay only: it takes "
    "time, and longer ones show as a bracket of their own",
    by_trial=True,
)

LEAST_TAKEN = Number(
    0.33, "1", "an average takes over at least this share of the delay that a shorter pole gives up", by_trial=True
)

LOST = Number(
    60.0,
    "1",
    "-2 log likelihood by which a share falls behind the best so far from which on smaller ones are not looked at",
    by_trial=True,
)
