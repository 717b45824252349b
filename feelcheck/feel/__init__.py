"""What a response means in use: angles, trailing, bands, evidence."""

from feelcheck.feel.evidence import evidence_table
from feelcheck.feel.meaning import CAUTIONS, compare_in_use, meaning_in_use, specimen_in_use
from feelcheck.feel.trailing import poles_of, stick_speed

__all__ = [
    "CAUTIONS",
    "compare_in_use",
    "evidence_table",
    "meaning_in_use",
    "poles_of",
    "specimen_in_use",
    "stick_speed",
]
