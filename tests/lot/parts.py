"""Parts of a lot for tests, without a measurement behind them."""

from __future__ import annotations

from benchapp.lot import LotForm, LotPlan, LotState, PartRecord, PlanChoice
from benchapp.nominal import Limit, Nominal, Outcome
from benchapp.units import Estimate

NOMINAL = Nominal(
    title="Gate antenna coil GA-12",
    circuit="tank",
    limits=(
        Limit(quantity="L", unit="H", lower=1.5714e-3, upper=1.6686e-3, nominal=1.62e-3),
        Limit(quantity="Q", unit="1", lower=60.0, at=134.2e3),
    ),
)


def record(serial: str, outcome: Outcome = Outcome.PASS, **changes) -> PartRecord:
    return PartRecord(serial=serial, outcome=outcome, **changes)


def measured(serial: str, inductance: float, q: float | None = 80.0) -> PartRecord:
    estimates = {"L": Estimate(name="L", value=inductance, u=1e-7, unit="H")}
    if q is not None:
        estimates["Q at 134.2 kHz"] = Estimate(name="Q", value=q, u=0.1, unit="1")
    inside = 1.5714e-3 <= inductance <= 1.6686e-3
    return record(serial, Outcome.PASS if inside else Outcome.FAIL, estimates=estimates)


def state(quantity: int = 13, **choice) -> LotState:
    plan: LotPlan = PlanChoice(**choice).plan(quantity)
    return LotState(form=LotForm(part="GA-12", quantity=quantity), plan=plan)


def filled(lot: LotState, good: int, bad: int = 0, unjudged: int = 0) -> LotState:
    """Add good parts, then nonconforming ones, then ones that could not be judged."""
    outcomes = [Outcome.PASS] * good + [Outcome.FAIL] * bad + [Outcome.NOT_JUDGED] * unjudged
    for outcome in outcomes:
        lot = lot.add(record(lot.next_serial, outcome))
    return lot
