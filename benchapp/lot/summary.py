"""What the parts of a lot say together: per quantity, and lot by lot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.checks import Finding
from benchapp.checks.value import counted
from benchapp.lot.capability import Capability, Yield, capability, yield_of
from benchapp.lot.chart import Charts, individuals
from benchapp.lot.flow import Decision, LotState, PartRecord
from benchapp.lot.reference import key_of
from benchapp.lot.sample import (
    Figures,
    Hint,
    Normality,
    Outlier,
    describe,
    hints,
    histogram,
    normality,
    outliers,
)
from benchapp.nominal import Limit, Nominal
from benchapp.sampling import VariablesVerdict, judge_variables, s_method_plan
from benchapp.units import Estimate

__all__ = ["LotSummary", "QuantitySummary", "Trend", "summarize", "trends"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuantitySummary:
    """One limited quantity over the parts of a lot (the last measurement of each).

    ``serials`` and ``values`` go together; parts without a value are left out and counted in
    ``missing``. What needs more parts than there are is None or empty.
    """

    name: str
    limit: Limit
    serials: tuple[str, ...]
    values: FloatArray
    missing: int
    figures: Figures | None = None
    edges: FloatArray | None = None
    counts: NDArray[np.int64] | None = None
    normality: Normality | None = None
    outliers: tuple[Outlier, ...] = ()
    capability: Capability | None = None
    inside: Yield | None = None
    charts: Charts | None = None
    hints: tuple[Hint, ...] = ()
    by_variables: VariablesVerdict | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LotSummary:
    """A lot in figures. ``decision`` counts a plan by variables as well; ``why`` says it in words.

    ``conforming`` is the share of judged parts that are not nonconforming, with its interval.
    ``findings`` are those of the checks that speak of a lot as a whole, where they were run.
    """

    parts: int
    outcomes: Mapping[str, int]
    quantities: tuple[QuantitySummary, ...]
    conforming: Yield | None
    decision: Decision
    why: str
    findings: tuple[Finding, ...] = ()


def summarize(state: LotState, nominal: Nominal) -> LotSummary:
    """Work out what the parts of a lot say together.

    Parameters
    ----------
    state : LotState
    nominal : Nominal
        The design whose limits the parts were judged by.

    Returns
    -------
    LotSummary
    """
    parts = tuple(state.latest.values())
    outcomes: dict[str, int] = {}
    for record in parts:
        outcomes[record.outcome.value] = outcomes.get(record.outcome.value, 0) + 1
    judged = [record for record in parts if record.is_judged]
    conforming = None
    if judged:
        conforming = yield_of([float(record.is_rejected) for record in judged], None, 0.5)
    quantities = tuple(_quantity(limit, state, parts) for limit in nominal.limits)
    decision, why = _decide(state, quantities)
    return LotSummary(
        parts=len(parts),
        outcomes=outcomes,
        quantities=quantities,
        conforming=conforming,
        decision=decision,
        why=why,
    )


def _quantity(limit: Limit, state: LotState, parts: Sequence[PartRecord]) -> QuantitySummary:
    name = key_of(limit)
    having = [record for record in parts if name in record.estimates]
    values = np.array([record.estimates[name].value for record in having], dtype=np.float64)
    found = QuantitySummary(
        name=name,
        limit=limit,
        serials=tuple(record.serial for record in having),
        values=values,
        missing=len(parts) - len(having),
    )
    if not having:
        return found
    charts = individuals(values) if values.size > 1 and np.ptp(values) > 0 else None
    edges, counts = histogram(values)
    return QuantitySummary(
        name=name,
        limit=limit,
        serials=found.serials,
        values=values,
        missing=found.missing,
        figures=describe(values),
        edges=edges,
        counts=counts,
        normality=normality(values),
        outliers=outliers(values),
        capability=capability(
            values,
            limit.lower,
            limit.upper,
            within=None if charts is None or not charts.sigma > 0 else (charts.sigma, charts.dof),
        ),
        inside=yield_of(values, limit.lower, limit.upper),
        charts=charts,
        hints=hints(values, lower=limit.lower, upper=limit.upper),
        by_variables=_by_variables(limit, state, name),
    )


def _by_variables(limit: Limit, state: LotState, name: str) -> VariablesVerdict | None:
    """Judge the sample by mean and s, once every part of it has a value."""
    plan = state.plan
    if plan.kind != "variables" or plan.aql is None:
        return None
    values = [record.estimates[name].value for record in state.sample if name in record.estimates]
    if len(values) < plan.n or plan.n < 3:
        return None
    figures = describe(values)
    if not figures.sd:
        return None
    table = s_method_plan(plan.quantity, plan.aql, plan.level)
    return judge_variables(table, figures.mean, figures.sd, lower=limit.lower, upper=limit.upper)


def _decide(state: LotState, quantities: Sequence[QuantitySummary]) -> tuple[Decision, str]:
    plan, decision = state.plan, state.decision
    of = f"of {counted(plan.n, 'part')}"
    count = f"{state.rejected} of {counted(state.counted, 'part')} nonconforming"
    if plan.kind != "variables":
        why = {
            "open": f"{count}; {state.remaining} {of} still to be inspected",
            "accept": f"{count}, Ac {plan.accept}",
            "reject": f"{count}, Re {plan.reject}",
            "undecided": f"{counted(len(state.not_judged), 'part')} could not be judged ({count})",
        }[decision]
        return decision, why
    if decision == "open":
        return "open", f"{state.remaining} {of} still to be measured"
    bare = [entry.name for entry in quantities if entry.by_variables is None]
    if bare:
        return "undecided", f"no mean and s of every part for {', '.join(bare)}"
    strange = [
        entry.name
        for entry in quantities
        if entry.normality is not None and entry.normality.doubtful
    ]
    if strange:
        return "undecided", (
            f"{', '.join(strange)} not normally distributed: a plan by variables does not hold"
        )
    shares = {entry.name: entry.by_variables for entry in quantities if entry.by_variables}
    bad = [name for name, verdict in shares.items() if not verdict.accepted]
    words = ", ".join(f"{name} {100 * shares[name].outside:.2g} %" for name in bad or shares)
    most = f"M {100 * (plan.most or 0.0):.2g} %"
    return ("reject" if bad else "accept"), f"estimated outside: {words}; {most}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trend:
    """One quantity over the lots of a supplier: figures of each, and a chart of their means."""

    name: str
    limit: Limit
    lots: tuple[str, ...]
    figures: tuple[Figures, ...]
    charts: Charts | None


def trends(
    lots: Sequence[tuple[str, Mapping[str, Sequence[Estimate]]]], nominal: Nominal
) -> tuple[Trend, ...]:
    """Follow each quantity over lots.

    Parameters
    ----------
    lots : sequence of (name, mapping)
        Name of each lot, oldest first, and the estimates of its parts by the name of the limit.
    nominal : Nominal

    Returns
    -------
    tuple of Trend
        Quantities that no lot holds are left out; a chart needs two lots.
    """
    found = []
    for limit in nominal.limits:
        name = key_of(limit)
        having = [(lot, values[name]) for lot, values in lots if values.get(name)]
        if not having:
            continue
        figures = tuple(describe([one.value for one in values]) for _, values in having)
        means = np.array([one.mean for one in figures])
        found.append(
            Trend(
                name=name,
                limit=limit,
                lots=tuple(lot for lot, _ in having),
                figures=figures,
                charts=individuals(means) if means.size > 1 and np.ptp(means) > 0 else None,
            )
        )
    return tuple(found)
