"""The steps of the guided first run: what to do, how it is seen to be done, who can do it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QT_TR_NOOP
from PySide6.QtWidgets import QPushButton, QWidget

from benchapp.capture import Sweep
from benchapp.errors import BenchError
from benchapp.gui.startpage import sample_paths
from benchapp.gui.views import VIEWS
from benchapp.gui.words import tr
from benchapp.units import parse_quantity

if TYPE_CHECKING:
    from benchapp.gui.lotform import LotStart
    from benchapp.gui.window import MainWindow

__all__ = ["MARKING", "PARTS", "STATED", "STEPS", "Step", "hand", "state_delivery"]

MARKING = "868pG 2J"
"""What stands on the capacitor of the GA-12."""

PARTS = (("drawn", 1), ("drawn", 2), ("shorted-turn", 1), ("drawn", 3), ("drawn", 4))
"""The lot of the guided run: what the simulated bench puts into its clip, one after the other."""

_NEAR = 0.05
_VERDICT = 3  # place of the station on the job line
_SWEEP = {
    "start": "114 kHz",
    "stop": "154 kHz",
    "points": "201",
    "level": "1 V",
    "temperature": "23 degC",
    "fixture": "four-terminal clip",
}
_DELIVERY = {"quantity": str(len(PARTS)), "order": "guided run"}


STATED = (*_DELIVERY, "operator")
"""What of a delivery the guided run states."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: where it is done, what to do there, and when it is done.

    ``control`` is where it begins; ``act`` does it for the person. ``needs`` names earlier steps
    whose outcome must still hold.
    """

    key: str
    page: str
    title: str
    words: str
    act: Callable[[MainWindow], None]
    done: Callable[[MainWindow], bool]
    control: Callable[[MainWindow], QWidget]
    needs: tuple[str, ...] = ()


def _typed_near(window: MainWindow, key: str, unit: str, wanted: float) -> bool:
    words = window.sheet.texts.get(key, "").strip()
    try:
        found = parse_quantity(words, unit).value if words else 0.0
    except BenchError:
        return False
    return abs(found / wanted - 1) < _NEAR


def _use_marking(window: MainWindow) -> None:
    page = window.page("marking")
    page.code.setText(MARKING)
    page.code.textEdited.emit(MARKING)
    page.uses[0].click()


def _type_inductance(window: MainWindow) -> None:
    window.sheet.type("L", "1.620 mH ±3 %")


def _has_tank(window: MainWindow) -> bool:
    return window.sheet.worked is not None and _typed_near(window, "L", "H", 1.62e-3)


def _open_design(window: MainWindow) -> None:
    window.session.open(sample_paths()[1:])


def _design_control(window: MainWindow) -> QWidget:
    """Give what opens a design: the button of the empty page, or the page that has one."""
    page = window.stack.currentWidget()
    return page.findChild(QPushButton) or page


def _has_design(window: MainWindow) -> bool:
    nominal = window.session.nominal
    return nominal is not None and "GA-12" in nominal.title


def _start_bench(window: MainWindow) -> None:
    window.instrument.choose(profile="lcr-points")
    window.instrument.start_bench("tank")


def _has_bench(window: MainWindow) -> bool:
    return window.instrument.server is not None


def _type_sweep(window: MainWindow) -> None:
    for key, words in _SWEEP.items():
        window.instrument.set_text(key, words)


def _has_sweep(window: MainWindow) -> bool:
    try:
        plan = window.instrument.plan()
    except BenchError:
        return False
    stated = plan.conditions
    return (
        plan.level is not None
        and abs(plan.level - 1) < _NEAR
        and stated.temperature_celsius is not None
        and plan.start < 130e3
        and plan.stop > 138e3
    )


def _read_standard(part: str, name: str) -> Callable[[MainWindow], None]:
    def act(window: MainWindow) -> None:
        window.instrument.clip(part)
        window.instrument.take_standard(name)

    return act


def _has_standard(name: str) -> Callable[[MainWindow], bool]:
    return lambda window: name in window.instrument.standards


def _sweep_tank(window: MainWindow) -> None:
    window.instrument.clip("tank")
    window.take_sweep()


def _has_part(window: MainWindow) -> bool:
    part = window.session.part
    return (
        part is not None
        and not part.path
        and isinstance(part.capture, Sweep)
        and part.result is not None
        and part.settled
    )


def _show_plane(window: MainWindow) -> None:
    bar = window.page("capture").bar
    bar.choose("impedance-plane")


def _sees_plane(window: MainWindow) -> bool:
    bar = window.page("capture").bar
    return window.key == "capture" and bar.view is VIEWS["impedance-plane"]


def _sees_verdict(window: MainWindow) -> bool:
    result = window.session.result
    return window.key == "verdict" and result is not None and result.verdict is not None


def state_delivery(start: LotStart, texts: Mapping[str, str]) -> None:
    """Type what is stated about a delivery into the form of a lot."""
    for key, words in texts.items():
        field = start.delivery.fields[key]
        field.setText(words)
        field.textEdited.emit(words)


def _begin_lot(window: MainWindow) -> None:
    start = window.page("lot").start
    operator = start.texts.get("operator", "").strip() or tr("guided run")
    state_delivery(start, {**_DELIVERY, "operator": operator})
    window.instrument.set_text("part", "0001")
    start.begin.click()


def hand(window: MainWindow) -> None:
    """Put the next part of the lot into the clip, as a person would whose hand is free."""
    desk, instrument = window.desk, window.instrument
    if desk.state is None or desk.is_busy or instrument.is_busy or instrument.server is None:
        return
    part, seed = PARTS[len(desk.state.latest) % len(PARTS)]
    if (instrument.clipped, instrument.seed) != (part, seed):
        instrument.clip(part, seed)


def _measure_next(window: MainWindow) -> None:
    hand(window)
    window.take_sweep()


def _is_decided(window: MainWindow) -> bool:
    return window.desk.is_decided and not window.desk.is_busy


def _sign(window: MainWindow) -> None:
    page = window.page("lot")
    page.name.setText(page.name.text().strip() or tr("guided run"))
    page.sign.click()


def _is_signed(window: MainWindow) -> bool:
    return window.desk.state is not None and window.desk.state.conclusion is not None


def _write_report(window: MainWindow) -> None:
    wish = window.page("lot").report.wish()
    path = Path(window.lots.recorder.address).with_name("GA-12 guided run.pdf")
    window.reporter.write(wish, str(path))


def _has_report(window: MainWindow) -> bool:
    return bool(window.reporter.written_last)


STEPS = (
    Step(
        key="marking",
        page="marking",
        title=QT_TR_NOOP("Read the marking"),
        words=QT_TR_NOOP(
            "The capacitor of the gate antenna coil GA-12 bears the marking 868pG 2J. Type it, "
            "look at what it means, and press 'Use this as C'."
        ),
        act=_use_marking,
        done=lambda window: _typed_near(window, "C", "F", 868e-12),
        control=lambda window: window.page("marking").code,
    ),
    Step(
        key="tank",
        page="tank",
        title=QT_TR_NOOP("Work out the tank"),
        words=QT_TR_NOOP(
            "C stands in its blank. Type L of the coil, 1.620 mH ±3 %: the resonance f0 follows, "
            "with the range that both tolerances give it."
        ),
        act=_type_inductance,
        done=_has_tank,
        control=lambda window: window.page("tank").forms["tank"].fields["L"],
    ),
    Step(
        key="design",
        page="nominal",
        title=QT_TR_NOOP("Open the design"),
        words=QT_TR_NOOP(
            "Open the nominal design ga12.toml from the samples: its limits say what a good "
            "part is, and under which conditions that holds."
        ),
        act=_open_design,
        done=_has_design,
        control=_design_control,
    ),
    Step(
        key="bench",
        page="setup",
        title=QT_TR_NOOP("Start the simulated bench"),
        words=QT_TR_NOOP(
            "It answers as an LCR meter would, with noise and a fixture. Press 'Start the "
            "simulated bench'; the strip below then shows that its output is off."
        ),
        act=_start_bench,
        done=_has_bench,
        control=lambda window: window.page("setup").bench,
    ),
    Step(
        key="conditions",
        page="setup",
        title=QT_TR_NOOP("State the sweep"),
        words=QT_TR_NOOP(
            "The design holds at 1 V and 23 °C: set level and temperature to that, and let the "
            "sweep go from 114 to 154 kHz. A value without its conditions is no result."
        ),
        act=_type_sweep,
        done=_has_sweep,
        control=lambda window: window.page("setup").form.fields["level"],
        needs=("bench",),
    ),
    Step(
        key="open",
        page="setup",
        title=QT_TR_NOOP("Read the open fixture"),
        words=QT_TR_NOOP(
            "Choose the empty clip beside the button of the bench, then press 'Read open': the "
            "capacitance of the fixture is taken away from then on."
        ),
        act=_read_standard("open", "opened"),
        done=_has_standard("opened"),
        control=lambda window: window.page("setup").parts,
        needs=("bench", "conditions"),
    ),
    Step(
        key="short",
        page="setup",
        title=QT_TR_NOOP("Read the shorted fixture"),
        words=QT_TR_NOOP(
            "Choose 'a short' there, then press 'Read short': resistance and inductance of the "
            "leads are taken away too."
        ),
        act=_read_standard("short", "shorted"),
        done=_has_standard("shorted"),
        control=lambda window: window.page("setup").parts,
        needs=("bench", "conditions"),
    ),
    Step(
        key="sweep",
        page="setup",
        title=QT_TR_NOOP("Measure a part"),
        words=QT_TR_NOOP(
            "Choose 'coil with its capacitor' again and press F8, or 'Take sweep' below. Its "
            "points appear as they come; Esc would stop it."
        ),
        act=_sweep_tank,
        done=_has_part,
        control=lambda window: window.page("setup").parts,
        needs=("design", "bench", "conditions", "open", "short"),
    ),
    Step(
        key="fit",
        page="capture",
        title=QT_TR_NOOP("See whether the fit can be believed"),
        words=QT_TR_NOOP(
            "The residuals should scatter within their band without a shape. Choose 'plane of Z' "
            "above the plots: a tank is a circle there, as wide as its resistance at resonance."
        ),
        act=_show_plane,
        done=_sees_plane,
        control=lambda window: window.page("capture").bar.views,
        needs=("design", "sweep"),
    ),
    Step(
        key="verdict",
        page="capture",
        title=QT_TR_NOOP("Read the verdict"),
        words=QT_TR_NOOP(
            "Go to Verdict (Ctrl+4): the outcome, the limit that decides it, and how far away "
            "that is. F11 makes it fill the screen."
        ),
        act=lambda window: window.go("verdict"),
        done=_sees_verdict,
        control=lambda window: window.line.buttons[_VERDICT],
        needs=("design", "sweep"),
    ),
    Step(
        key="lot",
        page="lot",
        title=QT_TR_NOOP("Begin a lot"),
        words=QT_TR_NOOP(
            "Five parts were delivered. Type 5 as 'parts in the lot', read the plan that follows "
            "from it, and press 'Begin the lot'."
        ),
        act=_begin_lot,
        done=lambda window: window.desk.state is not None,
        control=lambda window: window.page("lot").start.delivery.fields["quantity"],
        needs=("design", "bench"),
    ),
    Step(
        key="parts",
        page="lot",
        title=QT_TR_NOOP("Measure the lot"),
        words=QT_TR_NOOP(
            "The bench puts one part after the other into the clip: press Space for each, until "
            "the plan is decided. One of them has a fault."
        ),
        act=_measure_next,
        done=_is_decided,
        control=lambda window: window.page("lot").work,
        needs=("design", "bench", "conditions", "open", "short", "lot"),
    ),
    Step(
        key="sign",
        page="lot",
        title=QT_TR_NOOP("Sign how it ends"),
        words=QT_TR_NOOP(
            "The plan proposes an outcome, a person decides: look at it, type a name, and press "
            "'Sign and conclude'."
        ),
        act=_sign,
        done=_is_signed,
        control=lambda window: window.page("lot").sign,
        needs=("lot",),
    ),
    Step(
        key="report",
        page="lot",
        title=QT_TR_NOOP("Write the report"),
        words=QT_TR_NOOP(
            "Press 'Report…' and choose where it goes: plan, parts, values with their "
            "uncertainty, and who signed."
        ),
        act=_write_report,
        done=_has_report,
        control=lambda window: window.page("lot").report,
        needs=("lot",),
    ),
)
"""The guided first run, in the order of the job."""
