"""The numbers that decide how captures and their texts are read: each once, with its unit and its reason."""

from __future__ import annotations

from feelcheck.model.numbers import Count, Number

FEWEST_ROWS = Count(3, "rows", "of numbers are a table: two show no interval that a third could contradict")

HEAD_BYTES = Count(65536, "bytes", "at a file's begin tell what it is: headings are shorter, a huge file costs no more")

LARGE_BYTES = Count(
    2**25, "bytes", "from which on only what moves is kept: a million rows or two take 1 GB while they are measured"
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

MAX_BACKWARD = Number(
    0.02, "1", "share of rows that step back from which on a column does not rise: restarts and strays are fewer"
)

FEWEST_TIME_STEPS = Count(20, "steps", "of the rounding in a record whose times tell an interval: 5 % at worst")

LEAST_BLOCK = Number(0.5, "1", "of the longest block's rows that another block has at least: a torn one is left out")

MOST_BLOCKS = Count(12, "blocks", "of one file that are read: each is measured by itself")

LATE_START_S = Number(1e5, "s", "a record that begins later is counted from its begin: no digit is lost to the hour")

SAME_TIME = Number(0.01, "steps", "by which the time axes of two channels may differ and be one: rounding does more")

ALIKE = Number(
    0.12, "range", "by which four fifths of two moving columns are closer together, if they are alike", by_trial=True
)

ALIKE_SAMPLES = Count(50_000, "samples", "in which two columns are held against each other")

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
