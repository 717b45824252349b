"""What one command measures: each recording and capture once, many of them in several processes."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from feelcheck import plugins
from feelcheck.errors import FeelcheckError, NotEnoughDataError
from feelcheck.model import CAPTURE_OPTIONS, BenchResult, HandResult
from feelcheck.phases import phase
from feelcheck.pipeline import _hand

__all__ = ["Measured", "Measurements", "ToMeasure"]

Measured = BenchResult | HandResult
LEAST_IN_PARALLEL = 12
"""Files from which several processes are quicker: each loads the libraries first, as long as two sessions take."""


@dataclass(frozen=True, slots=True)
class ToMeasure:
    """A recording, or a capture with what was told of it (pairs of option and value)."""

    path: str
    is_capture: bool
    told: tuple[tuple[str, str], ...] = ()

    @classmethod
    def recording(cls, path: Path | str) -> Self:
        """A session or a log.

        Parameters
        ----------
        path : Path or str
            A session folder or an axis log.
        """
        return cls(str(path), is_capture=False)

    @classmethod
    def capture(cls, path: Path | str, told: Mapping[str, str] | None = None) -> Self:
        """A capture, with what a record or a page keeps of what was said of it.

        Parameters
        ----------
        path : Path or str
            The capture.
        told : Mapping of str to str, optional
            Option and value; what no capture takes is left out.
        """
        pairs = ((name, (told or {})[name]) for name in CAPTURE_OPTIONS if name in (told or {}))
        return cls(str(path), is_capture=True, told=tuple(pairs))

    @property
    def name(self) -> str:
        """The file's or folder's own name."""
        return Path(self.path).name

    def measured(self) -> Measured:
        """What it says; raises as `analyze` and `bench` do."""
        if not self.is_capture:
            return _hand.analyze(Path(self.path))
        from feelcheck.pipeline import _bench  # it loads what recordings do not need

        return _bench.bench(Path(self.path), **dict(self.told))


class Measurements:
    """Results by file, each made once.

    Parameters
    ----------
    say : callable
        Called with one line before each step that takes time; whoever listens to phases if not given.
    jobs : int, optional
        Processes for many files; as many as there are processors if not given.
    """

    def __init__(self, *, say: Callable[[str], None] = phase, jobs: int | None = None) -> None:
        self._say, self._jobs = say, jobs
        self._known: dict[ToMeasure, Measured | FeelcheckError] = {}

    def ahead(self, files: Iterable[ToMeasure], *, go_on: bool = False) -> None:
        """Measure many files in several processes; few are left until they are asked for.

        Parameters
        ----------
        files : iterable of ToMeasure
            What will be asked for.
        go_on : bool
            Whether the others are measured where one cannot be; else its error is raised at once.

        Raises
        ------
        FeelcheckError
            As `analyze` and `bench` do.

        Notes
        -----
        Where another package reads or measures, everything stays in this process: only here is it told what hangs, and
        only here can it be left out.
        """
        files = [one for one in dict.fromkeys(files) if one not in self._known]
        if len(files) >= LEAST_IN_PARALLEL and self._jobs != 1 and plugins.only_own(*plugins.OF_ANALYSIS):
            self._say(f"measuring {len(files)} files, several at a time")
            with closing(_in_parallel(files, self._jobs)) as results:
                for k, (one, found) in enumerate(results, 1):
                    self._known[one] = found
                    if isinstance(found, FeelcheckError) and not go_on:
                        raise found
                    done = "could not measure" if isinstance(found, FeelcheckError) else "measured"
                    self._say(f"{done} {one.name}, {k} of {len(files)}")

    def of(self, one: ToMeasure, words: str = "") -> Measured:
        """Return what a file says.

        Parameters
        ----------
        one : ToMeasure
            The file.
        words : str
            What is said before it is measured now.

        Raises
        ------
        FeelcheckError
            As `analyze` and `bench` do.
        """
        if one not in self._known:
            self._say(words or f"measuring {one.name}")
            self._known[one] = one.measured()
        found = self._known[one]
        if isinstance(found, FeelcheckError):
            raise found
        return found


def _in_parallel(
    files: list[ToMeasure], jobs: int | None
) -> Generator[tuple[ToMeasure, Measured | FeelcheckError], None, None]:
    from feelcheck.survey.engines import engine_of

    engine = engine_of(jobs=jobs, n_tasks=len(files))
    yield from engine.run(_measured, files, _died)


def _measured(one: ToMeasure) -> tuple[ToMeasure, Measured | FeelcheckError]:
    try:
        return one, one.measured()
    except FeelcheckError as problem:
        return one, problem


def _died(one: ToMeasure) -> tuple[ToMeasure, FeelcheckError]:
    reason = "The process that measured it died (out of memory, or a fault in a library)."
    return one, NotEnoughDataError(reason, {"file": one.path}, "Leave it out, or measure it alone.")
