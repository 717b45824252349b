"""The numbers that decide how captures and their texts are read: each once, with its unit and its reason."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

FIRST_SERIAL_DAY = Number(
    29_221.0, "days", "1980-01-01 as spreadsheets count days (ECMA-376 part 1, 18.17.4.1; from memory)"
)

LAST_SERIAL_DAY = Number(73_051.0, "days", "2100-01-01, likewise")

LONGEST_OF_A_DAY = Number(
    0.003,
    "1",
    "of its first number that a column of times of a day may rise by: some minutes at noon; as seconds since a trigger "
    "they would be a record 300 times shorter than the time before it",
)

MOST_ALIKE = Number(
    0.5, "1", "of the cells of a time that are alike: a column of intervals has more, rounded times repeat by the dozen"
)

OTHER_ZERO = Number(
    2.0,
    "samples",
    "by which two times of a row differ all along at most where they are two channels' own: more is another zero",
)

FEWEST_MESSAGES = Count(3, "pairs", "of key and value, parted by a blank, that make a line one of program messages")

LONGEST_SERIAL_STEP = Number(
    1e-8,
    "days",
    "0.9 ms: a column without a word for a date whose numbers rise by less, hours after a start, would hold samples a "
    "few nanoseconds apart if they were seconds",
)

NEARLY_ALL = Number(
    0.9,
    "1",
    "share of the lines, rows or cells that are so, if a text or a column is: the others are headings, torn or remarks",
)

MOSTLY = Number(0.7, "1", "share of sampled cells that are stamps, or of rows that name a channel, if a column does so")

FEWEST_ROWS = Count(3, "rows", "of numbers are a table: two show no interval that a third could contradict")

MOSTLY_ROWS = Number(0.5, "1", "share of lines that begin with a number, if a file of any ending may be data")

HEAD_BYTES = Count(65536, "bytes", "at a file's begin tell what it is: headings are shorter, a huge file costs no more")

HEADING_CHARACTERS = Count(4096, "characters", "at a file's begin in which a heading stands")

LARGE_BYTES = Count(
    2**25, "bytes", "from which on only what moves is kept: a million rows or two take 1 GB while they are measured"
)

STILL_ROWS = Count(
    125_000,
    "rows",
    "of a large capture in which nothing moves from window to window: an edge is fitted on 1,500 averages of them, and "
    "each row costs 2 us to be taken out, read and measured",
)

MOST_ROWS = Count(
    1_000_000, "rows", "of a large file are kept: 600 MB while measured, eight minutes of two axes at 1 kHz"
)

MOST_BYTES = Count(2**31, "bytes", "that are read in one piece")

SAMPLE_BYTES = Count(4096, "bytes", "of each sample behind the head that is looked at before a file counts as text")

N_SAMPLES = Count(8, "samples", "over a file: binary data that begins with text is still found")

CONTROL_SHARE = Number(
    0.005, "1", "share of control characters from which on a file is no text: torn lines have fewer", by_trial=True
)

ENCODED_LINES = Count(60, "lines", "that are not plain ASCII tell the encoding: headings, not a column of remarks")

WHOLE_CHARS = Count(400_000, "characters", "up to which a text is looked at whole, line by line: 0.2 s")

SAMPLED_CHARS = Count(80_000, "characters", "that stand for a longer text where the style of its numbers is told")

N_SLICES = Count(20, "slices", "over the text that those are taken from: a style that begins late is still seen")

TABLE_HEAD_CHARS = Count(262_144, "characters", "of a long text in which its table is located")

TABLE_TAIL_CHARS = Count(65_536, "characters", "of a long text in which the end of its table is located")

N_SAMPLED_CELLS = Count(200, "cells", "at each end of a column that tell to which step it was rounded")

MOST_BAD_CELLS = Number(
    0.02, "1", "share of cells that are no numbers from which on a long text is looked at whole", by_trial=True
)

MOST_LIKE_NOTES = Count(3, "notes", "of the same words: more are a column of text, or a heading that comes again")

TEXT_WEIGHT = Number(0.9, "1", "of a row of text against one of numbers, where separators are weighed", by_trial=True)

LAYOUT_LINES = Count(250, "lines", "in which separator and decimal mark are told")

SPOILT_WIDTH = Count(64, "cells", "beyond four times the usual number make a row spoilt (common practice, no source)")

OVER_RANGE = Number(
    9e36, "1", "a number from here on is an instrument's word for over range (9.91e37 in SCPI-99, 4.2.1.5; from memory)"
)

MOST_OTHER_ROWS = Number(
    0.1, "1", "share of rows among numbers with prefixes that hold anything else: over range, torn ends", by_trial=True
)

IN_TURN_LINES = Count(400, "lines", "that tell whether rows of channels stand in turn")

IN_TURN_ROWS = Count(12, "rows", "of channels in turn at least: fewer are states beside a time")

MOST_IN_TURN = Count(8, "channels", "in turn: more different words are remarks or states")

LEAST_IN_TURN = Number(0.3, "1", "of an even share of the rows that each channel in turn has at least", by_trial=True)

WIDE_TABLE = Count(40, "columns", "and fewer rows than columns: a whole capture in each row")

STEADY = Number(0.99, "1", "share of rows at which a column that runs forward does not fall: an axis falls at half")

OFF_GRID = Number(
    2.1, "roundings", "by which times are off an even grid at most: one at each end, and a tenth for digits cut off"
)

RECKONED = Number(
    2.4e-7, "1", "of its largest time are times told finer than 10 ns off: reckoned in 32 bits, twice 2^-23"
)

RECKONED_S = Number(1e-8, "s", "below it times are told finer than a counter steps: they were reckoned")

CLOCK_OFF = Number(
    1e-4, "1", "of a record's length by which its times are off the stated interval: quartz is off by less"
)

INTERVAL_OFF = Number(0.02, "1", "by which times and a stated interval differ, if they mean another one")

FEWEST_TIME_STEPS = Count(20, "steps", "of the rounding in a record whose times tell an interval: 5 % at worst")

LEAST_BLOCK = Number(0.5, "1", "of the longest block's rows that another block has at least: a torn one is left out")

MOST_BLOCKS = Count(12, "blocks", "of one file that are read: each is measured by itself")

LATE_START_S = Number(1e5, "s", "a record that begins later is counted from its begin: no digit is lost to the hour")

SAME_TIME = Number(0.01, "steps", "by which the time axes of two channels may differ and be one: rounding does more")

ALIKE = Number(
    0.12, "range", "by which four fifths of two moving columns are closer together, if they are alike", by_trial=True
)

ALIKE_SAMPLES = Count(50_000, "samples", "in which two columns are held against each other")

FASTEST_LOG_S = Number(
    0.9e-4, "s", "is the shortest usual step of a log without a unit: 11 kHz; below, two units are possible"
)

SLOWEST_LOG_S = Number(0.11, "s", "is the longest one: 9 Hz")

SHORTEST_CAPTURE_S = Number(2e-3, "s", "is how short a capture usually is; told as the other unit that is possible")

LONGEST_CAPTURE_S = Number(5.0, "s", "is how long a capture usually is, likewise")

FIRST_DATE_S = Number(9.4e8, "s", "since 1970: a number from here (1999) on may be a date")

LAST_DATE_S = Number(4.2e9, "s", "since 1970: a number up to here (2103) may be a date")

FEWEST_DIVISIONS = Number(
    4.0, "divisions", "that a record fills at least: screens have 8 to 14, and a part may be exported"
)

MOST_DIVISIONS = Number(100.0, "divisions", "that a record fills at most: memory beyond the screen")

AMBIGUOUS_INTERVAL = Number(
    0.5,
    "1",
    "a stated interval without a unit above it may be microseconds: below it is s",
)

EVEN_SHARE = Number(
    0.95,
    "1",
    "share of an instrument's samples that follow each other at its step: a host that wakes every few reports writes "
    "those of one wake as close together, up to sixteen of them",
)

MOVES = Number(
    0.05,
    "range",
    "of a column by which a window of rows moves (common practice, no source; noise is held apart by `NOISES`)",
)

RESTS = Number(0.01, "range", "of a column within which a stick is at rest (common practice, no source)")

NOISES = Number(4.0, "1", "times what most windows move by is motion: noise has hardly any such window")

AROUND_WINDOWS = Count(48, "windows", "of a log kept on both sides of motion: 3 s at 1 kHz, in which a stick settles")

PIECE_WINDOWS = Count(1024, "windows", "in a piece of a log in which everything moves, at least: a minute at 1 kHz")

FIRST_WINDOWS = Count(512, "windows", "kept from the beginning, where recordings rest")

AROUND_EDGE_WINDOWS = Count(512, "windows", "of a capture kept on both sides of motion, for an edge's tail")

FEW_MISSING = Number(
    0.02,
    "1",
    "share of rows with an empty cell up to which they are dropped: more are rows in which an axis had no report",
    by_trial=True,
)

REPEATED = Number(
    0.01, "1", "share of rows that repeat the row before from which on every report has a row", by_trial=True
)

FEW_RUNS = Count(
    4, "changes", "between missing and present up to which an axis came late or ended early, and is not sparse"
)

MOST_DEVICES = Count(8, "devices", "whose rows stand in one table: more different entries are no devices")

DEVICE_TURNS = Number(0.1, "1", "share of rows with another device than the row before, from which on they take turns")

SILENCE = Number(0.05, "1", "share of the time in silences from which on rows come on change", by_trial=True)

PAUSE_S = Number(10.0, "s", "without a row are a pause of the recording, no silence of the stick")

GAP_STEPS = Number(20.0, "steps", "without a row are a gap, or a silence where rows come on change")

GAP_S = Number(0.1, "s", "is the shortest gap: hosts stall for tens of milliseconds")

OVERLAP = Number(
    0.1,
    "1",
    "of a stretch by which time may step back within it: rows told twice, a clock set; more begins time anew (common "
    "practice, no source; no corpus holds such a step, so no command counts it)",
)

JOIN_GAP_S = Number(
    1.0, "s", "behind the end of a stretch the next one is laid where the time steps back: flicks are shorter"
)

MOST_BACK = Number(0.05, "1", "share of rows that step back, up to which they are isolated restarts")

ALWAYS_ISOLATED = Count(5, "rows", "that step back are isolated in any case: a short log may be restarted, too")

MANY_STEPS = Count(100_000, "steps", "tell their median well enough: of more every second, third, ... is taken")

MOST_STRAY_ROWS = Count(
    3, "rows", "at most in a run without which time runs forward, so that their stamps are wrong; more are a restart"
)

STRAY_S = Number(
    0.5, "s", "from its neighbours is an impossible stamp of several clocks at least: hosts stall for less"
)

STRAY_STEPS = Number(50.0, "steps", "from its neighbours is such a stamp at least, where rows are slow")

STRAY_END_S = Number(86400.0, "s", "is a stamp at either end off, which has neighbours on one side only: a day")

STRAY_END_SPANS = Number(100.0, "spans", "of the rest is a stamp at either end off, at least")

REST_OFF = Number(
    0.4, "reach", "by which a stick rests off the middle of its scale at most (common practice, no source)"
)

REST_LOW = Number(0.1, "full scale", "within which of nought an axis without a sign is a trigger's, at rest")

PULSES_BEYOND = Number(0.2, "reach", "by which servo pulses of 1 to 2 ms go beyond (common practice, no source)")

PULSES_OFF = Number(0.12, "reach", "by which servo pulses rest off 1.5 ms: a trim's share (common practice, no source)")

OVERSHOOT = Number(0.25, "reach", "by which a calibration overshoots: fractions farther out are on another scale")

HARDLY_OUT = Number(0.3, "reach", "that fractions go out at least, to be of -1 to 1 without being seen at its end")

WELL_SEEN = Number(
    0.55, "1", "share of a nominal scale that an axis reached, if it is believed: diagonals at a round rim reach 0.7"
)

TOUCHED = Number(
    0.97,
    "1",
    "share of a decimal scale (100, 1000) that an axis reached, if it is believed: other scales pass there, too",
)

HARDLY_MOVED = Number(
    0.05,
    "1",
    "share of another axis' reach below which an axis without a nominal scale did not move: its noise is no scale",
)

MOST_AXES = Count(32, "axes", "of one controller: more varying columns are something else, and the user names the axes")

COARSE = Number(
    0.95,
    "1",
    "share of rows with the stamp of the row before from which on stamps tell no time of a report",
    by_trial=True,
)

MOST_TORN = Number(0.05, "1", "share of rows of one cell that a broken line left; more are a habit of the log")

COMMON_WIDTH = Number(
    0.3, "1", "of the most usual width that an earlier one has, if rows grew wider later", by_trial=True
)

DUMP_LINES = Count(2000, "lines", "that are looked at before a text is taken for a listing of events or bytes")

FEW_DUMPED = Count(3, "rows", "fewer tell no listing")

UNFOLDED_LINES = Count(60, "lines", "that tell whether cells hold lists, or rows are objects")

MOST_UNFOLDED_COLUMNS = Count(512, "columns", "more are refused before they are written out")

DEEPEST_NESTING = Count(12, "levels", "of nesting that are followed; what lies deeper is left out")

FASTEST_STEP_S = Number(5e-5, "s", "a usual step below it (20 kHz) is an instrument's: high-speed USB polls at 8 kHz")

NAME_ROWS = Count(5000, "rows", "of a column that tell whether it names axes")

LARGEST_CODE = Count(
    1023, "1", "is the largest number that names an axis: event codes of the Linux kernel end at 0x2ff"
)

TURNS = Number(0.2, "1", "share of rows with another name than the row before, if no word says that they are names")

FEW_TURNS = Number(0.02, "1", "the same where one word of two says it")

MOST_NAMES = Count(64, "names", "in such a column: more are remarks")
