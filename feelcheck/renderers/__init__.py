"""Results as text, JSON, figures and pages."""

from feelcheck.renderers.hand_json import hand_document, hand_json
from feelcheck.renderers.hand_text import hand_text

__all__ = ["hand_document", "hand_json", "hand_text"]
