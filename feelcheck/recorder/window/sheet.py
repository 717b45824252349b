"""The whole sheet: where the script is, the sentence, the gesture, what was made of the last one, strip and legend."""

from __future__ import annotations

import math

from feelcheck.canvas import AGAIN, FAINT, GOOD, HEIGHT, INK, PAPER, SHADE, SOFT, WIDTH, Canvas, Panel
from feelcheck.model import Action
from feelcheck.recorder.guide import GuideView, SoFar, Stage, Verdict
from feelcheck.recorder.guide.asking import MOST_TRIES
from feelcheck.recorder.guide.view import Mark
from feelcheck.recorder.guide.words import PAIN
from feelcheck.recorder.window.figures import draw_last, draw_so_far
from feelcheck.recorder.window.gesture import draw_gestures
from feelcheck.recorder.window.set_up import draw_set_up
from feelcheck.recorder.window.strip import draw_strip

__all__ = ["draw_sheet"]

NOTHING_YET = SoFar()

MARGIN = 48.0
RIGHT = WIDTH - MARGIN
MARKS_RIGHT = 680.0
CARD_X, CARD_Y, CARD_WIDE = 640.0, 216.0, RIGHT - 640.0
_CHOICES = (
    ("up", "go on"),
    ("left", "do the last one again"),
    ("right", "leave this one out"),
    ("down", "end here; all is kept"),
)


def draw_sheet(canvas: Canvas, view: GuideView, remarks: list[str], so_far: SoFar = NOTHING_YET) -> None:
    """Draw one instant of a guided recording, with what its flicks say so far.

    Parameters
    ----------
    canvas : Canvas
        Where to draw.
    view : GuideView
        What the guide shows now.
    remarks : list of str
        What is said below.
    so_far : SoFar
        What the flicks say until now.
    """
    canvas.surface.fill(PAPER)
    _draw_place(canvas, view)
    _draw_sentence(canvas, view)
    if view.stage is Stage.PAUSED:
        _draw_choices(canvas, view)
    elif view.stage is Stage.FINISHED:
        _draw_end(canvas, view, remarks, so_far)
    elif view.stage in (Stage.READY, Stage.UNPLUGGED):
        _draw_words(canvas, _READY_WORDS if view.stage is Stage.READY else _GONE_WORDS)
    else:
        if view.stage is Stage.BREAK:
            _draw_break(canvas, view)
        else:
            draw_gestures(canvas, view.pad, view.step, view.now_s, tied=view.tied)
        _draw_verdict(canvas, view)
        draw_so_far(canvas, so_far)
    if view.stage is not Stage.FINISHED:
        draw_strip(canvas, view.pad, view.step, view.now_s)
    _draw_legend(canvas, view)


def _draw_place(canvas: Canvas, view: GuideView) -> None:
    """Draw how far the script is: words, and a line with one tick a step."""
    part = f"Part {view.block} of {view.n_blocks}: " if view.block else ""
    canvas.text(part + view.block_name, MARGIN, 24, 18, colour=SOFT)
    steps = f"Step {min(view.done + 1, view.n_steps)} of {view.n_steps}"
    if view.stage is Stage.FINISHED:
        steps = f"All {view.n_steps} steps"
    canvas.text(steps, RIGHT, 24, 18, colour=SOFT, side="right")
    y, wide = 62.0, RIGHT - MARGIN
    canvas.rule(MARGIN, y, RIGHT, y, width=2)
    here = MARGIN + wide * view.done / view.n_steps
    if view.done:
        canvas.rule(MARGIN, y, here, y, colour=INK, width=5)
    for k in range(view.n_steps + 1):
        x = MARGIN + wide * k / view.n_steps
        canvas.rule(x, y - 5, x, y + 5, colour=INK if k <= view.done else FAINT)
    panel = canvas.panel(here - 10, y - 10, 20, 20)
    panel.path([(here - 10, y), (here, y)], INK if view.done else PAPER, 5)
    panel.path([(here, y), (here + 10, y)], FAINT if view.done < view.n_steps else PAPER, 2)
    panel.shape([(here - 8, y), (here, y - 8), (here + 8, y), (here, y + 8)], INK)
    panel.put()


def _draw_sentence(canvas: Canvas, view: GuideView) -> None:
    size = 42.0
    lines = canvas.lines(view.sentence, RIGHT - MARGIN, size, "serif")
    if len(lines) > 1:
        size = 34.0
        lines = canvas.lines(view.sentence, RIGHT - MARGIN, size, "serif")
    y = 88.0
    for line in lines[:2]:
        canvas.text(line, MARGIN, y, size, face="serif")
        y += 1.2 * size
    words = _second_line(view)
    if words:
        below = 170.0 if len(lines) == 1 else 178.0
        canvas.text(words, MARGIN, below, 20, colour=SOFT)
        if _fills(view):
            x = MARGIN + canvas.width(words, 20) + 20
            _draw_bar(canvas, x, below + 8, 220, view.progress)


