"""Which fault a part outside its limits may have, ranked by how likely it makes the values."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Sweep
from benchapp.diagnosis.expectation import (
    Expectation,
    Observation,
    expectation,
    observation,
)
from benchapp.diagnosis.fault import FAMILIES, Family, Members
from benchapp.diagnosis.likelihood import Judged, judge_family, within_reach
from benchapp.diagnosis.sweep import Tried, try_models
from benchapp.diagnosis.value import Diagnosis, Hypothesis
from benchapp.fit import Fit, quantity
from benchapp.nominal import Nominal, judged_at

__all__ = ["hypotheses"]

FloatArray = NDArray[np.float64]

_MODEL = 0.08  # of a shift: how far the families, which are approximate, may be off
_ELSE = (0.3, 0.5, 1.0, 2.0)  # scatter of the values when something else is wrong
_SHOWN = 0.01  # share below which a hypothesis is not told
_SOUND, _OTHER, _PLAIN = "sound", "other", "plain"
_NONE, _GOOD = "none fits", "the values are those of a good part"
_AS_GOOD = 3.0  # difference of the information criterion that decides nothing
_SURELY = 2.0  # standard uncertainties beyond a limit


def hypotheses(nominal: Nominal, fit: Fit, capture: Capture) -> Diagnosis:
    """Rank what may be wrong with a part outside its limits.

    Parameters
    ----------
    nominal : Nominal
    fit : Fit
    capture : Sweep, Response or Transient
        What the fit was made from.

    Returns
    -------
    Diagnosis
        Without hypotheses, and with the reason, where the part is within its limits, where design
        or data do not say enough, or where none fits.

    Notes
    -----
    Good parts scatter as `expectation` says; each family of faults shifts them, with all sizes
    equally frequent on its grid. 'A good part' and 'something else' compete with them; nothing
    is claimed when one of these two wins, or when the best member of the best family misses the
    values by more than chance. The shares follow from the likelihoods with equal weights.
    """
    if not _outside(nominal, fit):
        return Diagnosis(reason="the part is within its limits")
    expected = expectation(nominal)
    if expected is None:
        return Diagnosis(reason="the design does not say what a good part is: L on both sides")
    if not fit.describes:
        return _by_sweep(nominal, expected, fit, capture)
    seen = observation(expected, fit)
    if seen is None:
        return Diagnosis(reason="the fit says too little about the part")
    told = _by_values(nominal, expected, seen)
    if told.reason != _NONE:
        return told
    # Elements that the data hardly tell apart are better taken together, as the design has them.
    again = _by_sweep(nominal, expected, fit, capture)
    return again if again.hypotheses else told


def _by_sweep(nominal: Nominal, expected: Expectation, fit: Fit, capture: Capture) -> Diagnosis:
    """Diagnose a part by fitting circuits of faulty parts to its sweep."""
    unknown = Diagnosis(reason="no circuit that is known here describes the sweep")
    if not isinstance(capture, Sweep):
        return unknown
    used = replace(
        capture, frequency=capture.frequency[fit.used], impedance=capture.impedance[fit.used]
    )
    tried = [each for each in try_models(expected, used) if each.describes]
    if not tried:
        return unknown
    plain = next((each for each in tried if each.id == _PLAIN), None)
    if plain is not None and plain.score - tried[0].score < _AS_GOOD:
        return _by_values(nominal, expected, _of_plain(plain, expected))
    best = tried[0].score
    whole = math.fsum(math.exp(best - each.score) for each in tried)
    families = {family.id: family for family in FAMILIES}
    told = [
        _of_circuit(each, families[each.id], expected, fit, math.exp(best - each.score) / whole)
        for each in tried
        if each.id in families
    ]
    return Diagnosis(
        hypotheses=tuple(entry for entry in told if entry.share >= _SHOWN),
        found=told[0].evidence if told else (),
    )


def _of_plain(plain: Tried, expected: Expectation) -> Observation:
    """Turn ln of L, C and both losses into an observation of L, C and the whole loss."""
    dc = expected.dc_share
    both = np.array([dc, 1 - dc]) * np.exp(plain.values[2:4])
    slopes = np.array([[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, *both]])
    return Observation(
        known=(0, 1, 3),
        seen=np.array([plain.values[0], plain.values[1], both.sum() - 1]),
        covariance=slopes @ plain.covariance @ slopes.T,
    )


def _of_circuit(
    tried: Tried, family: Family, expected: Expectation, fit: Fit, share: float
) -> Hypothesis:
    """Make the hypothesis of a circuit that describes the sweep."""
    size = math.exp(float(tried.values[4 if family.id == "shorted-turn" else 1]))
    evidence = f"a {family.title} describes the whole sweep to {100 * tried.noise:.2g} %"
    if fit.noise is not None and not fit.describes:
        evidence += f", which the circuit {fit.circuit} misses by {100 * fit.noise:.2g} %"
    return Hypothesis(
        id=family.id,
        title=family.title,
        share=share,
        as_if=family.words(size, expected),
        evidence=(evidence,),
        next_test=family.next_test,
    )


def _by_values(nominal: Nominal, expected: Expectation, seen: Observation) -> Diagnosis:
    """Diagnose a part by how its values differ from those of good parts."""
    found = _differences(expected, seen)
    ranked = _ranked(expected, seen, nominal)
    first = ranked[0]
    if first.family is None:
        reason = _GOOD if first.id == _SOUND else _NONE
        return Diagnosis(found=found, reason=reason)
    if not within_reach(first.judged.chi_square, seen.seen.size):
        return Diagnosis(found=found, reason=_NONE)
    return Diagnosis(
        hypotheses=tuple(
            _hypothesis(entry, expected, found)
            for entry in ranked
            if entry.family is not None
            and entry.share >= _SHOWN
            and within_reach(entry.judged.chi_square, seen.seen.size)
        ),
        found=found,
    )


def _outside(nominal: Nominal, fit: Fit) -> bool:
    """Tell whether any limited quantity surely lies outside its limits, or the circuit misses."""
    if not fit.describes:
        return True
    for limit in nominal.limits:
        found = quantity(fit, limit.quantity, judged_at(nominal, limit))
        if found is None:
            continue
        reach = _SURELY * (found.u or 0.0)
        low = limit.lower is not None and found.value + reach < limit.lower
        if low or (limit.upper is not None and found.value - reach > limit.upper):
            return True
    return False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ranked:
    """A family judged, with its members and its share of the likelihood."""

    id: str
    family: Family | None
    members: Members | None
    judged: Judged
    share: float = 0.0


def _ranked(expected: Expectation, seen: Observation, nominal: Nominal) -> list[_Ranked]:
    entries = [_rival(_SOUND, expected, seen, ()), _rival(_OTHER, expected, seen, _ELSE)]
    for family in FAMILIES:
        members = family.make(expected, nominal.construction)
        if members is not None:
            judged = judge_family(
                seen.seen,
                members.shifts[:, seen.known],
                _covariance(expected, seen, members),
            )
            entries.append(_Ranked(id=family.id, family=family, members=members, judged=judged))
    top = max(entry.judged.log_likelihood for entry in entries)
    weights = [math.exp(entry.judged.log_likelihood - top) for entry in entries]
    whole = math.fsum(weights)
    ranked = [
        _Ranked(
            id=entry.id,
            family=entry.family,
            members=entry.members,
            judged=entry.judged,
            share=weight / whole,
        )
        for entry, weight in zip(entries, weights, strict=True)
    ]
    return sorted(ranked, key=lambda entry: -entry.share)


def _rival(
    name: str, expected: Expectation, seen: Observation, wider: tuple[float, ...]
) -> _Ranked:
    """Judge an explanation without a size: a good part, or anything at all."""
    spread = _spread(expected, np.zeros((1, 4)), seen)
    covariance = seen.covariance + spread
    if wider:
        covariance = covariance + np.diag([wider[place] ** 2 for place in seen.known])
    judged = judge_family(seen.seen, np.zeros((1, seen.seen.size)), covariance)
    return _Ranked(id=name, family=None, members=None, judged=judged)


def _covariance(expected: Expectation, seen: Observation, members: Members) -> FloatArray:
    """Covariance (K, D, D): of the fit, of good parts shifted so far, and of the family's form."""
    whole = seen.covariance + _spread(expected, members.shifts, seen)
    form = (_MODEL * members.shifts[:, seen.known]) ** 2
    whole = whole + form[:, :, None] * np.eye(len(seen.known))
    if 2 in seen.known and 3 in seen.known:
        split = np.zeros(len(seen.known))
        split[[seen.known.index(2), seen.known.index(3)]] = (1.0, -1.0)
        whole = whole + members.loose[:, None, None] ** 2 * np.outer(split, split)
    return np.asarray(whole)


