"""One specimen's record as a TOML file: comments and hand edits survive, unknown keys are refused by name."""

from feelcheck.profiles._editing import (
    add_bench,
    add_hand,
    add_part,
    add_rehearsal,
    add_state,
    note_polarity,
    write_profile,
)
from feelcheck.profiles._reading import PROFILE_VERSION, read_profile
from feelcheck.profiles._records import bench_record_of, hand_record_of

__all__ = [
    "PROFILE_VERSION",
    "add_bench",
    "add_hand",
    "add_part",
    "add_rehearsal",
    "add_state",
    "bench_record_of",
    "hand_record_of",
    "note_polarity",
    "read_profile",
    "write_profile",
]
