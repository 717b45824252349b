"""A guided recording without clock, pad or window: the scripted person and the guide, report by report, into a session.

The rows stand exactly where a quiet machine would stamp them, so that what the analysis makes of a session with
rejected and retaken flicks can be held against the truth on any machine.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from scripted_person import NAMES, PERIOD_NS, Electronics, Person

from feelcheck.formats.session_header import SessionHeader, new_session_folder
from feelcheck.formats.session_log import EVENTS_FILE, EventLog
from feelcheck.model import Script, SourceEvent
from feelcheck.recorder.guide import Guide, Row
from feelcheck.sources.gamepad.naming import axis_records

BRACKET_NS = 60_000
LOOK_REPORTS = 20
LAG_NS = 50_000_000


def play(script: Script, bad: list[str], out: Path, *, longest_s: float = 600.0) -> tuple[Path, Guide]:
    """Play a script with the given bad flicks; return the session's folder and the guide at its end."""
    axes = axis_records(NAMES, 4)
    guide, person, electronics = Guide(script, axes, ready_s=1.0), Person(bad), Electronics()
    start_ns = 1_000_000_000
    header = SessionHeader(
        specimen="alder",
        state="as_found",
        script=script.name,
        source="gamepad",
        device={"axes": axes, "clock": {"kind": "host", "start_ns": start_ns}},
        started="2026-11-20T10:00:00+00:00",
        tool_version="test",
    )
    folder = new_session_folder(out, "alder", "as_found")
    log = EventLog(folder / EVENTS_FILE)
    rows: list[SourceEvent] = [(start_ns, start_ns, "axis", name, 0) for name in NAMES.values()]
    person.start(start_ns * 1e-9)
    t_ns, k = start_ns, 0
    while not guide.finished and t_ns - start_ns < longest_s * 1e9:
        t_ns += PERIOD_NS
        k += 1
        for kind, index, value in electronics.report(person, t_ns * 1e-9):
            name = NAMES[index] if kind == "axis" else f"button_{index}"
            rows.append((t_ns - BRACKET_NS // 2, t_ns + BRACKET_NS // 2, kind, name, value))
        if k % LOOK_REPORTS == 0:
            log.add(rows)
            told: list[Row] = [(hi * 1e-9, kind, name, value) for _, hi, kind, name, value in rows]
            rows = []
            guide.take(told)
            for said in guide.look((t_ns - LAG_NS) * 1e-9):
                log.add([(t_ns, t_ns, said.kind, said.text, said.value)])
                if said.kind == "cue":
                    person.told(t_ns * 1e-9, said.text)
            log.flush()
    log.close()
    replace(header, recording="complete").write(folder)
    return folder, guide
