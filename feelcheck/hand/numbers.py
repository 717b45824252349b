"""The numbers that decide what is said of clock, codes, rest, rim and spring: `feelcheck why` tells which did."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

# Sticks, and where they rest

MOVING_FS_PER_S = Number(
    0.5,
    "throws/s",
    "a stick slower than this on either side of a report is not on its way: such reports tell its resting level",
    by_trial=True,
)
MOVING_SPAN_S = Number(
    0.015,
    "s",
    "over this much before and after a report its motion is judged; the noise of one code does not look like motion",
    by_trial=True,
)
AT_FULL = Number(
    0.008, "1", "an end of the codes this near to full scale is a clip of the scale, not the rim's own", by_trial=True
)
STILL_S = Number(
    0.05, "s", "a level counts as held while the stick stays on it for this long on either side", by_trial=True
)
LEAST_REST = Number(
    0.03,
    "1",
    "share of the recording that a stick must stand still at a level to be taken to rest there",
    by_trial=True,
)
SILENT_STEPS = Number(2.5, "steps", "reports whose values are nearer had silent ones between them", by_trial=True)

# Flicks, holds, rests, turns

HELD_ON_S = Number(
    5.0,
    "s",
    "a log of changes ends with its last change; the stick is taken to have stayed there for this long",
    by_trial=True,
)
FEWEST_REPORTS = Count(8, "reports", "a shorter stretch between silences holds no movement")
SLOPE_S = Number(
    0.008, "s", "speed is taken over this much before and after: less is noise, more dulls a flick", by_trial=True
)
QUIET_FS_PER_S = Number(0.8, "throws/s", "slower than this a stick counts as not moving", by_trial=True)
NOISE_MARGIN = Number(3.0, "1", "times the noise of the speed that motion must stand above", by_trial=True)
FLICK_FS_PER_S = Number(
    2.5, "throws/s", "a flick is faster than this at its peak; slow strokes stop softly", by_trial=True
)
FLICK_TRAVEL_FS = Number(0.35, "throws", "a flick goes at least so far", by_trial=True)
OUTSIDE_FS = Number(
    0.55,
    "throws",
    "a flick ends, and a hold stays, beyond this radius: a worn or narrow gate has its rim well outside",
    by_trial=True,
)
CENTRE_FS = Number(0.2, "throws", "a rest stays, and a release ends, inside this radius", by_trial=True)
LEAD_S = Number(0.03, "s", "a segment begins so much before its motion, so that the level before is seen")
RINGS_S = Number(0.1, "s", "how long after a release the stick may ring before it counts as away", by_trial=True)
LONGEST_TAIL_S = Number(0.35, "s", "a segment ends so long after its motion at the latest: slow responses end within")
SHORTEST_HOLD_S = Number(0.1, "s", "a flick is held at least so long, or its end is no plateau", by_trial=True)
HOLD_PER_MOVE = Number(0.6, "1", "and for this share of the time that it moved", by_trial=True)
LONGEST_MOVE_S = Number(0.7, "s", "a movement that lasts longer is no flick", by_trial=True)
SHORTEST_STILL_S = Number(0.25, "s", "a shorter stay at the centre or the rim is neither rest nor hold", by_trial=True)
LEAVES_FS = Number(0.1, "throws", "a stick that goes farther away than this has left its hold", by_trial=True)
BLIP_S = Number(0.03, "s", "motion shorter than this inside a stay is bridged", by_trial=True)
TURN_RAD = Number(5.2, "rad", "five sixths of a turn along the rim count as a turn", by_trial=True)
SLOW_TURN_S = Number(1.5, "s", "a turn that takes longer is a roll: the stick follows the rim", by_trial=True)

# The report clock

CLOCK_COHERENCE = Number(
    0.5, "1", "mean phase of the stamps on their grid below which there is no clock", by_trial=True
)
NEAR_POLL = Number(
    0.1, "1", "relative distance from the logger's own polling interval within which a rhythm is the logger's"
)
BRACKET_SLACK = Number(
    0.45,
    "report intervals",
    "how far a recovered instant may leave the bracket in which the report was seen",
    by_trial=True,
)
MOST_OUTSIDE = Number(
    0.05, "1", "share of the instants outside their brackets beyond which the clock is refused", by_trial=True
)
SLOW_LOOP_S = Number(
    0.012,
    "s",
    "a longer interval may be the logging program's own loop; pads report at 8 ms or less (common practice, no source)",
)
FAST_STEPS = Number(
    4.0,
    "steps of the codes",
    "a log of changes tells losses only where neighbours change by more: no slot can have been silent",
    by_trial=True,
)
GAP_REPORTS = Count(10, "report intervals", "a longer hole is a gap, not lost reports")
LEAST_STEPS = Count(50, "steps", "fewer steps between reports do not show that the interval is too short")
MOST_OTHER = Number(0.05, "1", "share of the steps that may be no multiple of the longer interval", by_trial=True)
MOST_SEEN = Number(
    0.7,
    "1",
    "share of single steps in fast motion, below which the sensor is slower than the reports and losses cannot be told",
    by_trial=True,
)
MOVING_ROWS = Count(9, "reports", "over so many the stick must move by a step a slot for losses to be told")
SHORTEST_GAP_S = Number(0.05, "s", "a shorter hole is no gap, however fast the reports")
FASTEST_S = Number(
    1e-4, "s", "no pad reports faster than 10 kHz: high-speed USB polls every 0.125 ms (USB 2.0, from memory)"
)
FINEST_STAMP_S = Number(1e-6, "s", "logs stamp to the microsecond at best: less jitter is a limit")
NONE_OF_N = Number(3.689, "reports", "none seen in n leaves at most this many in n, 97.5 % (-ln 0.025)")

# The lattice of code values

MIN_LEVELS = Count(12, "levels", "fewer code values tell no step")
LATTICE_COHERENCE = Number(
    0.55, "1", "mean phase of the code values on their lattice below which there is none", by_trial=True
)
MAX_FALSE_ALARM = Number(
    1e-6, "1", "chance of a comb as good in evenly spread places; thousands of spacings and many files are looked at"
)
MAX_RESIDUAL = Number(
    0.22, "steps", "places without a lattice are 0.289 off their nearest tooth (1 / sqrt 12)", by_trial=True
)
MIN_SPACING = Number(
    1.9, "written units", "a lattice finer than two units of the log's own numbers is rounding of the log"
)
KNOTS_FROM = Number(
    1.5, "steps a report", "slower motion visits every level and shows nothing of how values are made", by_trial=True
)
LEVELS_A_TOOTH = Count(2, "levels", "more on a tooth mean a coarser lattice with noise on it, not a finer one")
INSIDE = Number(
    0.93, "1", "share of the largest radius: codes at the rim may be clamped off the lattice", by_trial=True
)
NATIVE_RANGE = Count(4200, "codes", "a log whose numbers span no more than 12 bits is in the converter's own codes")

# Fast motion

MIN_STRETCH = Count(5, "reports", "a shorter stretch of fast motion is left out")
FAST_SPAN_S = Number(0.006, "s", "speed is taken over this much before and after", by_trial=True)
LONGEST_SILENCE = Count(60, "report intervals", "longer stretches without a row split the motion")

# Repeats: how often the firmware takes a new value

MIN_HELD = Number(0.08, "1", "share of repeats in fast motion; loss, doubling and jitter leave less", by_trial=True)
HELD_SHARE = Number(
    0.3, "1", "share of the local speed; a report that moves less repeats the one before", by_trial=True
)
LONG_STRETCH = Count(12, "changes", "from here on the instants of change fix the interval by themselves", by_trial=True)
CHANGES_ON_GRID = Number(
    0.15,
    "report intervals",
    "instants of change this close to whole multiples, root mean square, fix the interval",
    by_trial=True,
)
LOWEST_RIPPLE = Number(0.12, "cycles a report", "slower unevenness is the hand's", by_trial=True)
PLAIN_PERIOD = Number(20.0, "reports", "a staircase of longer steps needs no spectrum to be seen", by_trial=True)
LONGEST_PERIOD = Number(30.0, "reports", "a longer bound tells nothing", by_trial=True)
CLEAR_REPEATS = Number(0.3, "1", "expected share of repeats that could not have been missed", by_trial=True)
SAFETY = Number(0.5, "1", "what remains of the ripple is read off noise: half of it must still show", by_trial=True)
STILL_REPORTS = Count(64, "reports", "blocks over which the noise of a still stick is taken")
ROUNDING = Number(0.6, "steps", "the flicker of rounding alone stays below")
ABOVE_NOISE = Number(
    6.0, "1", "times the noise of one report; slower motion cannot tell a repeat from a new value", by_trial=True
)
MIN_CHANGES = Count(30, "changes", "fewer changes tell no rhythm")
MIN_ROWS = Number(3.0, "rows", "between changes; a source of one or two rows is told by repeats in fast motion")
JUMPS = Number(2.0, "steps", "smaller changes come when the motion crosses a step")
JUMP_SHARE = Number(0.3, "1", "share of changes that must be larger", by_trial=True)
SOONEST = Number(0.05, "1", "quantile of the spacings that stands for one interval", by_trial=True)
ODD_SHARE = Number(0.03, "1", "share of the changes that may come sooner: torn rows, glitches", by_trial=True)
APART = Number(8.0, "intervals", "a longer pause begins a new group")
RESIDUAL_ROWS = Number(0.6, "rows", "changes may be off their grid by so much, since rows are where they are seen")
RESIDUAL_SHARE = Number(0.1, "intervals", "or by so much", by_trial=True)
LEAST_UPDATE_U = Number(
    0.002, "1", "least relative standard uncertainty of such an interval: the rows' own clock", by_trial=True
)
STOP_S = Number(0.06, "s", "after fast motion the stick has come to its stop by then", by_trial=True)
CLOSE_STEPS = Number(8.0, "steps", "a stop is approached to within so many before it is looked at", by_trial=True)
PAST_END = Number(4.0, "steps", "a stick that went farther past its end bounced", by_trial=True)
LONGEST_FALL = Count(
    60, "reports", "a fast stretch ends within the fall of the speed, so that is looked for back as far"
)

# Dead zones

MIN_EVENTS = Count(4, "events", "fewer jumps out of rest have no spread")
MIN_PASSAGES = Count(2, "passages", "fewer passages through the centre have none")
NEAR_FS = Number(0.05, "throws", "width of the zones about the centre whose passages are timed", by_trial=True)
SMALLEST = Number(0.008, "throws", "a smaller jump is rounding or the hand", by_trial=True)
LARGEST = Number(
    0.25, "throws", "a wider zone would be felt and seen without a tool; late or lost reports look like it"
)
MAX_RELATIVE_U = Number(0.15, "1", "events that scatter more were not made by one zone", by_trial=True)
PACE_U = Number(
    0.05,
    "1",
    "how unsteady a passage taken for steady may be, relative standard uncertainty",
    by_trial=True,
    sets="pace of the passages",
)
SMOOTHED_REPORTS = Count(5, "reports", "averaged to tell passages from the noise")
FROZEN_SHARE = Number(
    0.3, "steps", "a rest noisier than this, root mean square, shows that the code follows the stick", by_trial=True
)

# Flick speed

SHORTEST_SPAN_S = Number(
    0.006, "s", "speed is taken over no less: the noise of two codes would look like speed", by_trial=True
)
LEAST_FLICK_FS = Number(0.35, "throws", "a shorter way along one axis is not that axis' flick", by_trial=True)
MOTION_S = Number(0.4, "s", "the peak lies in the first part of a flick")
FLICKS_FOR_A_PEAK = Count(3, "flicks", "fewer peaks have no spread to speak of")
LARGEST_SHORTFALL = Number(
    0.05, "1", "where the span dulls a peak by more, the peak is only a lower limit", by_trial=True
)

# Reach and rim

N_SECTORS = Count(72, "sectors", "5 degrees each: a roll of two seconds leaves some reports in every one")
MIN_SECTORS = Count(48, "sectors", "two thirds of the rim must have been visited to tell its shape")
AT_RIM = Number(0.75, "1", "share of the largest radius from which a report counts as at the rim", by_trial=True)
STRAIGHT_DEG = Number(20.0, "deg", "a flick this near to an axis was meant to go along it")
FLICKS_ALONG = Count(4, "flicks", "along an axis; fewer do not tell aim from the sensor's seat")
MIN_IN_QUADRANT = Count(5, "sectors", "each quadrant must be seen: the skew lies in their difference")
CORRELATED_SECTORS = Number(
    6.0, "sectors", "neighbours share the rim's own shape: so many count as one", by_trial=True, sets="shape of the rim"
)
AT_EXTREME = Number(0.005, "1", "sectors this near to an extreme may be clipped and are left out")

# Rest and return

LEAVE_S = Number(0.05, "s", "left out at the end of a rest: the next motion may have begun", by_trial=True)
RESTS_AFTER_S = Number(0.25, "s", "left out at its start: the spring rings, and slow filters settle", by_trial=True)
MIN_REST_S = Number(0.2, "s", "a shorter rest tells nothing of the noise")
MIN_READINGS = Count(20, "readings", "nor do fewer readings")
TOUCHED = Number(3.0, "1", "times the median spread: a thumb was on the stick", by_trial=True)
NEXT_S = Number(0.3, "s", "a rest belongs to the release that ended this shortly before")
MIN_RETURNS = Count(4, "returns", "fewer returns have no scatter to speak of")
LIMITED = Number(0.6, "steps", "noise below: the steps decide what the readings show", by_trial=True)
BOUNDED = Number(0.2, "steps", "noise below: too few readings change for more than a bound", by_trial=True)

# The spring

LEAST_RELEASE_FS = Number(0.3, "throws", "a shorter way back is no release", by_trial=True)
REPORTS_OF_A_SWING = Count(4, "reports", "within 50 ms of the passage through the centre, or the swing is not seen")
BEFORE_S = Number(0.06, "s", "the return is fitted from so long before it first passes its resting place")
AFTER_S = Number(0.3, "s", "and for so long after: springs have come to rest")
BAND_FS = Number(
    0.02,
    "throws",
    "settled means within 2 % of full throw (common practice, no source)",
)
MOST_MISFIT = Number(0.06, "throws", "a worse fit, root mean square, is no spring with one damping", by_trial=True)
DAMPING_DOUBT = Number(
    3.0,
    "1",
    "relative error of the damping per relative misfit: unseen friction bends the first swings most",
    by_trial=True,
)
SEEN = Number(3.0, "1", "standard uncertainties from which a swing past rest, or dry friction, counts as seen")

# What a log is fit for

FEW_REPORTS_IN_FLICK = Count(6, "reports", "fewer reports in a tenth of a second leave nothing of a flick to fit")

ONE_SCALE = Number(1.05, "1", "axes whose nominal full throws are no farther apart in ratio have one scale")
