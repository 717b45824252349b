"""The pads that are plugged in, watched for a moment: what they are and what would limit a recording."""

from __future__ import annotations

from feelcheck.sources.devices.survey import list_devices

__all__ = ["list_devices"]
