"""A person led through a flick script: what is asked, how it is judged, what is asked again."""

from __future__ import annotations

from feelcheck.recorder.guide.guide import Guide, Row, Said
from feelcheck.recorder.guide.verdicts import Reason, Verdict
from feelcheck.recorder.guide.view import Command, GuideView, SoFar, Stage

__all__ = ["Command", "Guide", "GuideView", "Reason", "Row", "Said", "SoFar", "Stage", "Verdict"]
