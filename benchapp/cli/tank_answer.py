"""What ``benchapp tank`` prints, as text and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from benchapp.cli.marking import pair_json
from benchapp.marking import Combination, Nearest, describe_pair
from benchapp.marking.wording import plain
from benchapp.tank import (
    BandPlace,
    CapacitorRatings,
    Driven,
    Link,
    OperatingPoint,
    Simulation,
    Spread,
    StackResult,
    StackUp,
    StressCase,
    StressLimit,
    TankDesign,
    TankSums,
    fundamental,
    safety_lines,
)
from benchapp.units import format_quantity

__all__ = ["TankAnswer", "answer_json", "answer_lines"]

_SCALARS = {
    "Z_tank": "z_tank",
    "Q": "q",
    "BW": "bandwidth",
    "Q_coil": "q_coil",
    "Q_capacitor": "q_capacitor",
    "Q_loaded": "q_loaded",
    "BW_loaded": "bandwidth_loaded",
    "R_coil": "coil_resistance",
    "ESR": "capacitor_resistance",
    "R": "resistance",
    "edges": "edges",
    "zero_phase": "zero_phase",
    "peak_frequency": "peak_frequency",
    "terminal_impedance": "terminal_impedance",
    "damped_frequency": "damped_frequency",
    "log_decrement": "log_decrement",
    "tau": "decay_time",
    "tau_loaded": "decay_time_loaded",
    "decay_cycles": "decay_cycles",
}
_POINT = (
    "frequency",
    "impedance",
    "phase_degrees",
    "side",
    "source_current",
    "tank_voltage",
    "coil_voltage",
    "coil_current",
    "capacitor_voltage",
    "capacitor_current",
    "power",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TankAnswer:
    """Everything that the command worked out; None is not asked or not determined."""

    design: TankDesign
    sums: TankSums
    stack_up: StackUp
    place: BandPlace | None
    stack: StackResult | None
    simulation: Simulation | None
    driven: Driven | None
    cases: tuple[StressCase, ...]
    ratings: CapacitorRatings | None
    link: Link | None
    nearest: Nearest | None
    pairs: tuple[Combination, ...]

    @property
    def safety(self) -> tuple[str, ...]:
        """Cautions for the worst of the cases."""
        if not self.cases:
            return ()
        duty = max((case.duty for case in self.cases), key=lambda duty: duty.peak)
        return safety_lines(
            duty.voltage,
            frequency=duty.frequency,
            capacitance=duty.capacitance,
            bias=duty.bias,
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be known beside the numbers."""
        found = list(self.sums.notes)
        if self.driven is not None:
            found += self.driven.notes
        elif self.design.drive is not None:
            found.append("Currents and voltages are not determined: state the losses.")
        return tuple(found)


def answer_json(answer: TankAnswer) -> dict[str, Any]:
    """Give the answer as one JSON object of schema ``benchapp.tank/1``, SI units throughout."""
    sums = answer.sums
    found: dict[str, Any] = {
        "schema": "benchapp.tank/1",
        "circuit": sums.circuit,
        "derived": sums.derived,
        "L": _spread_json(sums.inductance),
        "C": _spread_json(sums.capacitance),
        "f0": _spread_json(sums.frequency),
    }
    found |= {key: getattr(sums, name) for key, name in _SCALARS.items()}
    found["notes"] = list(answer.notes)
    found["band"] = None if answer.place is None else _band_json(answer)
    found["stack_up"] = None if answer.stack is None else _stack_json(answer.stack)
    found["simulation"] = None if answer.simulation is None else _draws_json(answer.simulation)
    found["drive"] = None if answer.driven is None else _driven_json(answer, answer.driven)
    found["stress"] = [_case_json(case) for case in answer.cases]
    found["safety"] = list(answer.safety)
    found["link"] = None if answer.link is None else _fields(answer.link)
    found["preferred"] = (
        None if answer.nearest is None else _preferred_json(answer, answer.nearest)
    )
    return found


def _fields(value: Any) -> dict[str, Any]:
    return {name: getattr(value, name) for name in value.__slots__}


