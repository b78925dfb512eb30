"""Statistics of a lot of parts: figures, capability, control charts, gauge study."""

from __future__ import annotations

from benchapp.lot.capability import Capability, Index, Yield, capability, yield_of
from benchapp.lot.chart import RULES, Chart, Charts, Rule, Signal, individuals, signals, subgroups
from benchapp.lot.gauge import (
    Act,
    Bias,
    GaugeStudy,
    Linearity,
    Share,
    Source,
    analysis_of_variance,
    average_and_range,
    bias,
    linearity,
    plan,
)
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

__all__ = [
    "RULES",
    "Act",
    "Bias",
    "Capability",
    "Chart",
    "Charts",
    "Figures",
    "GaugeStudy",
    "Hint",
    "Index",
    "Linearity",
    "Normality",
    "Outlier",
    "Rule",
    "Share",
    "Signal",
    "Source",
    "Yield",
    "analysis_of_variance",
    "average_and_range",
    "bias",
    "capability",
    "describe",
    "hints",
    "histogram",
    "individuals",
    "linearity",
    "normality",
    "outliers",
    "plan",
    "signals",
    "subgroups",
    "yield_of",
]
