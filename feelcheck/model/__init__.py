"""The vocabulary: frozen types that every other room speaks."""

from feelcheck.model.bench import BenchDirection, BenchResult, Capture, Channel
from feelcheck.model.comparison import (
    ChainLink,
    Comparison,
    Margin,
    MetricComparison,
    PairedValues,
    QuickChange,
    RepeatabilityResult,
    SensorVerdict,
    VarianceShare,
    VerdictRates,
)
from feelcheck.model.devices import AxisReport, DeviceReport
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
from feelcheck.model.lag import CoupledAxis, CoupledLag, LagResult, MarkerLag
from feelcheck.model.presented import Presented, Results
from feelcheck.model.profile import BenchRecord, Condition, HandRecord, Part, Profile, SensorFound, StateRecord
from feelcheck.model.protocols import LogReader, Metric, Renderer, Source, SourceEvent, SourceKind, SourceOptions
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.model.recording import Action, ButtonEvent, Cue, Gap, Provenance, Recording, Segment, StickAxes
from feelcheck.model.report import Report
from feelcheck.model.script import Script, Step, script_cues
from feelcheck.model.session import SessionOnShelf
from feelcheck.model.stream import AxisScale, Clock, FloatArray, Stream, TimeBase, frozen_array

__all__ = [
    "Action",
    "AxisReport",
    "AxisResult",
    "AxisScale",
    "BenchDirection",
    "BenchRecord",
    "BenchResult",
    "ButtonEvent",
    "Capture",
    "Caveat",
    "ChainLink",
    "Channel",
    "Clock",
    "Comparison",
    "Condition",
    "CoupledAxis",
    "CoupledLag",
    "Cue",
    "DeviceReport",
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
    "LagResult",
    "LogReader",
    "Margin",
    "MarkerLag",
    "Metric",
    "MetricComparison",
    "MetricOutput",
    "PairedValues",
    "Part",
    "Play",
    "Presented",
    "Profile",
    "Provenance",
    "QuickChange",
    "Recording",
    "Renderer",
    "RepeatabilityResult",
    "Report",
    "ReportClock",
    "Results",
    "Script",
    "Segment",
    "SensorFound",
    "SensorVerdict",
    "SessionOnShelf",
    "Source",
    "SourceEvent",
    "SourceKind",
    "SourceOptions",
    "StateRecord",
    "Status",
    "Step",
    "StickAxes",
    "Stream",
    "TimeBase",
    "TimingResult",
    "Trace",
    "TypedEdge",
    "TypedReadings",
    "UsedResponse",
    "VarianceShare",
    "VerdictRates",
    "frozen_array",
    "script_cues",
]