def _spread_json(spread: Spread) -> dict[str, Any]:
    order = ("nominal", "low", "high", "rss_low", "rss_high", "unit")
    return {name: getattr(spread, name) for name in order}


def _band_json(answer: TankAnswer) -> dict[str, Any]:
    band, place = answer.design.band, answer.place
    return {
        "low": None if band is None else band.low,
        "high": None if band is None else band.high,
        **_fields(place),
        "words": None if place is None else place.words,
    }


def _stack_json(result: StackResult) -> dict[str, Any]:
    return {**_fields(result), "shares": [_fields(share) for share in result.shares]}


def _draws_json(simulation: Simulation) -> dict[str, Any]:
    found = _fields(simulation)
    found["edges"] = simulation.edges.tolist()
    found["counts"] = simulation.counts.tolist()
    return found


def _point_json(point: OperatingPoint) -> dict[str, Any]:
    return {name: getattr(point, name) for name in _POINT} | {"powers": dict(point.powers)}


def _driven_json(answer: TankAnswer, driven: Driven) -> dict[str, Any]:
    drive = answer.design.drive
    points = [name for name in driven.__slots__ if name != "notes"]
    return {
        "form": None if drive is None else drive.form,
        "size": None if drive is None else drive.size,
        "fundamental": None if drive is None else fundamental(drive),
        **{name: _point_json(getattr(driven, name)) for name in points},
    }


def _case_json(case: StressCase) -> dict[str, Any]:
    duty = case.duty
    return {
        "case": case.name,
        "frequency": duty.frequency,
        "voltage_rms": duty.voltage,
        "voltage_peak": duty.peak,
        "current_rms": duty.current,
        "slew": duty.slew,
        "dissipation": duty.dissipation,
        "outcome": case.stress.outcome,
        "limits": [_fields(limit) | {"use": limit.use} for limit in case.stress.limits],
    }


def _preferred_json(answer: TankAnswer, single: Nearest) -> dict[str, Any]:
    return {
        "series": single.series,
        "nearest": {"value": single.value, "error": single.error},
        "pairs": [pair_json(pair) for pair in answer.pairs],
    }


def answer_lines(answer: TankAnswer) -> list[str]:
    """Say the answer in plain lines."""
    return [
        *_sums_lines(answer.sums),
        *_band_lines(answer),
        *_stack_lines(answer),
        *_draw_lines(answer),
        *_drive_lines(answer),
        *_stress_lines(answer),
        *_link_lines(answer),
        *_preferred_lines(answer),
        *(f"note: {note}" for note in answer.notes),
        *(f"caution: {line}" for line in answer.safety),
    ]


def _q(value: float, unit: str, digits: int = 4) -> str:
    return format_quantity(value, unit, digits=digits)


def _spread_line(name: str, spread: Spread, *, worked_out: bool) -> str:
    text = f"  {name:<22} {_q(spread.nominal, spread.unit, 5)}"
    if worked_out:
        text += "  (worked out)"
    if spread.low is None or spread.high is None:
        return text
    low, high = _q(spread.low, spread.unit, 5), _q(spread.high, spread.unit, 5)
    text += f"  at worst {low} to {high}"
    if worked_out and spread.rss_low is not None and spread.rss_high is not None:
        low, high = _q(spread.rss_low, spread.unit, 5), _q(spread.rss_high, spread.unit, 5)
        text += f", root sum of squares {low} to {high}"
    return text