def _spread(expected: Expectation, shifts: FloatArray, seen: Observation) -> FloatArray:
    """Variance (K, D, D) from part to part; that of the losses grows with them."""
    dc = expected.dc_share
    whole = expected.loss_spread * np.maximum(1 + shifts[:, 2] + shifts[:, 3], 0.1)
    direct = expected.dc_spread * np.maximum(dc + shifts[:, 2], 0.1 * dc)
    columns = [
        np.full(shifts.shape[0], expected.L_spread),
        np.full(shifts.shape[0], expected.C_spread),
        direct,
        whole,
    ]
    chosen = np.stack([columns[place] for place in seen.known], axis=-1)
    return np.asarray(chosen[:, :, None] ** 2 * np.eye(len(seen.known)))


def _differences(expected: Expectation, seen: Observation) -> tuple[str, ...]:
    spread = np.sqrt(_spread(expected, np.zeros((1, 4)), seen)[0].diagonal())
    uncertain = np.sqrt(spread**2 + seen.covariance.diagonal())
    words = []
    for place, value, size in zip(seen.known, seen.seen, uncertain, strict=True):
        name = ("L", "C", "the direct-current loss", "the loss")[place]
        if place == 3 and 2 in seen.known:
            name = "the loss that grows with frequency"
        change = math.expm1(value) if place < 2 else value * _over(expected, seen, place)
        if abs(value) < 2 * size:
            words.append(f"{name} is as in a good part ({100 * change:+.2g} %)")
        else:
            side = "above" if change > 0 else "below"
            words.append(
                f"{name} is {100 * abs(change):.3g} % {side} nominal, "
                f"{abs(value) / size:.2g} times the scatter of good parts"
            )
    return tuple(words)


def _over(expected: Expectation, seen: Observation, place: int) -> float:
    """Turn a change over the whole loss into one over the part of the loss spoken of."""
    if 2 not in seen.known:
        return 1.0
    dc = max(expected.dc_share, 1e-3)
    return 1 / dc if place == 2 else 1 / max(1 - dc, 1e-3)


def _hypothesis(entry: _Ranked, expected: Expectation, found: tuple[str, ...]) -> Hypothesis:
    assert entry.family is not None  # noqa: S101 - rivals are not told
    assert entry.members is not None  # noqa: S101 - the same
    size = float(entry.members.sizes[entry.judged.best])
    return Hypothesis(
        id=entry.family.id,
        title=entry.family.title,
        share=entry.share,
        as_if=entry.family.words(size, expected),
        evidence=found,
        next_test=entry.family.next_test,
    )
