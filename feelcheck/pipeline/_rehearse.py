"""A rehearsal from references to its result: what is played, by whom, what it told, where it is noted."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, get_args

from feelcheck import plugins
from feelcheck.errors import FormatError, Interrupted, SourceError
from feelcheck.model import (
    LiveStick,
    PlayedStage,
    RehearsalKind,
    RehearsalRecord,
    RehearsalResult,
    Slowness,
    SourceKind,
)
from feelcheck.pipeline._log import log
from feelcheck.pipeline._played import ideal_stick, stick_of, target_of
from feelcheck.profiles import add_rehearsal, read_profile
from feelcheck.psychometrics import placement_named
from feelcheck.rehearsal.adding import stage_for
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.alone import aim_alone, answer_alone
from feelcheck.rehearsal.choices import QUESTIONS, ChoiceBlock
from feelcheck.rehearsal.choosing import ChoiceCourse
from feelcheck.rehearsal.controls import Controls, controls_from
from feelcheck.rehearsal.course import Course, FreeCourse
from feelcheck.rehearsal.live import LiveInput
from feelcheck.rehearsal.observer import SimulatedObserver
from feelcheck.rehearsal.order import SealedOrder
from feelcheck.rehearsal.pad import SIMULATED_PAD
from feelcheck.rehearsal.person import SimulatedPerson, simulated_controls
from feelcheck.rehearsal.player import SimulatedPlayer
from feelcheck.rehearsal.pointing import AimingCourse
from feelcheck.rehearsal.running import LiveTask, play_live
from feelcheck.rehearsal.telling import result_of_aiming, result_of_choices, result_of_free
from feelcheck.renderers.rehearsal_text import rehearsal_lines, stick_words
from feelcheck.sources.choice import automatic_source

__all__ = ["RehearsalAsked", "RehearsalStopped", "note_rehearsal", "rehearse"]

PLACEMENTS = ("adaptive", "two_down", "three_down")
USUAL_TRIALS = {"trials": 23, "staircase": 60}
"""23 is where 16 correct rule out guessing at 5 % and four of five true answers are found in nine of ten blocks."""
SEQUENCES_EACH = 4
MOST_TRIALS = 500
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalAsked:
    """What a rehearsal is asked to do.

    Parameters
    ----------
    task : str
        free, trials, staircase or aiming; empty: trials of two references and a staircase of one where an observer is
        simulated, else free.
    own : str
        Recording of the stick in hand; empty: it is measured first.
    n_trials : int or None
        Trials that are to count.
    placement, slowness, question : str
        How a staircase is placed, which way is slowed, what is asked.
    observer_threshold_s : float or None, s
        Threshold of a simulated observer; None for a person.
    seed : int or None
        Seed of order and observer; drawn where it is not given.
    side : {"left", "right"}
        Which stick.
    n_targets : int
        Targets on the ring.
    headless : bool
        No window.
    source, device : str
        Which pad; ``"virtual"`` is a simulated one.
    hide_names : bool
        Whether a free feel only says A and B.
    interval_s : float, s
        How long each of the two responses of a trial is felt.
    controls : tuple of str
        Wishes for keys and buttons, see `controls_from`.
    theme, size : str
        Look of the window.
    linger_s : float, s
        How long its last page stands.
    out : str
        Folder for the session's folder.
    """

    task: str = ""
    own: str = ""
    n_trials: int | None = None
    placement: str = "adaptive"
    slowness: Slowness = "both"
    question: str = "stop"
    observer_threshold_s: float | None = None
    seed: int | None = None
    side: str = "left"
    n_targets: int = 9
    headless: bool = False
    source: str = "auto"
    device: str = ""
    hide_names: bool = False
    interval_s: float = 3.5
    controls: tuple[str, ...] = ()
    theme: str = "light"
    size: str = "normal"
    linger_s: float = 60.0
    out: str = "sessions"


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
    >>> found = rehearse((), RehearsalAsked(observer_threshold_s=0.012, n_trials=20, seed=1, headless=True))
    >>> found.kind, found.n
    ('staircase', 20)
    """
    asked = asked or RehearsalAsked()
    say = tell or (lambda _: None)
    several = [str(references)] if isinstance(references, str | Path) else [str(one) for one in references]
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
        shared: dict[str, Any] = {
            "stick": self.stick,
            "specimens": tuple(stage.label for stage in self.stages),
            "seed": self.seed,
            "simulated": self.asked.observer_threshold_s is not None,
            "shown": shown,
        }
        if isinstance(done, ChoiceBlock):
            return result_of_choices(done, question=QUESTIONS[self.asked.question], **shared)
        if isinstance(done, AimingTask):
            return result_of_aiming(done, **shared)
        return result_of_free(stages=self.stages, **shared)


