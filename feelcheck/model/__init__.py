"""The vocabulary: frozen types that every other room speaks."""

from feelcheck.model.bench import BenchDirection, BenchResult, Capture, Channel
from feelcheck.model.estimate import Caveat, Estimate, Status
from feelcheck.model.feel import EvidenceNote, FeelAxis, FeelResult, Play, UsedResponse
from feelcheck.model.hand import (
    AxisResult,
    DirectionResponse,
    Finding,
    FlickRecord,
    HandResult,
    HandView,
    MetricOutput,
    ReportClock,
    TimingResult,
    Trace,
)
from feelcheck.model.profile import BenchRecord, Condition, HandRecord, Part, Profile, SensorFound, StateRecord
from feelcheck.model.protocols import LogReader, Metric, Renderer, Source, SourceEvent
from feelcheck.model.recording import Action, ButtonEvent, Cue, Gap, Provenance, Recording, Segment, StickAxes
from feelcheck.model.script import Script, Step
from feelcheck.model.stream import AxisScale, Clock, FloatArray, Stream, TimeBase, frozen_array

__all__ = [
    "Action",
    "AxisResult",
    "AxisScale",
    "BenchDirection",
    "BenchRecord",
    "BenchResult",
    "ButtonEvent",
    "Capture",
    "Caveat",
    "Channel",
    "Clock",
    "Condition",
    "Cue",
    "DirectionResponse",
    "Estimate",
    "EvidenceNote",
    "FeelAxis",
    "FeelResult",
    "Finding",
    "FlickRecord",
    "FloatArray",
    "Gap",
    "HandRecord",
    "HandResult",
    "HandView",
    "LogReader",
    "Metric",
    "MetricOutput",
    "Part",
    "Play",
    "Profile",
    "Provenance",
    "Recording",
    "Renderer",
    "ReportClock",
    "Script",
    "Segment",
    "SensorFound",
    "Source",
    "SourceEvent",
    "StateRecord",
    "Status",
    "Step",
    "StickAxes",
    "Stream",
    "TimeBase",
    "TimingResult",
    "Trace",
    "UsedResponse",
    "frozen_array",
]
