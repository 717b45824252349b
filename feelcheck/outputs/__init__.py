"""The one place that puts files on a disk: what may be replaced, and how it is done so that nothing is lost.

No module outside this room opens a file for writing, but for a recording's append-only events.
"""

from feelcheck.outputs.forms import (
    BENCH_FIGURE,
    CARD,
    COMPARISON_FIGURE,
    DEMO_FILES,
    FEEL_FIGURE,
    HAND_FIGURE,
    PAGE_TABLE,
    REPEATABILITY_FIGURE,
    REPORT_PAGE,
    SURVEY_PAGE,
    SURVEY_TABLE,
    WIDE_TABLE,
    Form,
)
from feelcheck.outputs.journal import Journal
from feelcheck.outputs.locks import locked
from feelcheck.outputs.marks import form_made, vouched, voucher
from feelcheck.outputs.replacing import disk_of, new_file, replaced
from feelcheck.outputs.rule import EVENTS_FILE, HEADER_FILE, check_apart, check_folder, check_output, numbered, output

__all__ = [
    "BENCH_FIGURE",
    "CARD",
    "COMPARISON_FIGURE",
    "DEMO_FILES",
    "EVENTS_FILE",
    "FEEL_FIGURE",
    "HAND_FIGURE",
    "HEADER_FILE",
    "PAGE_TABLE",
    "REPEATABILITY_FIGURE",
    "REPORT_PAGE",
    "SURVEY_PAGE",
    "SURVEY_TABLE",
    "WIDE_TABLE",
    "Form",
    "Journal",
    "check_apart",
    "check_folder",
    "check_output",
    "disk_of",
    "form_made",
    "locked",
    "new_file",
    "numbered",
    "output",
    "replaced",
    "vouched",
    "voucher",
]
