"""A renderer: one line an axis, narrow enough for a printed label."""

from __future__ import annotations

from collections.abc import Sequence

from feelcheck.model import HandResult

__all__ = ["LABELS"]


class Labels:
    """Lines such as ``alder left_x rising 9.0 ms``."""

    name = "larch_labels"
    takes = ("hand",)
    suffix = ".txt"

    def render(self, result: Sequence[HandResult]) -> str:
        """Return the lines of each recording; a direction that holds no value has none."""
        lines = []
        for one in result:
            name = one.recording.provenance.specimen or "a stick"
            for axis in one.axes.values():
                for word, delay in (
                    ("rising", axis.rising.smoothing_delay),
                    ("falling", axis.falling.smoothing_delay),
                ):
                    if delay.value is not None:
                        lines.append(f"{name} {axis.name} {word} {1e3 * delay.value:.1f} ms")
        return "\n".join(lines) or "no axis holds a value"


LABELS = Labels()
