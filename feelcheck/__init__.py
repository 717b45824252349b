"""feelcheck: from the parts on a thumbstick's sensor board to the response in the hand."""

from __future__ import annotations

__version__ = "0.1.0"
