"""The results of the tank sheet in words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from PySide6.QtCore import QT_TR_NOOP

from benchapp.gui.answerrows import Answer
from benchapp.gui.tanksheet import Worked
from benchapp.gui.words import definition, number, percent, quantity, symbol, tr
from benchapp.tank import Simulation, Spread, StackResult, safety_lines

__all__ = [
    "POWERS",
    "driven_answers",
    "link_answers",
    "safety_of",
    "sums_answers",
    "tolerance_answers",
    "watts",
    "why_not_driven",
    "why_not_stacked",
]

POWERS = {
    "coil": QT_TR_NOOP("coil"),
    "capacitor": QT_TR_NOOP("capacitor"),
    "joints": QT_TR_NOOP("joints"),
    "sense resistor": QT_TR_NOOP("sense resistor"),
    "source": QT_TR_NOOP("source"),
    "load": QT_TR_NOOP("load"),
}
_SIDES = {
    "inductive": QT_TR_NOOP("inductive side"),
    "capacitive": QT_TR_NOOP("capacitive side"),
    "resistive": QT_TR_NOOP("at resonance"),
}
_PLACES = {
    "outside, beyond the lower end": QT_TR_NOOP("outside, beyond the lower end"),
    "outside, beyond the upper end": QT_TR_NOOP("outside, beyond the upper end"),
    "inside (no tolerance given)": QT_TR_NOOP("inside (no tolerance given)"),
    "inside, also at worst": QT_TR_NOOP("inside, also at worst"),
    "inside, but outside when all tolerances add up": QT_TR_NOOP(
        "inside, but outside when all tolerances add up"
    ),
    "inside, but tolerances lead outside": QT_TR_NOOP("inside, but tolerances lead outside"),
}
_ALIKE = 2e-3  # voltages with and without load that read the same
_NAMES = {"L": "L", "C": "C", "temperature": QT_TR_NOOP("temperature")}


def _span(low: float, high: float, unit: str) -> str:
    """Write a range; the unit stands once where both ends have the same."""
    first, last = quantity(low, unit), quantity(high, unit)
    head, _, tail = first.partition(" ")
    if tail and tail == last.partition(" ")[2]:
        first = head
    return tr("{low} to {high}").format(low=first, high=last)


def _away(value: float, nominal: float) -> str:
    return percent(100 * (value / nominal - 1))


def _from_f0(value: float, nominal: float) -> str:
    if math.isclose(value, nominal, rel_tol=5e-6):
        return tr("at f0")
    return tr("{away} from f0").format(away=_away(value, nominal))


def _element(name: str, spread: Spread, derived: str) -> Answer:
    parts = [tr("worked out")] if name == derived else []
    if spread.low is not None and spread.high is not None:
        parts.append(_span(spread.low, spread.high, spread.unit))
    return Answer(
        name=name,
        value=quantity(spread.nominal, spread.unit),
        remark=" · ".join(parts),
        tip=definition(name),
    )


def _optional(value: float | None, unit: str, digits: int = 4) -> str:
    return "" if value is None else quantity(value, unit, digits=digits)


def sums_answers(worked: Worked) -> tuple[Answer, ...]:
    """Give what follows from L, C and the losses."""
    sums = worked.sums
    spreads = {"L": sums.inductance, "C": sums.capacitance, "f0": sums.frequency}
    found = [_element(name, spread, sums.derived) for name, spread in spreads.items()]
    found.append(
        Answer(name=symbol("Z_tank"), value=quantity(sums.z_tank, "ohm"), tip=definition("Z_tank"))
    )
    qs = ((tr("coil"), sums.q_coil), (tr("capacitor"), sums.q_capacitor))
    split = " · ".join(f"{name} {quantity(q, '1', digits=3)}" for name, q in qs if q is not None)
    unknown = tr("state the coil's R or Q")
    remark = split if sums.q is not None else unknown
    found.append(
        Answer(name="Q", value=_optional(sums.q, "1"), remark=remark, tip=definition("Q"))
    )
    if sums.q is None:
        return tuple(found)
    if sums.q_loaded is not None and not math.isclose(sums.q_loaded, sums.q, rel_tol=1e-9):
        found.append(
            Answer(
                name=symbol("QL"),
                value=quantity(sums.q_loaded, "1"),
                remark=tr("with source and load"),
                tip=definition("QL"),
            )
        )
    return (*found, *_over_frequency(worked), *_ringing(worked))


def _over_frequency(worked: Worked) -> Iterator[Answer]:
    sums = worked.sums
    loaded = sums.bandwidth_loaded
    remark = "" if sums.edges is None else _span(*sums.edges, "Hz")
    if loaded is not None and not math.isclose(loaded, sums.bandwidth or 0.0, rel_tol=1e-9):
        remark = tr("loaded {bandwidth}").format(bandwidth=quantity(loaded, "Hz"))
    yield Answer(
        name="BW", value=_optional(sums.bandwidth, "Hz"), remark=remark, tip=definition("BW")
    )
    if sums.zero_phase is not None:
        yield Answer(
            name=tr("zero phase"),
            value=quantity(sums.zero_phase, "Hz", digits=5),
            remark=_from_f0(sums.zero_phase, sums.frequency.nominal),
            tip=tr("Where the tank looks like a resistor; the remark tells how far from f0."),
        )
    if sums.circuit == "parallel" and sums.peak_frequency is not None:
        yield Answer(
            name=tr("|Z| greatest"),
            value=quantity(sums.peak_frequency, "Hz", digits=5),
            remark=_optional(sums.terminal_impedance, "ohm"),
            tip=tr("Where |Z| at the tank's terminals is greatest, and how great it is there."),
        )


def _ringing(worked: Worked) -> Iterator[Answer]:
    sums = worked.sums
    if sums.decay_time is None:
        return
    cycles = ""
    if sums.decay_cycles is not None:
        cycles = tr("{cycles} cycles to 37 %").format(
            cycles=quantity(sums.decay_cycles, "1", digits=3)
        )
    yield Answer(
        name=tr("decay time τ"),
        value=quantity(sums.decay_time, "s"),
        remark=cycles,
        tip=definition("tau"),
    )


def why_not_stacked(worked: Worked) -> str:
    """Say what is missing for a stack-up, or what it leaves out; empty where nothing is."""
    sums = worked.sums
    missing = [
        name
        for name, spread in (("L", sums.inductance), ("C", sums.capacitance))
        if name == sums.derived or spread.low is None
    ]
    if worked.stacked is None:
        return tr("Give L or C with its tolerance, such as 1.62 mH ±3 %, to see where f0 falls.")
    if not missing:
        return ""
    return tr("{name} counts without tolerance: type it as the part has it.").format(
        name=tr(" and ").join(missing)
    )


def tolerance_answers(worked: Worked, simulation: Simulation | None) -> tuple[Answer, ...]:
    """Give where the resonance falls, and what to tighten."""
    stacked = worked.stacked
    if stacked is None:
        return ()
    nominal = stacked.frequency

    def row(name: str, low: float, high: float, tip: str) -> Answer:
        away = f"{_away(low, nominal)} {_away(high, nominal)}"
        return Answer(name=name, value=_span(low, high, "Hz"), remark=away, tip=tip)

    found = [
        row(
            tr("worst case"),
            stacked.worst_low,
            stacked.worst_high,
            tr("When everything adds up: no tank lies beyond."),
        ),
        row(
            tr("root sum of squares"),
            stacked.rss_low,
            stacked.rss_high,
            tr("When tolerances are independent: few tanks lie beyond."),
        ),
    ]
    if simulation is not None:
        found += _simulated(row, simulation)
    if worked.place is not None:
        margin = quantity(abs(worked.place.margin), "Hz", digits=3)
        found.append(
            Answer(
                name=tr("drive band"),
                value=tr("{margin} margin").format(margin=margin)
                if worked.place.inside
                else tr("{margin} outside").format(margin=margin),
                remark=tr(_PLACES[worked.place.words]),
                tip=tr("Where the nominal f0 lies, and its distance to the nearer end."),
            )
        )
    return (*found, _tighten(worked, stacked))


def _simulated(row, simulation: Simulation) -> list[Answer]:  # noqa: ANN001 - local function
    quantiles = simulation.quantiles
    found = [
        row(
            tr("95 of 100 tanks"),
            quantiles[1],
            quantiles[3],
            tr("Between these lie 95 of 100 of {units} tanks drawn at random.").format(
                units=f"{simulation.units:,}".replace(",", " ")
            ),
        )
    ]
    if simulation.outside is not None and simulation.outside_interval is not None:
        low, high = (_share(end) for end in simulation.outside_interval)
        found.append(
            Answer(
                name=tr("outside the band"),
                value=_share(simulation.outside),
                remark=tr("of tanks, {low} to {high}").format(low=low, high=high),
                tip=tr(
                    "Fraction of the drawn tanks whose f0 leaves the drive band (95 % interval)."
                ),
            )
        )
    return found


def _share(fraction: float) -> str:
    shown = 100 * fraction
    digits = 1 if shown >= 10 else 2 if shown >= 0.1 or shown == 0 else 4
    return number(f"{shown:.{digits}f} %")


def _tighten(worked: Worked, stacked: StackResult) -> Answer:
    name = stacked.tighten
    tip = tr("The part whose tolerance moves f0 most, and how tight it must be to fit the band.")
    label = tr("tighten first")
    if name is None:
        return Answer(name=label, value=tr("nothing"), remark=tr("only temperature"), tip=tip)
    share = next(one.variance_share for one in stacked.shares if one.name == name)
    remark = tr("{share} of the spread").format(share=number(f"{100 * share:.0f} %"))
    value = tr(_NAMES.get(name, name))
    band = worked.stack_up.band
    if stacked.tighten_to is not None:
        part = next(one for one in worked.stack_up.contributors if one.name == name)
        low, high = (100 * stacked.tighten_to * end for end in (part.low, part.high))
        span = f"±{high:.3g} %" if math.isclose(-low, high) else f"{low:+.3g} % {high:+.3g} %"
        value = tr("{name} to {tolerance}").format(
            name=value, tolerance=number(span).replace("-", "−")
        )
    elif band is not None:
        fits = (band.low is None or stacked.rss_low >= band.low) and (
            band.high is None or stacked.rss_high <= band.high
        )
        remark += " · " + (tr("fits the band") if fits else tr("alone it is not enough"))
    return Answer(name=label, value=value, remark=remark, tip=tip)


def why_not_driven(worked: Worked) -> str:
    """Say what is missing to know currents and voltages; empty where nothing is."""
    if worked.driven is not None:
        return ""
    if worked.design.drive is None:
        return tr("Say what drives the tank to see currents, voltages and watts.")
    return tr("State the coil's R or Q: without it currents and voltages have no bound.")


def safety_of(worked: Worked) -> tuple[str, ...]:
    """Give the cautions for the highest voltage of the driven tank, with and without load."""
    driven = worked.driven
    if driven is None:
        return ()
    bias = worked.design.drive.bias
    points = (driven.point, driven.unloaded, driven.highest_voltage, driven.highest_current)
    worst = max(points, key=lambda point: max(point.coil_voltage, point.capacitor_voltage))
    return safety_lines(
        max(worst.coil_voltage, worst.capacitor_voltage),
        frequency=worst.frequency,
        capacitance=worked.sums.capacitance.nominal,
        bias=bias,
    )


def driven_answers(worked: Worked) -> tuple[Answer, ...]:
    """Give currents and voltages at the drive frequency."""
    driven = worked.driven
    if driven is None:
        return ()
    point, bare = driven.point, driven.unloaded
    bias = worked.design.drive.bias

    def volts(name: str, at: str, direct: float, tip: str) -> Answer:
        volt, alone = getattr(point, at), getattr(bare, at)
        greatest = max(volt, alone)
        if math.isclose(volt, alone, rel_tol=_ALIKE):
            peak = quantity(math.sqrt(2) * volt + abs(direct), "V", digits=4)
            remark = tr("{peak} peak").format(peak=peak)
        else:
            remark = tr("{volt} unloaded").format(volt=quantity(alone, "V"))
        lines = safety_lines(greatest, frequency=point.frequency, bias=direct)
        return Answer(
            name=name, value=quantity(volt, "V"), remark=remark, tip=tip, danger=bool(lines)
        )

    return (
        Answer(
            name=tr("driven at"),
            value=quantity(point.frequency, "Hz", digits=5),
            remark=tr(_SIDES[point.side]),
            tip=tr("What the source sees there: above a series resonance it is inductive."),
        ),
        volts(tr("capacitor"), "capacitor_voltage", bias, tr("Rms voltage across the capacitor")),
        volts(tr("coil"), "coil_voltage", 0.0, tr("Rms voltage across the coil")),
        volts(tr("tank terminals"), "tank_voltage", 0.0, tr("Rms voltage at the terminals")),
        Answer(
            name=tr("coil current"),
            value=quantity(point.coil_current, "A"),
            tip=tr("Rms current in the coil"),
        ),
        Answer(
            name=tr("source current"),
            value=quantity(point.source_current, "A"),
            tip=tr("Rms current that the source gives"),
        ),
        Answer(
            name=tr("power"),
            value=quantity(point.power, "W"),
            tip=tr("All that the source gives, its own loss included"),
        ),
    )


def watts(worked: Worked) -> tuple[tuple[str, float, float], ...]:
    """Give where the watts go: name, W, share of all; the greatest first, nothing that is 0."""
    driven = worked.driven
    if driven is None or driven.point.power <= 0:
        return ()
    rows = [
        (tr(POWERS[name]), watt, watt / driven.point.power)
        for name, watt in driven.point.powers.items()
        if watt > 0
    ]
    return tuple(sorted(rows, key=lambda row: -row[1]))


def link_answers(worked: Worked) -> tuple[Answer, ...]:
    """Give what the coupled pair can do at best, and the load that reaches it."""
    found = worked.link
    if found is None:
        return ()
    load = tr("{ratio} times the receiving coil's resistance").format(
        ratio=quantity(found.load_ratio, "1", digits=3)
    )
    rows = [
        Answer(
            name=tr("best efficiency"),
            value=percent(100 * found.efficiency).lstrip("+"),
            remark=tr("k√(Q1 Q2) = {figure}").format(figure=quantity(found.figure, "1", digits=3)),
            tip=tr(
                "Of the two coils with their capacitors, at the best load; the source's "
                "losses are not counted."
            ),
        ),
        Answer(name=tr("best load"), value="", remark=load, tip=tr("In series with that coil")),
    ]
    if found.series_load is not None and found.series_capacitance is not None:
        rows[1] = Answer(
            name=tr("best load"),
            value=quantity(found.series_load, "ohm"),
            remark=tr("in series, with {capacitor} in series").format(
                capacitor=quantity(found.series_capacitance, "F")
            ),
            tip=load,
        )
    if found.parallel_load is not None and found.parallel_capacitance is not None:
        rows.append(
            Answer(
                name=tr("or across it"),
                value=quantity(found.parallel_load, "ohm"),
                remark=tr("with {capacitor} across the coil").format(
                    capacitor=quantity(found.parallel_capacitance, "F")
                ),
                tip=tr("The load and capacitor across the receiving coil that do the same"),
            )
        )
    return tuple(rows)
