"""Remarks on a response in the hand: why it is a limit or left open, and what would tell more."""

from __future__ import annotations

from dataclasses import replace

from feelcheck.model import Caveat

__all__ = [
    "AMBIGUOUS",
    "BELOW",
    "BETWEEN",
    "KEPT_WITH_A_LIMIT",
    "ONE_AXIS",
    "SOFT",
    "THROUGH_RIM",
    "UNDECIDED",
    "UNSURE",
]

AMBIGUOUS = Caveat(
    code="model_ambiguous",
    text="One pole, two poles and an average in the firmware explain these flicks about equally well.",
    advice="Trust the time constant more than the delay; a bench capture tells them apart.",
)

UNDECIDED = replace(AMBIGUOUS, advice="Measure the sensor on the bench: a capture tells them apart.")
"""The same where the time constant is a limit."""

BETWEEN = Caveat(
    code="between_models",
    text="A response that adds less than a millisecond to this pole, as a yielding thumb does, fits better: the delay "
    "is told between both, the time constant is the pole's alone.",
    advice="A bench capture tells them apart.",
)

BELOW = Caveat(
    code="below_report_interval",
    text="The response is too short for these report intervals and codes, so only an upper limit can be told.",
    advice="Record at a higher report rate or with finer codes, or measure the sensor on the bench.",
)

THROUGH_RIM = Caveat(
    code="through_rim",
    text="The best fit would have the stick go through the rim, or brake before it; only the rim's own limit is given.",
    advice="Record more and quicker flicks in all directions, each held for half a second.",
)

UNSURE = Caveat(
    code="too_unsure",
    text="The flicks disagree, or hold too few reports each, so no useful limit can be given.",
    advice="Record more and quicker flicks, at a higher report rate.",
)

ONE_AXIS = Caveat(
    code="one_axis_only",
    text="Only one axis of the stick was logged, so sliding along the rim cannot be told from smoothing.",
    advice="Log both axes of the stick: they share the instant of contact.",
)

KEPT_WITH_A_LIMIT = frozenset({ONE_AXIS.code})
"""Remarks on a value that hold for a limit too."""

SOFT = Caveat(
    code="soft_stop",
    text="The stick seems to slow down by itself before it meets the rim, so its stop has no sharp edge to measure by.",
    advice="Flick harder, so that the rim stops the stick.",
)
