"""The folder at the scope: every new capture is measured as it lands, beside the first or a named one."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from feelcheck.comparison import compare_captures
from feelcheck.errors import FeelcheckError
from feelcheck.formats.arrivals import Arrival, Arrivals, arriving, watched
from feelcheck.model import BenchResult, MetricComparison, Profile
from feelcheck.model.sitting import Landed, Sitting
from feelcheck.pipeline._before_after import overlaid_edges
from feelcheck.pipeline._bench import bench
from feelcheck.pipeline._drawing import draw
from feelcheck.pipeline._specimens import LOOSE_AXIS, Specimen
from feelcheck.profiles import bench_record_of

__all__ = ["LAST_EDGE", "Watch", "draw_landed"]

LAST_EDGE = "feelcheck_last_edge.png"
"""The picture that is drawn anew with every capture, where no other name is given."""
BESIDE = ("smoothing_delay", "swing")


@dataclass(slots=True)
class Watch:
    """A sitting at the bench while it lasts.

    Parameters
    ----------
    folder : Path
        Where the scope saves.
    against : Path or None
        The capture that the others are held against; the first one that lands if None.
    options : Mapping[str, object]
        As in `bench`.
    measuring : callable
        Called with a path before it is measured, which may take a while.
    """

    folder: Path
    against: Path | None = None
    options: Mapping[str, Any] = field(default_factory=dict)
    measuring: Callable[[Path], None] = lambda _: None
    landed: list[Landed] = field(default_factory=list)
    _reference: BenchResult | None = None
    _arrivals: Arrivals | None = None

    def begin(self) -> int:
        """Begin to watch; return how many files are there already: they are left alone.

        Raises
        ------
        FormatError
            If there is no such folder.
        """
        self._arrivals = watched(self.folder)
        return self._arrivals.n_before

    def run(self, count: int | None = None) -> Iterator[Landed]:
        """Yield what lands, until `count` captures are measured or the caller stops.

        Parameters
        ----------
        count : int, optional
            How many captures end it; no end if not given.

        Raises
        ------
        FormatError
            If there is no such folder, or the named capture cannot be measured.
        """
        if self._arrivals is None:
            self.begin()
        if self.against is not None:
            self.measuring(self.against)
            self._reference = bench(self.against, **self.options)
        assert self._arrivals is not None
        for found in arriving(self._arrivals):
            for arrival in found:
                yield self._taken(arrival)
                if count is not None and self.n_measured >= count:
                    return

    @property
    def n_measured(self) -> int:
        """Captures measured so far."""
        return sum(one.result is not None for one in self.landed)

    @property
    def sitting(self) -> Sitting:
        """What was measured so far."""
        named = "" if self._reference is None else _name(self._reference)
        told = {one.path for one in self.landed}
        rest = [] if self._arrivals is None else [path for path in self._arrivals.unfinished if path not in told]
        open_ones = [Landed(path=path, at="", problem="it was not finished when the sitting ended") for path in rest]
        return Sitting(folder=self.folder, reference=named, landed=(*self.landed, *open_ones))

    def _taken(self, arrival: Arrival) -> Landed:
        """Measure an arrival; a capture that went on takes its own place again."""
        at = time.strftime("%H:%M:%S")
        blank = Landed(path=arrival.path, at=at, again=arrival.kind == "grown", problem=arrival.reason)
        if arrival.kind == "unfinished":
            self._keep(blank)
            return blank
        self.measuring(arrival.path)
        try:
            result = bench(arrival.path, **self.options)
        except (FeelcheckError, OSError) as problem:
            reason = problem.sentence if isinstance(problem, FeelcheckError) else problem.strerror
            blank = replace(blank, problem=f"{reason or 'it cannot be read'}")
        else:
            blank = replace(blank, result=result, beside=self._beside(result))
        self._keep(blank)
        return blank

    def _keep(self, landed: Landed) -> None:
        self.landed = [
            one for one in self.landed if one.path != landed.path or (one.result is not None and not landed.again)
        ]
        self.landed.append(landed)

    def _beside(self, result: BenchResult) -> tuple[MetricComparison, ...]:
        """The difference to the named or first capture; the first itself has none, and neither has a copy of it."""
        reference, path = self._reference, result.capture.provenance.path
        if reference is None or (self.against is None and reference.capture.provenance.path == path):
            self._reference = result
            return ()
        if reference.capture.provenance.sha256 == result.capture.provenance.sha256:
            return ()
        sides = ([bench_record_of(one, axis=LOOSE_AXIS)] for one in (reference, result))
        try:
            rows = compare_captures(*sides, candidate_name=_name(result))
        except FeelcheckError:
            return ()
        return tuple(row for row in rows if row.name in BESIDE)

    def draw(self, result: BenchResult, path: Path) -> None:
        """Draw the edges of a capture over those of the one it is held against, into a file that is drawn anew.

        Parameters
        ----------
        result : BenchResult
            The capture that landed.
        path : Path
            The picture (.png or .svg).
        """
        draw_landed(self._reference, result, path)


def _name(result: BenchResult) -> str:
    return Path(result.capture.provenance.path).name


def draw_landed(reference: BenchResult | None, result: BenchResult, path: Path) -> None:
    """Draw the edges of a capture with its fits, and over those of another where there is one."""
    sides = [Specimen(profile=Profile(specimen=_name(one)), state="as_found", captures=(one,))
             for one in (reference, result) if one is not None]  # fmt: skip
    other = len(sides) == 2 and sides[0].label != sides[1].label
    overlaid = overlaid_edges(sides[0], sides[1], ()) if other else ()
    draw([replace(result, traces=(*overlaid, *result.traces))], path)