def _fills(view: GuideView) -> bool:
    return view.stage is Stage.ASKING and view.step is not None and view.step.action is not Action.PRESS


def _second_line(view: GuideView) -> str:
    """Return what stands under the sentence: the try, what is being waited for, the time that is left."""
    if view.stage is Stage.READY:
        return f"Begins in {math.ceil(view.left_s)} s. Space or any button of the pad begins at once."
    if view.stage is Stage.BREAK and view.left_s == math.inf:
        return "When you are ready: Space or any button of the pad goes on."
    if view.stage is Stage.BREAK:
        return f"Goes on in {math.ceil(view.left_s)} s. Space or any button of the pad goes on at once."
    if view.stage is not Stage.ASKING or view.step is None:
        return ""
    doing = {
        Action.FLICK: "held at the rim",
        Action.HOLD: "held",
        Action.CIRCLE: "how far round",
        Action.ROLL: "how far round",
        Action.REST: "still",
        Action.RELEASE: "at the centre",
    }.get(view.step.action, "")
    tries = f"Try {view.attempt} of {MOST_TRIES}" if view.attempt > 1 else ""
    return ", ".join(part for part in (tries, doing) if part)


def _draw_bar(canvas: Canvas, x: float, y: float, width: float, share: float) -> None:
    canvas.area(x, y, width, 10, SHADE, round_by=5)
    if share > 0.02:
        canvas.area(x, y, max(10.0, width * share), 10, GOOD, round_by=5)
    canvas.text(f"{share:.0%}".replace("%", " %"), x + width + 12, y - 6, 16, colour=SOFT)


def _draw_verdict(canvas: Canvas, view: GuideView) -> None:
    """Draw what was made of the action before: a sign, what happened, what to do."""
    if view.verdict is not None:
        verdict = view.verdict
        colour = GOOD if verdict.good else AGAIN
        _draw_sign(canvas, verdict)
        canvas.text(view.judged, CARD_X + 64, CARD_Y, 17, colour=SOFT)
        word = "Counts. " if verdict.good else "Not counted. "
        y = canvas.block(
            word + verdict.sentence.removeprefix("Good."),
            CARD_X + 64,
            CARD_Y + 28,
            25,
            width=CARD_WIDE - 64,
            colour=colour,
            face="bold",
        )
        more = verdict.advice
        if not verdict.good:
            more += " It will be asked again." if view.next_try else " It goes on without this one."
        canvas.block(more.strip(), CARD_X + 64, y + 4, 19, width=CARD_WIDE - 64)
    _draw_tally(canvas, view, 452)


def _draw_sign(canvas: Canvas, verdict: Verdict) -> None:
    """Draw a tick, or an arrow that turns back."""
    x, y = CARD_X + 24, CARD_Y + 38
    panel = canvas.panel(x - 28, y - 28, 56, 56)
    (_tick if verdict.good else _turn_back)(panel, (x, y), 1.0)
    panel.put()


def _tick(panel: Panel, middle: tuple[float, float], size: float) -> None:
    x, y = middle
    panel.path(
        [(x - 17 * size, y + size), (x - 5 * size, y + 14 * size), (x + 18 * size, y - 14 * size)], GOOD, 6 * size
    )


def _turn_back(panel: Panel, middle: tuple[float, float], size: float) -> None:
    x, y = middle
    angles = [math.radians(degrees) for degrees in range(-40, 231, 10)]
    panel.path([(x + 15 * size * math.cos(a), y + 15 * size * math.sin(a)) for a in angles], AGAIN, 5 * size)
    head = ((-21, -6), (1, -6), (-13, -23))
    panel.shape([(x + dx * size, y + dy * size) for dx, dy in head], AGAIN)


def _draw_tally(canvas: Canvas, view: GuideView, y: float) -> None:
    canvas.rule(CARD_X, y - 10, RIGHT, y - 10)
    tally = f"{view.accepted} counted     {view.rejected} not counted     {view.skipped} left out"
    canvas.text(tally, CARD_X, y, 17, colour=SOFT)
    rate = view.pad.rate_hz
    words = "reports: not known yet" if rate is None else f"{_rounded(rate)} reports a second in motion"
    canvas.text(words, CARD_X, y + 26, 17, colour=SOFT)


def _rounded(rate_hz: float) -> str:
    digits = max(0, round(math.log10(max(rate_hz, 1.0))) - 1)
    return f"about {round(rate_hz, -digits):,.0f}".replace(",", " ")


def _draw_choices(canvas: Canvas, view: GuideView) -> None:
    """Draw what can be chosen while paused."""
    canvas.text("Space or any button of the pad goes on. Or hold a stick to a side for a moment:", MARGIN, 170, 20)
    for k, (side, words) in enumerate(_CHOICES):
        y = 226.0 + 62 * k
        held = view.choice is not None and view.choice[0] == side
        canvas.text(side, MARGIN + 110, y, 24, face="bold", side="right", colour=INK if held else SOFT)
        canvas.text(words, MARGIN + 140, y, 24)
        if held and view.choice is not None:
            _draw_bar(canvas, MARGIN + 140, y + 36, 300, view.choice[1])
    _draw_tally(canvas, view, 452)