def _stick(asked: RehearsalAsked, say: Say, face: Callable[[], Any] | None) -> LiveStick:
    """The stick in hand: from its recording, measured now, or ideal where everything is simulated."""
    if asked.own:
        return stick_of(asked.own, asked.side)
    if asked.source == "virtual" or asked.observer_threshold_s is not None:
        return ideal_stick()
    say("What the stick in hand adds by itself is measured first: twenty seconds of flicks (or give --own).")
    folder = log("stick_in_hand", script="quick", source=asked.source, device=asked.device, out=asked.out, face=face,
                 tell=say)  # fmt: skip
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


def kind_of(asked: RehearsalAsked, n_references: int) -> RehearsalKind:
    """Return what is done, held against what it needs.

    Raises
    ------
    FormatError
        On an unknown word, or a number that makes no sense.
    """
    words = ((asked.placement, PLACEMENTS), (asked.slowness, get_args(Slowness)), (asked.question, tuple(QUESTIONS)))
    controls_from(list(asked.controls))
    looks = ((asked.theme, ("light", "dark")), (asked.size, ("normal", "large")))
    for word, allowed in (
        *words,
        *looks,
        (asked.task or "free", get_args(RehearsalKind)),
        (asked.side, ("left", "right")),
    ):
        if word not in allowed:
            facts: dict[str, object] = {"got": word, "allowed": ", ".join(allowed)}
            raise FormatError("A rehearsal is asked for in known words.", facts, "Choose one of these words.")
    usual = "trials" if n_references > 1 else "staircase"
    kind = asked.task or (usual if asked.observer_threshold_s is not None else "free")
    needs = {"free": (0, 2), "trials": (2, 2), "staircase": (0, 1), "aiming": (0, 2)}[kind]
    if not needs[0] <= n_references <= needs[1]:
        facts = {"task": kind, "got": n_references, "needed": " to ".join(map(str, dict.fromkeys(needs)))}
        raise FormatError("A task plays a certain number of responses.", facts, "Name so many records or captures.")
    threshold_s, n = asked.observer_threshold_s, asked.n_trials
    if not 0.2 <= asked.interval_s <= 60:
        raise FormatError(
            "An interval of a trial lasts 0.2 to 60 s.", {"got": asked.interval_s}, "Give --interval-s 3.5."
        )
    if (threshold_s is not None and not 0 < threshold_s < 1) or (n is not None and not 1 <= n <= MOST_TRIALS):
        facts = {"threshold": threshold_s, "trials": n, "allowed": f"0 to 1000 ms, 1 to {MOST_TRIALS} trials"}
        raise FormatError("Threshold and number of trials are in a range that makes sense.", facts)
    return kind  # type: ignore[return-value]


def seed_of(asked: RehearsalAsked) -> int:
    """Return the seed that was given, else one drawn now."""
    if asked.seed is not None and asked.seed < 0:
        raise FormatError("A seed is not negative.", {"got": asked.seed}, "Give --seed 0 or more.")
    return secrets.randbelow(2**31) if asked.seed is None else asked.seed


def block_of(kind: RehearsalKind, stages: Sequence[PlayedStage], asked: RehearsalAsked, seed: int) -> ChoiceBlock:
    """Return the block of trials: the slower of two is the one with more delay, rising and falling together."""
    n = asked.n_trials or USUAL_TRIALS[kind]
    order = SealedOrder.drawn(n, seed=seed)
    if kind == "staircase":
        return ChoiceBlock(
            quick=stages[0], slow=stages[0], n_planned=n, order=order, slowness=asked.slowness,
            placement=placement_named(asked.placement),
        )  # fmt: skip
    quick, slow = sorted(stages, key=lambda stage: _delay(stage, asked.slowness))
    return ChoiceBlock(quick=quick, slow=slow, n_planned=n, order=order, slowness=asked.slowness)


def _delay(stage: PlayedStage, ways: Slowness) -> float:
    sides = (stage.added_falling,) if ways == "falling" else (stage.added_rising, stage.added_falling)
    return sum(side.value or 0.0 for side in sides)


def aiming_of(stages: Sequence[PlayedStage], asked: RehearsalAsked, seed: int) -> AimingTask:
    """Return the aiming task.

    Raises
    ------
    FormatError
        If the number of targets is even or below five.
    """
    order = AimingTask.balanced_order(len(stages), SEQUENCES_EACH, seed=seed)
    try:
        return AimingTask(stages=tuple(stages), n_targets=asked.n_targets, order=order)
    except ValueError as error:
        raise FormatError(
            "Aiming needs an odd number of targets from five on, so that every movement is equally long.",
            {"got": asked.n_targets},
            "Give --targets 9.",
        ) from error


def sealed_words(block: ChoiceBlock) -> str:
    """Return the fingerprint of the order in words, as told before the first trial."""
    plan = block.plan()
    shows = ""
    if "least_correct" in plan:
        shows = (
            f" {plan['least_correct']:g} of {plan['n']:g} correct rule out guessing (5 %); one who is right in four of "
            f"five trials reaches that in {100 * plan['power_at_80']:.0f} of 100 blocks."
        )
    elif plan:
        shows = f" So few trials ({plan['n']:g}) cannot rule out guessing, whatever the answers."
    return f"Order sealed; SHA-256 {block.order.seal}.{shows}"


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
