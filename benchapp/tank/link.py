"""A coupled pair as a power link: the best efficiency, and the load that reaches it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from benchapp.errors import QuantityError

__all__ = ["Link", "link"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """What a coupled pair can do at best.

    ``figure`` is k sqrt(Q1 Q2). ``load_ratio`` is the best load in series with the receiving coil,
    as a multiple of that coil's resistance; ``series_load`` the same in ohm and
    ``series_capacitance`` the capacitor for it in F; ``parallel_load`` and
    ``parallel_capacitance`` the load and capacitor across the coil that do the same: None where
    the receiving coil was not stated. ``critical_coupling`` is 1/sqrt(Q1 Q2): coupled more than
    that, two equally tuned unloaded tanks show two peaks.
    """

    coupling: float
    q_sending: float
    q_receiving: float
    figure: float
    efficiency: float
    load_ratio: float
    critical_coupling: float
    series_load: float | None = None
    series_capacitance: float | None = None
    parallel_load: float | None = None
    parallel_capacitance: float | None = None


def link(
    coupling: float,
    q_sending: float,
    q_receiving: float,
    *,
    receiving_inductance: float | None = None,
    frequency: float | None = None,
) -> Link:
    """Give the best efficiency of a link of two coils.

    efficiency = U^2/(1 + sqrt(1 + U^2))^2 with U^2 = k^2 Q1 Q2, reached with the receiving coil
    tuned and a load of R2 sqrt(1 + U^2) in series with it. It counts the losses of the two coils
    (with their capacitors, if those are in the Q), not the source's.

    Parameters
    ----------
    coupling : float
        k, between 0 and 1.
    q_sending, q_receiving : float
        Unloaded Q of each side.
    receiving_inductance : float, H, optional
    frequency : float, Hz, optional
        With both, the load is given in ohm as well.

    Returns
    -------
    Link

    Raises
    ------
    QuantityError
        When k or a Q is impossible.

    Notes
    -----
    Source: circuit theory of two coupled loops; the maximum follows by differentiation with
    respect to the load. Checked against a numerical maximum of the loop equations.
    """
    if not 0 < coupling < 1:
        raise QuantityError(
            f"coupling k: must be above 0 and below 1 (got {coupling!r}).",
            hint="Loosely coupled coils have k of 0.01 to 0.3.",
        )
    for name, q in (("sending", q_sending), ("receiving", q_receiving)):
        if not 0 < q < math.inf:
            raise QuantityError(
                f"Q of the {name} side: must be above zero and finite (got {q!r}).",
                hint="Give the unloaded Q at the working frequency.",
            )
    square = coupling**2 * q_sending * q_receiving
    root = math.sqrt(1 + square)
    found = Link(
        coupling=coupling,
        q_sending=q_sending,
        q_receiving=q_receiving,
        figure=math.sqrt(square),
        efficiency=square / (1 + root) ** 2,
        load_ratio=root,
        critical_coupling=1 / math.sqrt(q_sending * q_receiving),
    )
    if receiving_inductance is None or frequency is None:
        return found
    return _with_loads(found, 2 * math.pi * frequency, receiving_inductance)


def _with_loads(found: Link, omega: float, inductance: float) -> Link:
    reactance = omega * inductance
    series = reactance / found.q_receiving * found.load_ratio
    square = series**2 + reactance**2
    return replace(
        found,
        series_load=series,
        series_capacitance=1 / (omega * reactance),
        parallel_load=square / series,
        parallel_capacitance=reactance / (omega * square),
    )