def _sums_lines(sums: TankSums) -> Iterator[str]:
    yield f"{sums.circuit} tank"
    for key, name, spread in (
        ("L", "inductance L", sums.inductance),
        ("C", "capacitance C", sums.capacitance),
        ("f0", "resonance f0", sums.frequency),
    ):
        yield _spread_line(name, spread, worked_out=key == sums.derived)
    peak = "greatest |Z|" if sums.circuit == "parallel" else "least |Z|"
    rows: tuple[tuple[str, float | None, str], ...] = (
        ("Z_tank = sqrt(L/C)", sums.z_tank, "ohm"),
        ("coil resistance", sums.coil_resistance, "ohm"),
        ("capacitor ESR", sums.capacitor_resistance, "ohm"),
        ("Q of the coil", sums.q_coil, "1"),
        ("Q of the capacitor", sums.q_capacitor, "1"),
        ("Q of the tank", sums.q, "1"),
        ("Q loaded", sums.q_loaded, "1"),
        ("bandwidth", sums.bandwidth, "Hz"),
        ("bandwidth loaded", sums.bandwidth_loaded, "Hz"),
        ("zero phase at", sums.zero_phase, "Hz"),
        (f"{peak} at", sums.peak_frequency, "Hz"),
        ("|Z| there", sums.terminal_impedance, "ohm"),
        ("decay time tau", sums.decay_time, "s"),
        ("decay time loaded", sums.decay_time_loaded, "s"),
        ("cycles to 1/e", sums.decay_cycles, "1"),
    )
    for name, value, unit in rows:
        if value is not None:
            yield f"  {name:<22} {_q(value, unit, 6 if unit == 'Hz' else 4)}"


def _band_lines(answer: TankAnswer) -> Iterator[str]:
    place, band = answer.place, answer.design.band
    if place is None or band is None:
        return
    low = "-" if band.low is None else _q(band.low, "Hz", 6)
    high = "-" if band.high is None else _q(band.high, "Hz", 6)
    yield f"band {low} to {high}: {place.words}"
    yield f"  margin to the {place.nearer} end {_q(place.margin, 'Hz')}"
    if place.margin_rss is not None and place.margin_worst is not None:
        rss, worst = _q(place.margin_rss, "Hz"), _q(place.margin_worst, "Hz")
        yield f"  margin by root sum of squares {rss}, at worst {worst}"


def _stack_lines(answer: TankAnswer) -> Iterator[str]:
    result = answer.stack
    if result is None:
        return
    f0 = result.frequency
    worst = (100 * (result.worst_low / f0 - 1), 100 * (result.worst_high / f0 - 1))
    rss = (100 * (result.rss_low / f0 - 1), 100 * (result.rss_high / f0 - 1))
    yield "what moves the resonance"
    yield f"  all together at worst  {worst[0]:+.3g} % / {worst[1]:+.3g} %"
    yield f"  root sum of squares    {rss[0]:+.3g} % / {rss[1]:+.3g} %"
    for share in result.shares:
        low, high = 100 * share.low, 100 * share.high
        part = 100 * share.variance_share
        yield f"  {share.name:<22} {low:+.3g} % / {high:+.3g} %, {part:.0f} % of the squares"
    if result.tighten is not None and len(result.shares) > 1:
        yield f"  tighten first: {result.tighten}"
    if result.tighten is not None and result.tighten_to is not None:
        part = 100 * result.tighten_to
        yield f"  with {result.tighten} at {part:.0f} % of its tolerance the squares fit the band"


def _draw_lines(answer: TankAnswer) -> Iterator[str]:
    found = answer.simulation
    if found is None:
        return
    low, high = (_q(found.quantiles[place], "Hz", 6) for place in (1, 3))
    yield f"{found.units} tanks drawn: mean {_q(found.mean, 'Hz', 6)}, s {_q(found.sd, 'Hz')}"
    yield f"  95 % of them from {low} to {high}"
    if found.outside is not None and found.outside_interval is not None:
        share, ends = 100 * found.outside, [100 * end for end in found.outside_interval]
        yield (
            f"  outside the band {share:.3g} % (95 % interval {ends[0]:.3g} to {ends[1]:.3g} %): "
            f"{found.below} below, {found.above} above"
        )


def _drive_lines(answer: TankAnswer) -> Iterator[str]:
    driven, drive = answer.driven, answer.design.drive
    if driven is None or drive is None:
        return
    volt = fundamental(drive)
    size = _q(drive.size, "A" if volt is None else "V")
    text = f"driven by {size} {drive.form}"
    if volt is not None and drive.form != "sine":
        text += f", fundamental {_q(volt, 'V')} rms"
    yield text
    yield from _point_lines("at the drive frequency", driven.point)
    if answer.design.losses.load is not None:
        yield from _point_lines("load taken away", driven.unloaded)
    if driven.highest_voltage != driven.point:
        yield from _point_lines("greatest voltage in the band", driven.highest_voltage)


