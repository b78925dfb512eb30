"""Reports that are on no part: a gauge study, a nominal design, what a calculator found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchapp.jobs.gauge import AnalysedStudy
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.jobs.report import ReportChoices, digest_of
from benchapp.nominal import Limit, Nominal
from benchapp.tank import Band, StackResult, StressCase, TankDesign, solve, stack, stack_of
from benchapp.units import Quantity

if TYPE_CHECKING:
    from benchapp.report.design import Calculation

__all__ = ["WriteCalculation", "WriteDesignReport", "WriteGaugeReport", "design_stack"]

_EXACT = "C has no tolerance of its own in this design: the stack-up takes it as exact."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WriteGaugeReport:
    """Write the report on a gauge study; ``path`` names its table.

    Raises
    ------
    UsageError, FileAccessError
        When the ending is not known, a file is in the way, or it cannot be written.
    """

    study: AnalysedStudy
    path: str
    choices: ReportChoices

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.gauge import GaugeSubject, gauge_report  # start-up: when needed

        choices = self.choices.checked()
        stop_if(cancelled)
        progress(f"writing {choices.path}", 0.0)
        study = self.study
        subject = GaugeSubject(
            table=study.table,
            variance=study.variance,
            ranges=study.ranges,
            bias=study.bias,
            linearity=study.linearity,
            path=self.path,
            sha256=study.sha256,
        )
        return choices.write(gauge_report(subject, choices.issue(digest_of(study.sha256))))


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteDesignReport:
    """Write down a nominal design, with its stack-up and the stress on its capacitor.

    Without ``stacked`` the stack-up is that of the limits of the design, where they allow one.

    Raises
    ------
    UsageError, FileAccessError
        As for `WriteGaugeReport`.
    """

    nominal: Nominal
    choices: ReportChoices
    stacked: StackResult | None = None
    cases: tuple[StressCase, ...] = ()
    cautions: tuple[str, ...] = ()

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.design import design_report  # start-up: reports only when needed

        choices = self.choices.checked()
        stop_if(cancelled)
        progress(f"writing {choices.path}", 0.0)
        stacked, note = self.stacked, ""
        if stacked is None:
            stacked, note = design_stack(self.nominal)
        document = design_report(
            self.nominal,
            choices.issue(digest_of(self.nominal.sha256, repr(replace(self.nominal, source="")))),
            stack=stacked,
            note=note,
            cases=self.cases,
            cautions=self.cautions,
        )
        return choices.write(document)


def design_stack(nominal: Nominal) -> tuple[StackResult | None, str]:
    """Work out how far the limits of a design let its resonance go.

    Returns
    -------
    (StackResult or None, str)
        None where the design limits no L, or neither C nor f0; and what is taken for granted.
    """
    plain = {limit.quantity: limit for limit in nominal.limits if limit.at is None}
    inductance, capacitance = (_quantity(plain.get(name)) for name in ("L", "C"))
    resonance = plain.get("f0")
    middle = None if resonance is None else resonance.nominal
    if inductance is None or (capacitance is None and middle is None):
        return None, ""
    wanted = None if capacitance or middle is None else Quantity(value=middle, unit="Hz")
    design = TankDesign(inductance=inductance, capacitance=capacitance, frequency=wanted)
    band = None if resonance is None else Band(low=resonance.lower, high=resonance.upper)
    return stack(stack_of(solve(design), band=band)), "" if capacitance else _EXACT


def _quantity(limit: Limit | None) -> Quantity | None:
    """Give a limit as a value with its tolerance; None where one of the three is not stated."""
    if limit is None or limit.nominal is None or limit.lower is None or limit.upper is None:
        return None
    return Quantity(
        value=limit.nominal,
        unit=limit.unit,
        low=limit.lower - limit.nominal,
        high=limit.upper - limit.nominal,
        relative=False,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteCalculation:
    """Write down what a calculator found.

    Raises
    ------
    UsageError, FileAccessError
        As for `WriteGaugeReport`.
    """

    found: Calculation
    choices: ReportChoices

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.design import calculation_report  # start-up: when needed

        choices = self.choices.checked()
        stop_if(cancelled)
        progress(f"writing {choices.path}", 0.0)
        issue = choices.issue(digest_of(self.found.title, *self.found.lines))
        return choices.write(calculation_report(self.found, issue))
