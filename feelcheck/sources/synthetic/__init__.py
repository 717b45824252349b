"""A simulated world with known truth."""

from __future__ import annotations

from feelcheck.sources.synthetic.named import named_world, staged_world, world_names
from feelcheck.sources.synthetic.scene import AxisParts, DeviceRun, World
from feelcheck.sources.synthetic.source import SyntheticSource, recording_events
from feelcheck.sources.synthetic.tables import TableStyle, write_table
from feelcheck.sources.synthetic.varied import effects, quick_script, random_world, world_with
from feelcheck.sources.synthetic.world import simulate_device, simulate_recording

__all__ = [
    "AxisParts",
    "DeviceRun",
    "SyntheticSource",
    "TableStyle",
    "World",
    "effects",
    "named_world",
    "quick_script",
    "random_world",
    "recording_events",
    "simulate_device",
    "simulate_recording",
    "staged_world",
    "world_names",
    "world_with",
    "write_table",
]