def _draw_break(canvas: Canvas, view: GuideView) -> None:
    """Draw what is left of a break: a number, and a bar that gets shorter; the set-up where it waits for the person."""
    if view.left_s == math.inf:
        draw_set_up(canvas, view.step, tied=view.tied and view.block == 0)
        return
    seconds = math.ceil(view.left_s)
    canvas.text(str(seconds), MARGIN + 150, 226, 120, face="serif", side="middle")
    canvas.text("second left" if seconds == 1 else "seconds left", MARGIN + 150, 378, 20, side="middle", colour=SOFT)
    canvas.area(MARGIN, 426, 300, 10, SHADE, round_by=5)
    canvas.area(MARGIN, 426, max(10.0, 300 * (1 - view.progress)), 10, INK, round_by=5)


_READY_WORDS = (
    "You are asked for one movement at a time. A drawing shows the way; the line below writes what the pad sends.",
    "What did not work out is asked again. Nothing is lost, and you may pause at any time.",
)
_GONE_WORDS = ("Check the cable or the radio link. The recording goes on by itself when the pad is back.",)


def _draw_words(canvas: Canvas, words: tuple[str, ...]) -> None:
    y = 236.0
    for text in words:
        y = canvas.block(text, MARGIN, y, 24, width=RIGHT - MARGIN) + 18
    if words is _READY_WORDS:
        canvas.block(PAIN, MARGIN, y, 24, width=RIGHT - MARGIN, face="bold")


def _draw_end(canvas: Canvas, view: GuideView, remarks: list[str], so_far: SoFar) -> None:
    """Draw the counts, a row of marks for each part, what is to be said, and what the session says."""
    counts = f"{view.accepted} counted, {view.rejected} did not count, {view.skipped} left out. All is saved."
    canvas.text(counts, MARGIN, 156, 22)
    y = 206.0
    for name, marks in view.ledger[:9]:
        canvas.text(name, MARGIN, y, 18, colour=SOFT)
        _draw_marks(canvas, marks, MARGIN + 250, y)
        y += 34
    _draw_key(canvas, y + 4)
    y += 48
    for remark in remarks[: max(0, int((590 - y) / 26))]:
        canvas.text(remark, MARGIN, y, 17)
        y += 26
    draw_last(canvas, so_far)
    words = "This page closes by itself; any key closes it now. Next: feelcheck analyze, as the terminal says."
    canvas.text(words, MARGIN, HEIGHT - 56, 18, colour=SOFT)


def _draw_key(canvas: Canvas, y: float) -> None:
    """Say what the marks mean."""
    x = MARGIN + 250
    for mark in Mark:
        _draw_marks(canvas, (mark,), x, y)
        canvas.text(str(mark), x + 40, y, 16, colour=SOFT)
        x += 62 + canvas.width(str(mark), 16)


def _draw_marks(canvas: Canvas, marks: tuple[Mark, ...], x: float, y: float) -> None:
    """Draw a row of ticks, of arrows that turn back, and of dashes for what was left out."""
    wide = MARKS_RIGHT - x
    each = min(34.0, wide / max(1, len(marks)))
    panel = canvas.panel(x, y - 4, wide, 30)
    for k, mark in enumerate(marks):
        middle = (x + each * (k + 0.5), y + 11)
        if mark is Mark.COUNTS:
            _tick(panel, middle, 0.62)
        elif mark is Mark.AGAIN:
            _turn_back(panel, middle, 0.55)
        else:
            panel.path([(middle[0] - 8, middle[1]), (middle[0] + 8, middle[1])], SOFT, 3)
    panel.put()


def _draw_legend(canvas: Canvas, view: GuideView) -> None:
    canvas.rule(MARGIN, HEIGHT - 74, RIGHT, HEIGHT - 74)
    if view.stage is Stage.FINISHED:
        return
    go = "go on" if view.stage in (Stage.PAUSED, Stage.BREAK) else "begin" if view.stage is Stage.READY else "pause"
    pairs = [
        ("Space, any pad button", go),
        ("R", "last one again"),
        ("S", "leave this out"),
        ("Esc", "end here"),
    ]
    x = MARGIN
    for key, words in pairs:
        canvas.text(key, x, HEIGHT - 62, 16, face="bold")
        x += canvas.width(key, 16, "bold") + 10
        canvas.text(words, x, HEIGHT - 62, 16, colour=SOFT)
        x += canvas.width(words, 16) + 34
    if view.stage is not Stage.READY:
        canvas.text(PAIN, MARGIN, HEIGHT - 34, 16, face="bold")
