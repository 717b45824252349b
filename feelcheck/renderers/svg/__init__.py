"""Sheets of panels written as SVG."""
