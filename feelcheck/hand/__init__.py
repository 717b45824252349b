"""Stick streams: timing, segmentation, gate stop, release, rest, quantization, refresh."""
