"""The stations of the job line as a table: name, page, and what each says of itself."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QT_TR_NOOP

from benchapp.capture import Transient
from benchapp.gui.findings import lines_of
from benchapp.gui.instrument import Instrument
from benchapp.gui.jobline import StationState
from benchapp.gui.marks import mark_of
from benchapp.gui.planwords import count_words, decision_words
from benchapp.gui.results import limit_name
from benchapp.gui.session import Part, Session
from benchapp.gui.views import abscissa
from benchapp.gui.words import (
    deviation_words,
    outcome_words,
    plural,
    range_words,
    span_words,
    symbol,
    tr,
)
from benchapp.jobs import JudgedPart
from benchapp.nominal import Outcome

__all__ = ["STATIONS", "Station", "extent_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One station: its key (the window has a page builder of that name), name and live state."""

    key: str
    name: str
    state: Callable[[Session, Instrument], StationState]


def _nominal_state(session: Session, _instrument: Instrument) -> StationState:
    nominal = session.nominal
    if nominal is None:
        return StationState(mark="empty", word=tr("none"), line=tr("open a design"))
    first = next((one for one in nominal.limits if one.nominal is not None), nominal.limits[0])
    revision = tr("rev {revision}").format(revision=nominal.revision) if nominal.revision else ""
    parts = [
        f"{nominal.title} {revision}".strip(),
        f"{symbol(first.quantity)} {range_words(first)}",
    ]
    return StationState(mark="good", word=tr("open"), line=" · ".join(parts))


def _setup_state(session: Session, instrument: Instrument) -> StationState:
    if not instrument.address:
        return StationState(mark="empty", word="", line=tr("no instrument"))
    if instrument.bias != "off":
        return StationState(mark="stop", word=tr("BIAS ON"), line=tr("do not disconnect"))
    if instrument.output == "unknown":
        line = tr("switch it off at the instrument")
        return StationState(mark="stop", word=tr("output unknown"), line=line)
    name = tr("simulated bench") if instrument.server is not None else instrument.address
    parts = [name, _fixture_words(instrument)]
    if instrument.is_busy:
        return StationState(mark="working", word=tr("at work"), line=" · ".join(parts))
    if session.lot_obstacle:
        return StationState(mark="stop", word=tr("lot work locked"), line=session.lot_obstacle)
    answered = bool(instrument.identity)
    return StationState(
        mark="good" if answered else "unknown",
        word=tr("output off") if answered else tr("not asked yet"),
        line=" · ".join(parts),
    )


def _fixture_words(instrument: Instrument) -> str:
    standards = instrument.standards
    if not standards:
        return tr("no compensation")
    ages = [one.minutes(time.monotonic()) for one in standards.values()]
    if None in ages:
        return tr("fixture of unknown age")
    return tr("fixture {n} min ago").format(n=max(ages))


def extent_words(part: Part) -> str:
    """Write how many points a capture has and from where to where it goes."""
    x = abscissa(part.capture)
    unit = "s" if isinstance(part.capture, Transient) else "Hz"
    points = plural(x.size, tr("1 point"), tr("%n points"))
    return f"{points} · {span_words(float(x[0]), float(x[-1]), unit)}"


def _capture_state(session: Session, instrument: Instrument) -> StationState:
    if instrument.is_sweeping:
        words, fraction = instrument.progress
        line = f"{words} · {round(100 * fraction)} %"
        return StationState(mark="working", word=tr("measuring"), line=line)
    part = session.part
    if part is None:
        return StationState(mark="empty", word=tr("none"), line=tr("open or drop a file"))
    line = f"{part.name} · {extent_words(part)}"
    if part.error is not None:
        return StationState(mark="stop", word=tr("not fitted"), line=line)
    if part.result is None:
        return StationState(mark="working", word=tr("fitting"), line=line)
    mark, word = _quality(part.result)
    return StationState(mark=mark, word=word, line=line)


def _quality(result: JudgedPart) -> tuple[str, str]:
    """Say how far a fit can be trusted, by its gravest finding."""
    levels = {line.level for line in lines_of(result)}
    if "stop" in levels:
        return "stop", tr("fitted, not to be trusted")
    if "warn" in levels or not result.fit.describes:
        return "doubt", tr("fitted, with warnings")
    if result.fit.undetermined:
        return "doubt", tr("fitted in part")
    return "good", tr("fitted")


def _verdict_state(session: Session, _instrument: Instrument) -> StationState:
    part, result = session.part, session.result
    if part is None:
        return StationState(mark="empty", word="", line=tr("nothing yet"))
    if result is None and part.error is None:
        return StationState(mark="working", word=tr("working"), line=part.name)
    if result is None or result.verdict is None:
        reason = tr("no nominal design") if session.nominal is None else tr("no result")
        return StationState(mark="unknown", word=outcome_words(Outcome.NOT_JUDGED), line=reason)
    verdict = result.verdict
    entry = verdict.deciding
    line = verdict.reason
    if entry is not None and entry.measured is not None:
        line = f"{limit_name(entry.limit)} {deviation_words(entry)}"
    return StationState(
        mark=mark_of(verdict.outcome), word=outcome_words(verdict.outcome), line=line
    )


def _lot_state(session: Session, _instrument: Instrument) -> StationState:
    desk = session.desk
    if desk is None or desk.state is None:
        return StationState(mark="empty", word="", line=tr("no lot is open"))
    mark, word = decision_words(desk.state)
    return StationState(mark=mark, word=word, line=count_words(desk.state))


def _records_state(session: Session, _instrument: Instrument) -> StationState:
    recorder = None if session.desk is None else session.desk.recorder
    if recorder is None:
        return StationState(mark="empty", word="", line=tr("search, open, compare"))
    if recorder.failed:
        return StationState(mark="stop", word=tr("not kept"), line=recorder.words)
    mark = "good" if recorder.kept else "empty"
    return StationState(mark=mark, word="", line=recorder.short_words)


STATIONS = (
    Station(key="nominal", name=QT_TR_NOOP("Nominal"), state=_nominal_state),
    Station(key="setup", name=QT_TR_NOOP("Set-up"), state=_setup_state),
    Station(key="capture", name=QT_TR_NOOP("Capture"), state=_capture_state),
    Station(key="verdict", name=QT_TR_NOOP("Verdict"), state=_verdict_state),
    Station(key="lot", name=QT_TR_NOOP("Lot"), state=_lot_state),
    Station(key="records", name=QT_TR_NOOP("Records"), state=_records_state),
)
