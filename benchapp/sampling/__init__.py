"""Acceptance sampling: plans, switching rules, operating characteristic.

Tables as in MIL-STD-105E (attributes) and ANSI Z1.9 (variables). Verify a plan against your
organisation's own copy of the standard in force.
"""

from benchapp.sampling.attributes import (
    AQLS,
    LETTERS,
    LEVELS,
    SEVERITIES,
    Plan,
    Severity,
    code_letter,
    letter_plan,
    single_plan,
)
from benchapp.sampling.curve import (
    AttributesPlan,
    VariablesPlan,
    accept_binomial,
    accept_hypergeometric,
    accept_poisson,
    attributes_plan_for,
    fraction_at,
    operating_characteristic,
    pick,
    variables_plan_for,
    zero_acceptance,
)
from benchapp.sampling.switching import LotResult, State, switch
from benchapp.sampling.variables import (
    VARIABLES_AQLS,
    VARIABLES_LEVELS,
    SMethodPlan,
    VariablesVerdict,
    estimated_fraction,
    judge_variables,
    s_method_plan,
    variables_letter,
)

__all__ = [
    "AQLS",
    "LETTERS",
    "LEVELS",
    "SEVERITIES",
    "VARIABLES_AQLS",
    "VARIABLES_LEVELS",
    "AttributesPlan",
    "LotResult",
    "Plan",
    "SMethodPlan",
    "Severity",
    "State",
    "VariablesPlan",
    "VariablesVerdict",
    "accept_binomial",
    "accept_hypergeometric",
    "accept_poisson",
    "attributes_plan_for",
    "code_letter",
    "estimated_fraction",
    "fraction_at",
    "judge_variables",
    "letter_plan",
    "operating_characteristic",
    "pick",
    "s_method_plan",
    "single_plan",
    "switch",
    "variables_letter",
    "variables_plan_for",
    "zero_acceptance",
]
