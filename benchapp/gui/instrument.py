"""The instrument of the window: one link, one thread, and what is known of its state.

Everything that talks to the instrument runs on the thread of this model's own worker, one act
after the other. Points that come in are handed over by a timer, so that a fast instrument cannot
flood the window.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from benchapp.capture import Capture, Conditions, Sweep
from benchapp.checks import Facts
from benchapp.errors import (
    BenchError,
    CancelledError,
    FileAccessError,
    ProfileError,
    UsageError,
)
from benchapp.fixture import Corrected, Validity
from benchapp.gui.fixturereadings import BLANKS, STANDARDS, FixtureReadings, Standard
from benchapp.gui.session import Message
from benchapp.gui.words import decimal_mark, plural, quantity, sentence, tr
from benchapp.gui.worker import Worker
from benchapp.instruments import Ending, Examined, Plan, Point, Taken, shipped_profiles
from benchapp.jobs import (
    Discover,
    ExamineAddress,
    OpenStandard,
    SaveCaptures,
    SwitchOff,
    TakeSweep,
    facts_of_fixture,
    facts_of_sweep,
)
from benchapp.uncertainty import Accuracy
from benchapp.units import parse_quantity

__all__ = ["KEPT", "Instrument"]

_TICK_MS = 40
_TRIAL_STEP = 1.001  # the second of the two frequencies of a trial reading
_MEASURING = ("sweep", "trial", "reference", *STANDARDS)
_RINGING = ("gain-phase", "ring-down")
_STOPPED = object()
_UNITS = {
    "start": "Hz",
    "stop": "Hz",
    "points": "1",
    "level": "V",
    "bias": "V",
    "averages": "1",
    "series": "ohm",
    "temperature": "degC",
}
KEPT = (
    *("start", "stop", "points", "averages", "level", "series", "find", "fixture", "surroundings"),
    *("load", *BLANKS),
)
"""What was typed that is kept between starts; bias, consent and temperature never are."""
_FIRST = {
    "start": "114 kHz",
    "stop": "154 kHz",
    "points": "201",
    "level": "0.5 V",
    "find": "no",
    "consent": "no",
    "load": "1 kohm",
    "part": "0001",
}


class Instrument(QObject):
    """One instrument: what to ask of it, what it does, and how it was left.

    Signals
    -------
    changed()
        What is known of it, or what it is doing, changed.
    grew()
        More points of the running sweep are there.
    taken(capture)
        A sweep or record is done, or as much of it as there is; corrected where it can be.
    checked(capture)
        The reference coil was measured.
    told(message)
        Something to tell the person.
    """

    changed = Signal()
    grew = Signal()
    taken = Signal(object)
    checked = Signal(object)
    told = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.address, self.profile, self.backend = "", "lcr-points", ""
        self.texts: dict[str, str] = dict(_FIRST)
        self.identity = ""
        self.trial: Point | None = None
        self.steps: list[Examined] = []
        self.output, self.bias = "off", "off"
        self.accuracy: Accuracy | None = None
        self.facts = Facts()
        self.found: tuple[str, ...] | None = None
        self.last: Sweep | None = None
        self.doing = ""
        self.progress: tuple[str, float] = ("", 0.0)
        self.points: list[Point] = []
        self.fixture = FixtureReadings(self.texts)
        self.corrected: dict[str, Corrected] = {}
        self.server: Any = None
        self.clipped, self.seed = "", 1
        self._bias_set: float | None = None
        self._before = ("off", "off")
        self._arrived: deque[Any] = deque()
        self._stop = threading.Event()
        self._worker: Worker | None = None
        self._timer = QTimer(self, interval=_TICK_MS)
        self._timer.timeout.connect(self._hand_over)

    @property
    def is_busy(self) -> bool:
        """Whether it is being talked to."""
        return bool(self.doing)

    @property
    def is_sweeping(self) -> bool:
        """Whether a sweep for the record is being taken."""
        return self.doing == "sweep"

    @property
    def obstacle(self) -> str:
        """Why no part can be measured now; empty where nothing is in the way."""
        if not self.address:
            return tr("No instrument is set up.")
        if self.bias != "off":
            return tr("BIAS ON: do not disconnect the part. Switch the output off first.")
        return tr("The instrument is at work.") if self.is_busy else ""

    def choose(
        self, *, address: str | None = None, profile: str | None = None, backend: str | None = None
    ) -> None:
        """Talk to another address, or in another way; what was known of the old one is gone."""
        address = self.address if address is None else address.strip()
        profile = self.profile if profile is None else profile
        backend = self.backend if backend is None else backend.strip()
        if (address, profile, backend) != (self.address, self.profile, self.backend):
            self.address, self.profile, self.backend = address, profile, backend
            self.identity, self.trial, self.steps = "", None, []
            self.standards.clear()
            self.changed.emit()

    def kept(self) -> dict[str, str]:
        """Give what is kept between starts."""
        typed = {key: self.texts[key] for key in KEPT if self.texts.get(key)}
        address = "" if self.server is not None else self.address
        where = {"address": address, "profile": self.profile, "backend": self.backend}
        return {**typed, **where}

    def recall(self, kept: Mapping[str, str]) -> None:
        """Set up what was kept; a profile whose file is gone is left."""
        self.texts.update({key: kept[key] for key in KEPT if key in kept})
        profile = kept.get("profile", "")
        known = profile in shipped_profiles() or Path(profile).is_file()
        self.choose(
            address=kept.get("address", ""),
            profile=profile if profile and known else None,
            backend=kept.get("backend", ""),
        )

    def set_text(self, key: str, words: str) -> None:
        """Take what was typed about the sweep; another level or bias needs consent anew."""
        if key in ("level", "bias"):
            self.texts["consent"] = "no"
        self.texts[key] = words
        self.changed.emit()

    def plan(self) -> Plan:
        """Make the plan of what was typed.

        Raises
        ------
        QuantityError, UsageError
            When something cannot be understood; ``facts['key']`` names the blank.
        """
        typed: dict[str, float | None] = {}
        for key, unit in _UNITS.items():
            words = self.texts.get(key, "").strip()
            try:
                typed[key] = (
                    parse_quantity(words, unit, mark=decimal_mark()).value if words else None
                )
            except BenchError as error:
                error.facts["key"] = key
                raise
        for key in ("start", "stop", "points"):
            if typed[key] is None:
                raise UsageError(
                    tr("sweep: start, stop and points must be given (got an empty blank)."),
                    hint=tr("Type them on the Set-up page."),
                    key=key,
                )
        return Plan(
            start=typed["start"] or 0.0,
            stop=typed["stop"] or 0.0,
            points=int(typed["points"] or 0),
            spacing="linear",
            zoom=self.texts["find"] == "yes",
            level=typed["level"],
            bias=typed["bias"] or None,
            averages=None if typed["averages"] is None else int(typed["averages"]),
            series_ohm=typed["series"],
            consent=self.texts["consent"] == "yes",
            part=self.texts.get("part", "").strip() or None,
            conditions=Conditions(
                temperature_celsius=typed["temperature"],
                fixture=self.texts.get("fixture", "").strip() or None,
                surroundings=self.texts.get("surroundings", "").strip() or None,
            ),
        )

    @property
    def drives_a_tank(self) -> bool:
        """Whether the way of measuring drives a part at its resonance, or lets it ring."""
        profile = shipped_profiles().get(self.profile)
        return profile is not None and profile.method in _RINGING

    def wants_consent(self) -> bool:
        """Whether the level or the bias that was typed is above the profile's caution."""
        profile = shipped_profiles().get(self.profile)
        try:
            plan = self.plan()
        except BenchError:
            return False
        if profile is None:
            return bool(plan.bias)
        caution = profile.limits.caution_level
        loud = plan.level is not None and caution is not None and plan.level > caution
        return loud or (plan.bias is not None and plan.bias > profile.limits.caution_bias)

    def take(self) -> None:
        """Take a sweep of the part that is connected."""
        plan = self._planned()
        if plan is not None:
            self._measure("sweep", plan, self._finish)

    def try_reading(self) -> None:
        """Take a reading at the lowest frequency, to see what the instrument gives."""
        plan = self._planned()
        if plan is not None:
            trial = replace(plan, stop=plan.start * _TRIAL_STEP, points=2, zoom=False)
            self._measure("trial", trial, self._show_trial)

    def take_standard(self, name: str) -> None:
        """Read the empty fixture, the shorted one or the known load, at the sweep's own points."""
        plan = self._planned()
        if plan is not None:
            plan = replace(plan, zoom=False, part=name)
            self._measure(name, plan, lambda taken: self._keep_standard(name, taken))

    def take_reference(self) -> None:
        """Measure the reference coil, as a part is measured."""
        plan = self._planned()
        if plan is not None:
            self._measure("reference", replace(plan, part="reference"), self._give_reference)

    def open_standard(self, name: str, path: str) -> None:
        """Take a reading of the fixture from a file."""
        if not self.is_busy:
            job = OpenStandard(path=path)
            self._start("file", job, lambda sweep: self._use_standard(name, sweep, path))

    def save_standard(self, name: str, path: str) -> None:
        """Save a reading of the fixture, so that it can be used again after a restart."""
        if not self.is_busy:
            standard = self.standards[name]
            job = SaveCaptures(path=path, captures=(standard.sweep,), overwrite=True)
            self._start("file", job, lambda saved: self._standard_saved(name, standard, saved))

    def forget_standards(self) -> None:
        """Correct no more."""
        self.standards.clear()
        self.changed.emit()

    def stop(self) -> None:
        """Stop what it does; points so far stay, and the output goes off."""
        self._stop.set()

    def switch_off(self) -> None:
        """Switch the output off, now: a running sweep is stopped for it."""
        self.stop()
        if self.doing in _MEASURING or not self.address:
            return  # a stopped measurement switches off by itself
        job = SwitchOff(
            profile=self.profile,
            address=self.address,
            bias=self._bias_set,
            backend=self.backend,
        )
        self._start("off", job, self._left)

    def examine(self) -> None:
        """Test the address step by step."""
        if self.is_busy:
            return
        self.steps = []
        job = ExamineAddress(
            address=self.address,
            profile=self.profile,
            watch=self._arrived.append,
            backend=self.backend,
        )
        self._start("examination", job, self._examined)

    def discover(self) -> None:
        """Ask the networks and ports for instruments: it sends broadcasts."""
        if not self.is_busy:
            self.found = None
            self._start("discovery", Discover(backend=self.backend or "@py"), self._discovered)

    def start_bench(self, part: str) -> None:
        """Start the simulated bench in this program and talk to it."""
        profile = self.profile

        def job(_progress: object, _cancelled: object) -> object:
            from benchapp.bench.offer import Offer, instrument_for  # start-up: only on request

            server = Offer(instrument=instrument_for(profile), part=part, profile=profile).server()
            server.start()
            return server

        if not self.is_busy and self.server is None:
            self.clipped, self.seed = part, 1
            self._start("bench", job, self._bench_runs)

    def clip(self, part: str, seed: int = 1) -> None:
        """Put another part in the clip of the simulated bench; a seed draws one of a spread."""
        if self.server is not None:
            from benchapp.bench.offer import setup_of  # start-up: only on request

            self.server.clip(setup_of(part, seed))
            self.clipped, self.seed = part, seed
            self.changed.emit()

    def stop_bench(self, then: Callable[[], None] = lambda: None) -> None:
        """Stop the simulated bench; what it does is stopped first, ``then`` follows."""
        server, self.server = self.server, None
        if server is not None:
            self.stop()

            def gone(_none: None) -> None:
                self.output = self.bias = "off"
                self.choose(address="")
                then()

            self._start("bench", lambda _progress, _cancelled: server.stop(), gone)

    @property
    def standards(self) -> dict[str, Standard]:
        """The readings of the fixture, by name."""
        return self.fixture.standards

    def close(self) -> None:
        """Stop, leave the instrument off, and end the thread."""
        self.stop()
        self._timer.stop()
        if self._worker is not None:
            self._worker.close()
            self._worker = None
        if self.server is not None:
            self.server.stop()
            self.server = None

    def _planned(self) -> Plan | None:
        """Give the plan; None, after saying why, where nothing can be measured now."""
        if self.obstacle:
            self.told.emit(Message(text=self.obstacle, mark="doubt"))
            return None
        try:
            return self.plan()
        except BenchError as error:
            self._fail(error)
            return None

    def _measure(self, what: str, plan: Plan, done: Callable[[Taken], None]) -> None:
        self.points = []
        self._bias_set, self._before = plan.bias, (self.output, self.bias)
        self.output, self.bias = "on", "on" if plan.bias else "off"
        job = TakeSweep(
            profile=self.profile,
            address=self.address,
            plan=plan,
            watch=self._arrived.append,
            backend=self.backend,
        )
        self._start(what, job, lambda taken: self._ended(taken, done))

    def _start(self, what: str, job: Callable[..., Any], done: Callable[[Any], None]) -> None:
        """Do an act on the thread of the link, after what runs there."""
        if self._worker is None:
            self._worker = Worker(self)
        self._stop = stop = threading.Event()
        self.doing, self.progress = what, ("", 0.0)

        def act(_progress: object, cancelled: Callable[[], bool]) -> Any:
            try:
                return job(self._report, lambda: stop.is_set() or cancelled())
            except CancelledError:
                return _STOPPED

        self._worker.submit(what, act, lambda found: self._rest(done, found), self._broke)
        self._timer.start()
        self.changed.emit()

    def _report(self, words: str, fraction: float) -> None:
        self.progress = (words, fraction)

    def _hand_over(self) -> None:
        while self._arrived:
            found = self._arrived.popleft()
            (self.steps if isinstance(found, Examined) else self.points).append(found)
        self.grew.emit()

    def _rest(self, done: Callable[[Any], None], found: Any) -> None:
        self._hand_over()
        self._timer.stop()
        self.doing = ""
        if found is not _STOPPED:
            done(found)
        self.changed.emit()

    def _broke(self, error: BenchError) -> None:
        """Say why an act failed; what was refused beforehand has switched nothing."""
        refused = isinstance(error, UsageError | ProfileError | FileAccessError)
        if self.doing in _MEASURING:
            self.output, self.bias = self._before if refused else ("unknown", "unknown")
        self._rest(self._fail, error)

    def _fail(self, error: BenchError) -> None:
        self.told.emit(Message(text=error.message, hint=error.hint, mark="doubt"))

    def _left(self, ending: Ending) -> None:
        self.output, self.bias = ending.output, ending.bias
        if ending.warnings:
            self.told.emit(Message(text=" ".join(ending.warnings)))

    def _ended(self, taken: Taken, done: Callable[[Taken], None]) -> None:
        self.told.emit(None)
        self.output, self.bias = taken.ending.output, taken.ending.bias
        self.accuracy, self.facts = taken.accuracy, facts_of_sweep(taken)
        if taken.captures:
            self.identity = taken.captures[0].origin.source
        trouble = taken.trouble
        words = [] if trouble is None else [trouble.message]
        if trouble is not None and self.points:
            kept = plural(len(self.points), tr("1 point is kept."), tr("%n points are kept."))
            words.append(kept)
        words += taken.ending.warnings
        if words:
            grave = bool(taken.ending.warnings) or not taken.captures
            hint = "" if trouble is None else trouble.hint
            self.told.emit(
                Message(text=" ".join(words), hint=hint, mark="stop" if grave else "doubt")
            )
        done(taken)

    def _finish(self, taken: Taken) -> None:
        if not taken.captures:
            return
        corrected = self._put_right(taken.captures[0])
        self.texts["part"] = _next_serial(self.texts.get("part", ""))
        self.taken.emit(corrected)

    def _put_right(self, raw: Capture) -> Capture:
        """Correct a capture as far as that can be done, and keep the raw one."""
        self.last = raw if isinstance(raw, Sweep) else None
        try:
            done = self.fixture.correct(raw)
        except BenchError as error:
            self._fail(error)
            return raw
        if done.capture is not raw:
            self.corrected[done.capture.digest] = done
        if done.rule is not None and not done.rule.valid.all():
            self._fail(_beyond_the_rule(done.rule))
        known = facts_of_fixture(raw, self.fixture.compensation(), done.rule)
        self.facts = self.facts.completed(known)
        return done.capture

    def _give_reference(self, taken: Taken) -> None:
        if taken.captures and not taken.partial:
            self.checked.emit(self._put_right(taken.captures[0]))

    def _show_trial(self, _taken: Taken) -> None:
        self.trial = self.points[0] if self.points else None

    def _keep_standard(self, name: str, taken: Taken) -> None:
        if taken.captures and not taken.partial and isinstance(taken.captures[0], Sweep):
            self._use_standard(name, taken.captures[0], "")

    def _use_standard(self, name: str, sweep: Sweep, path: str) -> None:
        words = self.fixture.use(name, sweep, path, self.last)
        if words:
            self.told.emit(Message(text=f"{sentence(words)}.", mark="note"))

    def _standard_saved(self, name: str, standard: Standard, path: str) -> None:
        self.standards[name] = replace(standard, path=path)
        words = tr("Saved as {name}.").format(name=Path(path).name)
        self.told.emit(Message(text=words, mark="good"))

    def _discovered(self, found: tuple[str, ...]) -> None:
        self.found = found

    def _examined(self, steps: tuple[Examined, ...]) -> None:
        for step in steps:
            if step.step == "identity" and step.well:
                self.identity = step.found

    def _bench_runs(self, server: Any) -> None:
        self.server = server
        self.choose(address=server.address)


def _beyond_the_rule(rule: Validity) -> BenchError:
    bad = rule.frequency[~rule.valid]
    return UsageError(
        tr(
            "Compensation: open and short must be 100 times away from the part (at {n} of {all} "
            "points, first at {first}, they are not)."
        ).format(n=bad.size, all=rule.frequency.size, first=quantity(float(bad[0]), "Hz")),
        hint=tr("There it may add error instead of taking it away: look at the Set-up page."),
    )


def _next_serial(words: str) -> str:
    """Count on: the digits at the end of a serial number go up by one and keep their width."""
    head = words.rstrip("0123456789")
    digits = words[len(head) :]
    return f"{head}{int(digits) + 1:0{len(digits)}d}" if digits else words
