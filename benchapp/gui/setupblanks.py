"""The blanks of the Set-up page: instrument, sweep, conditions, corrections."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP

from benchapp.gui.form import Blank

__all__ = ["CONDITIONS", "CORRECTIONS", "SWEEP", "WHERE"]

_AS_SET, _NONE = QT_TR_NOOP("as set"), QT_TR_NOOP("none")
_UNSTATED = QT_TR_NOOP("not stated")

WHERE = (
    Blank(
        key="address",
        label=QT_TR_NOOP("address"),
        tip=QT_TR_NOOP("VISA address of the instrument"),
        empty="TCPIP::192.0.2.7::5025::SOCKET",
        wide=True,
    ),
    Blank(
        key="backend",
        label=QT_TR_NOOP("VISA library"),
        tip=QT_TR_NOOP("Another VISA library than the built-in one: its path, or @ivi"),
        empty=QT_TR_NOOP("built in"),
        wide=True,
    ),
)
SWEEP = (
    Blank(key="start", label=QT_TR_NOOP("from"), tip=QT_TR_NOOP("Lowest frequency"), unit="Hz"),
    Blank(key="stop", label=QT_TR_NOOP("to"), tip=QT_TR_NOOP("Highest frequency"), unit="Hz"),
    Blank(key="points", label=QT_TR_NOOP("points"), tip=QT_TR_NOOP("Number of points"), unit="1"),
    Blank(
        key="averages",
        label=QT_TR_NOOP("averages"),
        tip=QT_TR_NOOP("Readings averaged at each point"),
        unit="1",
        empty=_AS_SET,
    ),
    Blank(
        key="level",
        label=QT_TR_NOOP("test level"),
        tip=QT_TR_NOOP("Rms level in V; left out: as the instrument has it"),
        unit="V",
        empty=_AS_SET,
    ),
    Blank(
        key="bias",
        label=QT_TR_NOOP("DC bias"),
        tip=QT_TR_NOOP("Bias in V; left out: none"),
        unit="V",
        empty=_NONE,
    ),
    Blank(
        key="series",
        label=QT_TR_NOOP("resistor"),
        tip=QT_TR_NOOP("Measured value of the known resistor, for a scope with a generator"),
        unit="ohm",
        empty=QT_TR_NOOP("not used"),
    ),
    Blank(
        key="temperature",
        label=QT_TR_NOOP("temperature"),
        tip=QT_TR_NOOP("Temperature of the part, kept with each sweep"),
        unit="degC",
        empty=_UNSTATED,
    ),
)
CONDITIONS = (
    Blank(
        key="fixture",
        label=QT_TR_NOOP("fixture"),
        tip=QT_TR_NOOP("How the part is held, kept with each sweep"),
        empty=_UNSTATED,
        wide=True,
    ),
    Blank(
        key="surroundings",
        label=QT_TR_NOOP("surroundings"),
        tip=QT_TR_NOOP("What lies near the part: free air, a ferrite plate, metal"),
        empty=_UNSTATED,
        wide=True,
    ),
)
CORRECTIONS = (
    Blank(
        key="load",
        label=QT_TR_NOOP("known load"),
        tip=QT_TR_NOOP("True value of the resistor that is read as load"),
        unit="ohm",
    ),
    Blank(
        key="delay",
        label=QT_TR_NOOP("cable delay"),
        tip=QT_TR_NOOP("One-way delay of a matched cable in front of the fixture: 4.9 ns"),
        unit="s",
        empty=_NONE,
    ),
    Blank(
        key="source",
        label=QT_TR_NOOP("in line"),
        tip=QT_TR_NOOP("Source or sense resistance in line with the part, to be taken away"),
        unit="ohm",
        empty=_NONE,
    ),
    Blank(
        key="probe_farad",
        label=QT_TR_NOOP("probe C"),
        tip=QT_TR_NOOP("Capacitance of a probe across the part, to be taken away"),
        unit="F",
        empty=_NONE,
    ),
    Blank(
        key="probe_ohm",
        label=QT_TR_NOOP("probe R"),
        tip=QT_TR_NOOP("Resistance of that probe"),
        unit="ohm",
        empty=_NONE,
    ),
)
