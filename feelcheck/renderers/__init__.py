"""Results as text, JSON, figures and pages."""

from feelcheck.renderers._saving import save_figure
from feelcheck.renderers._table import text_table
from feelcheck.renderers.bench_json import bench_document, bench_json
from feelcheck.renderers.bench_text import bench_text
from feelcheck.renderers.compare_json import compare_document, compare_json, repeatability_json
from feelcheck.renderers.compare_text import compare_text
from feelcheck.renderers.demo_text import demo_text
from feelcheck.renderers.devices_text import devices_json, devices_text
from feelcheck.renderers.feel_json import feel_document, feel_json
from feelcheck.renderers.feel_text import feel_text
from feelcheck.renderers.guide import guide_text
from feelcheck.renderers.hand_json import hand_document, hand_json
from feelcheck.renderers.hand_text import hand_text
from feelcheck.renderers.parts_text import parts_document, parts_json, parts_text, what_if_text
from feelcheck.renderers.profile_text import added_text, profile_document, profile_json, profile_text
from feelcheck.renderers.rehearsal_json import rehearsal_json
from feelcheck.renderers.rehearsal_text import rehearsal_text
from feelcheck.renderers.repeatability_text import repeatability_text
from feelcheck.renderers.sessions_text import answer_text, sessions_json, sessions_text
from feelcheck.renderers.sitting_text import landed_line, sitting_json, sitting_text
from feelcheck.renderers.survey_words import placed_text

__all__ = [
    "added_text",
    "answer_text",
    "bench_document",
    "bench_json",
    "bench_text",
    "compare_document",
    "compare_json",
    "compare_text",
    "demo_text",
    "devices_json",
    "devices_text",
    "feel_document",
    "feel_json",
    "feel_text",
    "guide_text",
    "hand_document",
    "hand_json",
    "hand_text",
    "landed_line",
    "parts_document",
    "parts_json",
    "parts_text",
    "placed_text",
    "profile_document",
    "profile_json",
    "profile_text",
    "rehearsal_json",
    "rehearsal_text",
    "repeatability_json",
    "repeatability_text",
    "save_figure",
    "sessions_json",
    "sessions_text",
    "sitting_json",
    "sitting_text",
    "text_table",
    "what_if_text",
]
