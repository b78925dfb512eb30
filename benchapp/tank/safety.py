"""Cautions that stand beside a dangerous voltage or charge."""

from __future__ import annotations

import math

from benchapp.units import format_quantity

__all__ = ["DEFERRING", "safety_lines"]

DEFERRING = (
    "These notes are reminders: follow your workplace's rules and the makers' instructions, and "
    "work on dangerous voltages only if you are qualified and authorised. If unsure, stop and ask "
    "the responsible person."
)
_TOUCH_PEAK = 42.4
_TOUCH_DC = 60.0
_CHARGE = 45e-6
_CHARGE_FROM_PEAK = 42.4
_RADIO = 100e3


def safety_lines(
    voltage: float, *, frequency: float, capacitance: float | None = None, bias: float = 0.0
) -> tuple[str, ...]:
    """Give the cautions for a part that carries ``voltage``.

    Parameters
    ----------
    voltage : float, V
        Rms at ``frequency``.
    frequency : float, Hz
    capacitance : float, F, optional
        Where the part is a capacitor.
    bias : float, V
        DC on top.

    Returns
    -------
    tuple of str
        Empty below the limits; else ends with the sentence that defers to local rules.

    Notes
    -----
    Limits: 42.4 V peak (IEC 60335-1 clause 8.1.4, seen in a quotation; IEC 61010-1 has 30 V rms,
    42.4 V peak and 60 V DC, from memory); stored charge 45 µC (IEC 60335-1 clause 8.1.4 and IEC
    61010-1 clause 6.3.1, seen in quotations). They are for dry skin and low frequency; contact
    current at radio frequency burns at lower voltage.
    """
    peak = math.sqrt(2) * voltage + abs(bias)
    lines = []
    if peak > _TOUCH_PEAK or abs(bias) > _TOUCH_DC:
        lines.append(
            f"Danger: {format_quantity(peak, 'V', digits=3)} peak is above the touch limit of "
            "42.4 V peak or 60 V DC. Switch off before you touch or connect; use only a probe "
            "rated for it."
        )
        if frequency >= _RADIO:
            lines.append("Contact at this frequency burns deep, without warning.")
    if capacitance is not None and capacitance * peak > _CHARGE and peak > _CHARGE_FROM_PEAK:
        lines.append(
            f"The capacitor can hold {1e6 * capacitance * peak:.3g} µC (limit 45 µC) after "
            "switching off: discharge it through a resistor and measure zero."
        )
    return (*lines, DEFERRING) if lines else ()
