"""Lag without knowing when the thumb moved: against a button closed at the rim, or against a second, tied stick."""
