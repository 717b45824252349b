"""What a response means in use: angles, trailing, bands, evidence."""

from feelcheck.feel.evidence import evidence_table
from feelcheck.feel.meaning import CAUTIONS, compare_in_use, meaning_in_use, specimen_in_use

__all__ = ["CAUTIONS", "compare_in_use", "evidence_table", "meaning_in_use", "specimen_in_use"]
