"""The blanks of the sheet on a tank and its capacitor, as tables."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP

from benchapp.gui.form import Blank

__all__ = ["DRIVE", "DUTY", "LINK", "LOSSES", "RATINGS", "TANK", "TOLERANCES"]

_NOT_STATED = QT_TR_NOOP("not stated")

TANK = (
    Blank(
        key="L",
        label="L",
        unit="H",
        tip=QT_TR_NOOP(
            "Inductance of the coil, with its tolerance: 1.62 mH ±3 %. Give two of L, C and f0; "
            "the one that was typed longest ago is worked out."
        ),
    ),
    Blank(
        key="C",
        label="C",
        unit="F",
        tip=QT_TR_NOOP("Capacitance of the tank's capacitor, with its tolerance: 868 pF ±2 %"),
    ),
    Blank(
        key="f0",
        label="f0",
        unit="Hz",
        tip=QT_TR_NOOP("Wanted resonance 1 / (2π√(LC)): 134.2 kHz"),
    ),
    Blank(
        key="circuit",
        label=QT_TR_NOOP("circuit"),
        tip=QT_TR_NOOP("How coil and capacitor are connected to what drives them"),
        choices=(("parallel", QT_TR_NOOP("parallel")), ("series", QT_TR_NOOP("series"))),
    ),
)
LOSSES = (
    Blank(
        key="coil_resistance",
        label=QT_TR_NOOP("coil R"),
        unit="ohm",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Series resistance of the coil at the resonance: 16 Ω. Or give its Q."),
    ),
    Blank(
        key="coil_q",
        label=QT_TR_NOOP("coil Q"),
        unit="1",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Q of the coil alone at the resonance: 85. Or give its resistance."),
    ),
    Blank(
        key="capacitor_resistance",
        label="ESR",
        unit="ohm",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Equivalent series resistance of the capacitor at the resonance: 0.4 Ω"),
    ),
    Blank(
        key="loss_tangent",
        label="tan δ",
        unit="1",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Dissipation factor of the capacitor instead of its ESR: 3e-4"),
    ),
    Blank(
        key="joints",
        label=QT_TR_NOOP("joints"),
        unit="ohm",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Resistance of contacts and leads within the tank: 50 mΩ"),
    ),
    Blank(
        key="source",
        label=QT_TR_NOOP("source R"),
        unit="ohm",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Resistance of the generator or of the bridge's switches: 2 Ω"),
    ),
    Blank(
        key="sense",
        label=QT_TR_NOOP("sense R"),
        unit="ohm",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Resistor by which the current is measured, between source and tank: 1 Ω"),
    ),
    Blank(
        key="load",
        label=QT_TR_NOOP("load"),
        unit="ohm",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Across a parallel tank; in series with the coil of a series tank: 30 Ω"),
    ),
)
DRIVE = (
    Blank(
        key="form",
        label=QT_TR_NOOP("driven by"),
        tip=QT_TR_NOOP("What drives the tank; of a bridge only the fundamental is counted"),
        choices=(
            ("", QT_TR_NOOP("not driven")),
            ("sine", QT_TR_NOOP("sine")),
            ("half-bridge", QT_TR_NOOP("half bridge")),
            ("full-bridge", QT_TR_NOOP("full bridge")),
            ("current", QT_TR_NOOP("current")),
        ),
    ),
    Blank(
        key="size",
        label=QT_TR_NOOP("size"),
        tip=QT_TR_NOOP(
            "Sine: rms voltage without load, 10 V. Bridge: its DC supply, 24 V. Current: rms, 2 A."
        ),
    ),
    Blank(
        key="frequency",
        label=QT_TR_NOOP("frequency"),
        unit="Hz",
        empty=QT_TR_NOOP("at f0"),
        tip=QT_TR_NOOP("Drive frequency: 135 kHz; empty for the resonance"),
    ),
    Blank(
        key="bias",
        label=QT_TR_NOOP("DC on C"),
        unit="V",
        empty=QT_TR_NOOP("none"),
        tip=QT_TR_NOOP("DC voltage on the capacitor besides: 12 V"),
    ),
    Blank(
        key="band_low",
        label=QT_TR_NOOP("band from"),
        unit="Hz",
        empty=QT_TR_NOOP("open"),
        tip=QT_TR_NOOP("Lowest frequency of the drive band, in which f0 must lie: 132 kHz"),
    ),
    Blank(
        key="band_high",
        label=QT_TR_NOOP("to"),
        unit="Hz",
        empty=QT_TR_NOOP("open"),
        tip=QT_TR_NOOP("Highest frequency of the drive band: 136 kHz"),
    ),
)
LINK = (
    Blank(
        key="coupling",
        label=QT_TR_NOOP("coupling k"),
        unit="1",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Coupling of this coil with the receiving one, 0 to 1: 0.05"),
    ),
    Blank(
        key="receiving_q",
        label=QT_TR_NOOP("its Q"),
        unit="1",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Unloaded Q of the receiving coil with its capacitor: 60"),
    ),
    Blank(
        key="receiving_L",
        label=QT_TR_NOOP("its L"),
        unit="H",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Inductance of the receiving coil, for the load in ohm: 2.4 mH"),
    ),
)
TOLERANCES = (
    Blank(
        key="distribution",
        label=QT_TR_NOOP("parts lie"),
        tip=QT_TR_NOOP(
            "How parts fill their tolerance: bell-shaped (the tolerance is ±3 standard "
            "deviations), evenly, or mostly in the middle. Sorted parts are nearer to evenly."
        ),
        choices=(
            ("normal", QT_TR_NOOP("bell-shaped")),
            ("uniform", QT_TR_NOOP("evenly")),
            ("triangular", QT_TR_NOOP("triangular")),
        ),
    ),
    Blank(
        key="correlation",
        label=QT_TR_NOOP("L with C"),
        unit="1",
        empty="0",
        tip=QT_TR_NOOP("Correlation of L and C, −1 to 1; 0 where they are made apart"),
    ),
    Blank(
        key="coldest",
        label=QT_TR_NOOP("coldest"),
        unit="degC",
        empty="23 °C",
        tip=QT_TR_NOOP("Lowest temperature at which the tank must work; 23 °C is the reference"),
    ),
    Blank(
        key="warmest",
        label=QT_TR_NOOP("warmest"),
        unit="degC",
        empty="23 °C",
        tip=QT_TR_NOOP("Highest temperature at which the tank must work: 60 °C"),
    ),
    Blank(
        key="drift_L",
        label=QT_TR_NOOP("L drifts"),
        empty="0 ppm/K",
        tip=QT_TR_NOOP("Temperature coefficient of L in ppm/K: 50, or from 20 to 80 as 20..80"),
    ),
    Blank(
        key="drift_C",
        label=QT_TR_NOOP("C drifts"),
        empty="0 ppm/K",
        tip=QT_TR_NOOP("Temperature coefficient of C in ppm/K: polypropylene has about -250"),
    ),
)
DUTY = (
    Blank(
        key="duty",
        label=QT_TR_NOOP("what it bears"),
        tip=QT_TR_NOOP("From the driven tank of the view Tank, or typed here"),
        choices=(
            ("tank", QT_TR_NOOP("as driven in Tank")),
            ("typed", QT_TR_NOOP("as typed here")),
        ),
        wide=True,
    ),
    Blank(key="duty_C", label="C", unit="F", tip=QT_TR_NOOP("Capacitance: 220 nF")),
    Blank(
        key="duty_frequency",
        label=QT_TR_NOOP("frequency"),
        unit="Hz",
        tip=QT_TR_NOOP("Frequency of the voltage: 100 kHz"),
    ),
    Blank(
        key="duty_size",
        label=QT_TR_NOOP("rms V or A"),
        tip=QT_TR_NOOP("Rms voltage across it, or rms current through it: 145 V or 20 A"),
    ),
    Blank(
        key="duty_bias",
        label=QT_TR_NOOP("DC on C"),
        unit="V",
        empty=QT_TR_NOOP("none"),
        tip=QT_TR_NOOP("DC voltage on the capacitor besides: 12 V"),
    ),
    Blank(
        key="duty_tangent",
        label="tan δ",
        unit="1",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Dissipation factor at that frequency: 3e-4"),
    ),
)
RATINGS = (
    Blank(
        key="rated_dc",
        label=QT_TR_NOOP("rated DC"),
        unit="V",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Rated DC voltage. It says nothing about AC."),
    ),
    Blank(
        key="rated_ac",
        label=QT_TR_NOOP("rated AC"),
        unit="V",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Rated AC voltage at mains frequency. It says nothing above 1 kHz."),
    ),
    Blank(
        key="curve",
        label=QT_TR_NOOP("derating curve"),
        empty=QT_TR_NOOP("such as 10kHz:250V 100kHz:90V"),
        tip=QT_TR_NOOP(
            "Points of the maker's curve of rms voltage over frequency, as 10kHz:250V 100kHz:90V"
        ),
        wide=True,
    ),
    Blank(
        key="rated_current",
        label=QT_TR_NOOP("rated current"),
        unit="A",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Rated rms current"),
    ),
    Blank(
        key="rated_slew",
        label="dV/dt, V/µs",
        unit="1",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Rated rate of change of the voltage, in V/µs: 50"),
    ),
    Blank(
        key="rated_heat",
        label=QT_TR_NOOP("rated heat"),
        unit="W",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Rated dissipation; or give the allowed rise and the thermal resistance"),
    ),
    Blank(
        key="rise",
        label=QT_TR_NOOP("allowed rise"),
        unit="K",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Allowed self-heating: 20 K"),
    ),
    Blank(
        key="thermal",
        label=QT_TR_NOOP("thermal R, K/W"),
        unit="1",
        empty=_NOT_STATED,
        tip=QT_TR_NOOP("Thermal resistance from the hot spot to the air, in K/W: 15"),
    ),
)
