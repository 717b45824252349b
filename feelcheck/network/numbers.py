"""The numbers that decide what parts stand for, and which part a change fits."""

from __future__ import annotations

from feelcheck.model.numbers import Number

OWN_FRACTION = Number(
    0.05, "1", "of a change that the sensor behind the parts, and parts beside the one in question, may add to it"
)

OWN_S = Number(5e-5, "s", "delay of a bare sensor and its bench that no part explains (common practice, no source)")

SAME_FRACTION = Number(0.03, "1", "change of delay below which no part is looked for (common practice, no source)")

FARTHEST = Number(1e4, "1", "ratio over which an exchanged value is looked for, either way: four decades of parts")

CALIBRATED = Number(
    3.0, "1", "ratio of a measured delay to its network's beyond which the network is not believed to be on that board"
)

LONGEST_S = Number(10.0, "s", "delay from which parts are mistyped: nobody could play with a hundredth of it")
