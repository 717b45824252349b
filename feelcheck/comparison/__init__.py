"""Pooling, intervals, verdicts, repeatability."""
