"""A rehearsal from references to its result: what is played, by whom, what it told, where it is noted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from feelcheck import plugins
from feelcheck.errors import FormatError, Interrupted, SourceError
from feelcheck.model import (
    LiveStick,
    PlayedStage,
    RehearsalKind,
    RehearsalRecord,
    RehearsalResult,
    SourceKind,
)
from feelcheck.pipeline._log import RecordingAsked, log
from feelcheck.pipeline._played import ideal_stick, stick_of, target_of
from feelcheck.pipeline._references import listed
from feelcheck.pipeline._rehearsal_tasks import RehearsalAsked, aiming_of, block_of, kind_of, sealed_words, seed_of
from feelcheck.profiles import add_rehearsal, read_profile
from feelcheck.rehearsal.adding import stage_for
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.alone import aim_alone, answer_alone
from feelcheck.rehearsal.choices import QUESTIONS, ChoiceBlock
from feelcheck.rehearsal.choosing import ChoiceCourse
from feelcheck.rehearsal.controls import Controls, controls_from
from feelcheck.rehearsal.course import Course, FreeCourse
from feelcheck.rehearsal.live import LiveInput
from feelcheck.rehearsal.observer import SimulatedObserver
from feelcheck.rehearsal.pad import SIMULATED_PAD
from feelcheck.rehearsal.person import SimulatedPerson, simulated_controls
from feelcheck.rehearsal.player import SimulatedPlayer
from feelcheck.rehearsal.pointing import AimingCourse
from feelcheck.rehearsal.running import LiveTask, play_live
from feelcheck.rehearsal.telling import Played, result_of
from feelcheck.renderers.rehearsal_text import rehearsal_lines, stick_words
from feelcheck.sources.choice import automatic_source

__all__ = ["RehearsalAsked", "RehearsalStopped", "note_rehearsal", "rehearse"]

Say = Callable[[str], None]
IDEAL = "ideal"
"""In place of a recording of the stick in hand: it is taken as adding nothing."""


class RehearsalStopped(Interrupted):
    """A rehearsal was ended by Ctrl-C or another signal; what was answered is in its result.

    Parameters
    ----------
    result : RehearsalResult
        As far as it came.
    number : int
        Which signal.
    """

    def __init__(self, result: RehearsalResult, number: int) -> None:
        self.result = result
        super().__init__(number)


def rehearse(
    references: str | Path | Sequence[str | Path] = (),
    asked: RehearsalAsked | None = None,
    *,
    tell: Say | None = None,
    face: Callable[[], Any] | None = None,
    **stated: Any,
) -> RehearsalResult:
    """Play responses on the live stick in a window, or let a simulated observer answer without one.

    Parameters
    ----------
    references : str, Path or sequence of them
        What is played: records, states, changes of parts, captures; none: the stick in hand as it is.
    asked : RehearsalAsked, optional
        What is done.
    tell : callable, optional
        Takes remarks, among them the fingerprint of the sealed order before the first trial.
    face : callable, optional
        Makes what leads through the recording that measures the stick in hand first.
    **stated
        Fields of `RehearsalAsked`, each in place of the one in `asked`.

    Raises
    ------
    SourceError
        If there is no pad, or neither a window nor a simulated observer.
    NotComparableError
        If something is quicker than the stick in hand.
    NotEnoughDataError
        If something has no response.
    FormatError
        If what is asked makes no sense.
    RehearsalStopped
        On Ctrl-C.

    Examples
    --------
    >>> found = rehearse(observer_threshold_s=0.012, n_trials=20, seed=1, headless=True)
    >>> found.kind, found.n
    ('staircase', 20)
    """
    asked = replace(asked or RehearsalAsked(), **stated)
    say = tell or (lambda _: None)
    several = listed(references) if references else []
    kind, seed = kind_of(asked, len(several)), seed_of(asked)
    if asked.headless and asked.observer_threshold_s is None:
        raise SourceError(
            "A person feels a rehearsal in its window; without one only a simulated observer can play.",
            {"window": "none"},
            "Leave --headless out, or give --observer-threshold-ms.",
        )
    targets = [target_of(reference, asked.side) for reference in several]
    stick = _stick(asked, say, face)
    if asked.observer_threshold_s is None:
        say(stick_words(stick))
    stages = [stage_for(target, stick) for target in targets or [stick.response]]
    setting = _Setting(asked=asked, kind=kind, seed=seed, stick=stick, stages=tuple(stages), say=say)
    return _alone(setting) if asked.headless or _unseen(asked, say) else _in_window(setting)


def _unseen(asked: RehearsalAsked, say: Say) -> bool:
    """Return whether a simulated observer plays without a window because there is no screen; a person cannot."""
    from feelcheck.canvas import has_display

    if has_display():
        return False
    if asked.observer_threshold_s is None:
        raise SourceError(
            "A rehearsal is felt in a window, and there is no screen here.",
            {"window": "none"},
            "Go to a screen, or give --observer-threshold-ms.",
        )
    say("There is no screen: the simulated observer plays without a window.")
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Setting:
    """Everything that a rehearsal needs once the references are read."""

    asked: RehearsalAsked
    kind: RehearsalKind
    seed: int
    stick: LiveStick
    stages: tuple[PlayedStage, ...]
    say: Say

    @property
    def observer(self) -> SimulatedObserver | None:
        threshold_s = self.asked.observer_threshold_s
        return None if threshold_s is None else SimulatedObserver(threshold_s, self.asked.slowness, self.seed)

    def told(self, done: ChoiceBlock | AimingTask | None, shown: Mapping[str, Any]) -> RehearsalResult:
        """Return the result of what was played."""
        played = Played(
            stick=self.stick,
            stages=self.stages,
            specimens=tuple(stage.label for stage in self.stages),
            seed=self.seed,
            simulated=self.asked.observer_threshold_s is not None,
            shown=shown,
        )
        return result_of(played, done, QUESTIONS[self.asked.question])


def _stick(asked: RehearsalAsked, say: Say, face: Callable[[], Any] | None) -> LiveStick:
    """The stick in hand: from its recording, measured now, or ideal where everything is simulated."""
    if asked.own == IDEAL:
        say("The stick in hand is taken as adding nothing: what is felt is slower by what it does add.")
        return ideal_stick("taken as adding nothing, not measured")
    if asked.own:
        return stick_of(asked.own, asked.side)
    if asked.source == "virtual" or asked.observer_threshold_s is not None:
        return ideal_stick("a simulated stick without delay")
    say("What the stick in hand adds by itself is measured first: twenty seconds of flicks (or give --own).")
    recording = RecordingAsked(
        specimen="stick_in_hand",
        script="quick",
        source=asked.source,
        device=asked.device,
        out=asked.out,
        face=face,
        tell=say,
    )
    folder = log(recording)
    return stick_of(str(folder), asked.side)


def _alone(setting: _Setting) -> RehearsalResult:
    """Let the simulated observer play, as fast as it goes."""
    observer = setting.observer
    if setting.kind == "free" or observer is None:
        raise FormatError(
            "A free feel asks nothing that an observer could answer.",
            {"task": "free"},
            "Give --task trials, staircase or aiming.",
        )
    if setting.kind == "aiming":
        task = aiming_of(setting.stages, setting.asked, setting.seed)
        aim_alone(task, SimulatedPlayer(setting.seed))
        return setting.told(task, {})
    block = block_of(setting.kind, setting.stages, setting.asked, setting.seed)
    setting.say(sealed_words(block))
    answer_alone(block, observer)
    return setting.told(block, {})


def _in_window(setting: _Setting) -> RehearsalResult:
    """Play on the live stick, or on a simulated pad in real time."""
    from feelcheck.rehearsal.window import RehearsalWindow

    asked = setting.asked
    simulated = asked.source == "virtual" or asked.observer_threshold_s is not None
    controls = simulated_controls() if simulated else controls_from(list(asked.controls))
    done = _task_of(setting)
    if isinstance(done, ChoiceBlock):
        setting.say(sealed_words(done))
    source, reference = _source(asked, simulated, setting.say)
    task = LiveTask(
        source=source, reference=reference, device=asked.device, kind=setting.kind, side=asked.side,
        interval_s=setting.stick.report_interval_s, out=Path(asked.out),
    )  # fmt: skip
    found: list[RehearsalResult] = []

    def told(_: Course, shown: Mapping[str, Any]) -> Sequence[str]:
        found.append(setting.told(done, shown))
        return rehearsal_lines(found[0])

    stopped = play_live(
        task,
        lambda live: _course(setting, live, controls, done),
        lambda: RehearsalWindow(controls, theme=asked.theme, size=asked.size, linger_s=asked.linger_s),
        told,
        person=SimulatedPerson(setting.observer, setting.seed) if simulated else None,
    )
    if stopped is not None:
        raise RehearsalStopped(found[0], stopped.number)
    return found[0]


def _task_of(setting: _Setting) -> ChoiceBlock | AimingTask | None:
    if setting.kind == "free":
        return None
    if setting.kind == "aiming":
        return aiming_of(setting.stages, setting.asked, setting.seed)
    return block_of(setting.kind, setting.stages, setting.asked, setting.seed)


def _course(setting: _Setting, live: LiveInput, controls: Controls, done: ChoiceBlock | AimingTask | None) -> Course:
    asked, right = setting.asked, setting.asked.side == "right"
    if isinstance(done, ChoiceBlock):
        question, opening = QUESTIONS[asked.question], sealed_words(done)
        return ChoiceCourse(
            live, controls, done, question=question, interval_s=asked.interval_s, opening=opening, right_handed=right
        )
    if isinstance(done, AimingTask):
        return AimingCourse(live, controls, done, right_handed=right)
    return FreeCourse(live, controls, setting.stages, hide_names=asked.hide_names, right_handed=right)


def _source(asked: RehearsalAsked, simulated: bool, say: Say) -> tuple[str, str]:
    """Return name and reference of the source."""
    if simulated:
        return "virtual", f"{SIMULATED_PAD.make.__module__}:SIMULATED_PAD"
    name = asked.source
    if name == "auto":
        name, why = automatic_source(asked.device)
        say(f"Source: {name}, since {why}.")
    plugin, kind = plugins.find("feelcheck.sources", name, also=("auto", "virtual"))
    if not isinstance(kind, SourceKind) or not kind.realtime or kind.gives_cues:
        raise SourceError(
            "A rehearsal needs a stick that somebody moves.",
            {"source": name},
            "Give --source gamepad, evdev or virtual.",
        )
    return name, plugin.reference


def note_rehearsal(path: Path, result: RehearsalResult, *, person: str = "") -> None:
    """Note a result in a specimen's record.

    Raises
    ------
    ProfileError
        If it is there already, or the record is none.
    """
    read_profile(path)
    add_rehearsal(path, _record_of(result, person))


def _record_of(result: RehearsalResult, person: str) -> RehearsalRecord:
    return RehearsalRecord(
        kind=result.kind,
        seal=result.seal or f"{result.kind} {result.date} {result.seed}",
        date=result.date,
        specimens=result.specimens,
        person=person,
        slowness=result.slowness,
        placement=result.placement,
        n=result.n or 0,
        n_correct=result.n_correct,
        p_value=result.p_value,
        seed=result.seed,
        aborted=result.aborted,
        simulated=result.simulated,
        estimates={name: replace(estimate, caveats=()) for name, estimate in result.estimates.items()},
        intervals=result.intervals,
    )