def _point_lines(name: str, point: OperatingPoint) -> Iterator[str]:
    yield f"  {name}: {_q(point.frequency, 'Hz', 6)}, {point.side}"
    yield (
        f"    source {_q(point.source_current, 'A')}, coil {_q(point.coil_current, 'A')} and "
        f"{_q(point.coil_voltage, 'V')}, capacitor {_q(point.capacitor_current, 'A')} and "
        f"{_q(point.capacitor_voltage, 'V')} (rms)"
    )
    if point.power > 0:
        watts = (
            f"{where} {_q(power, 'W', 3)} ({100 * power / point.power:.0f} %)"
            for where, power in point.powers.items()
            if power > 0
        )
        yield f"    {_q(point.power, 'W', 3)}: {', '.join(watts)}"


def _stress_lines(answer: TankAnswer) -> Iterator[str]:
    for case in answer.cases:
        yield f"capacitor, {case.name} ({_q(case.duty.frequency, 'Hz', 6)}): {case.stress.outcome}"
        for limit in case.stress.limits:
            words = f"{limit.outcome}: {limit.reason}".replace(
                "cannot be judged: cannot", "cannot"
            )
            yield f"  {limit.name:<29} {_seen(limit):<14} {words}"


def _seen(limit: StressLimit) -> str:
    if limit.seen is None:
        return "-"
    if limit.unit == "V/s":
        return f"{1e-6 * limit.seen:.4g} V/µs"
    return _q(limit.seen, limit.unit)


def _link_lines(answer: TankAnswer) -> Iterator[str]:
    found = answer.link
    if found is None:
        return
    qs = f"{found.q_sending:.4g} and {found.q_receiving:.4g}"
    yield f"power link with k {found.coupling:g}, Q {qs}"
    yield f"  best efficiency        {100 * found.efficiency:.2f} %"
    yield f"  k sqrt(Q1 Q2)          {found.figure:.3g}"
    yield f"  reached with a load of {found.load_ratio:.4g} times the receiving coil's resistance"
    if found.series_load is not None and found.series_capacitance is not None:
        load, cap = _q(found.series_load, "ohm"), _q(found.series_capacitance, "F")
        yield f"  in series              {load} with {cap} in series"
    if found.parallel_load is not None and found.parallel_capacitance is not None:
        load, cap = _q(found.parallel_load, "ohm"), _q(found.parallel_capacitance, "F")
        yield f"  across the coil        {load} with {cap} across"


def _preferred_lines(answer: TankAnswer) -> Iterator[str]:
    single = answer.nearest
    if single is None:
        return
    wanted = answer.sums.capacitance.nominal
    yield f"{_q(wanted, 'F')} from {single.series}"
    yield f"  one capacitor: {plain(single.value, 'F')} ({100 * single.error:+.3g} %)"
    for pair in answer.pairs:
        shares = _pair_shares(answer, pair)
        yield f"  {describe_pair(pair, 'F')}{shares}"
        if pair.caution:
            yield f"    {pair.caution}"


def _pair_shares(answer: TankAnswer, pair: Combination) -> str:
    """Say what each of the two parts bears, in percent or for the driven tank in V and A."""
    voltage = (pair.larger_voltage, pair.smaller_voltage)
    current = (pair.larger_current, pair.smaller_current)
    if answer.driven is None:
        volts, amperes = (
            " and ".join(f"{100 * share:.3g}" for share in shares) for shares in (voltage, current)
        )
        return f"; {volts} % of the voltage, {amperes} % of the current"
    point = answer.driven.highest_voltage
    volts = " and ".join(_q(share * point.capacitor_voltage, "V", 3) for share in voltage)
    amperes = " and ".join(_q(share * point.capacitor_current, "A", 3) for share in current)
    return f"; {volts}, {amperes} rms"
