"""Columns over frequency to impedance: families of columns, pairs, models, cross-checks."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Conditions, Noise, Response, Sweep
from benchapp.errors import QuantityError
from benchapp.readers.axis import Run, arrange
from benchapp.readers.evidence import check_impedance, phase_factor, slope_of_phase
from benchapp.readers.frame import Frame, condition
from benchapp.readers.leap import doubt_leaps
from benchapp.readers.quantity import Recipe, find_recipes
from benchapp.units import parse_quantity

__all__ = ["Family", "Solved", "families_of", "impedance_captures", "solve", "with_model"]

_DISAGREE = 0.02
_MODELS = {
    "series": {"L": "Ls", "C": "Cs", "R": "Rs"},
    "parallel": {"L": "Lp", "C": "Cp", "R": "Rp"},
}
_NEVER_ZERO = ("Ls", "Lp", "Cs", "Cp", "|Z|", "|Y|", "Rp", "Q")
_SELDOM_ZERO = ("R", "X", "Rs", "G", "B", "D", "theta")
_FEW_ZEROS = 0.1
_SHOWN = 3
_LOW, _HIGH = 10.0, 10e3


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """Columns of one sweep, by role, with what tells them from other families."""

    places: dict[str, int]
    variant: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """The impedance (N,) of each row in ohm, NaN where there is none, and its conditions."""

    impedance: NDArray[np.complex128]
    conditions: Conditions


def impedance_captures(frame: Frame) -> list[Capture] | None:
    """Give the sweeps of a frame, one for each family of columns.

    Returns
    -------
    list of Capture, or None
        None where the columns fix no impedance; an empty list where a question is open.
    """
    captures: list[Capture] = []
    left: list[str] = []
    understood = False
    for family in families_of(frame):
        places = with_model(frame, family.places)
        if find_recipes(places):
            understood = True
            captures += _sweeps(frame, family, places)
        elif "|Z|" in places:
            understood = True
            captures += _magnitude(frame, family, places["|Z|"])
        elif family.variant:
            left.append(f"{family.variant}: {', '.join(family.places)}")
    if understood and left:
        reason = "they fix no impedance by themselves"
        frame.notes.assume("columns", f"{'; '.join(left)} left out", reason, 0.6)
    return captures if understood else None


def families_of(frame: Frame) -> list[Family]:
    """Gather columns by what tells them apart: a condition in the heading, or their turn."""
    found: dict[str, dict[str, int]] = {}
    for at in frame.members:
        meaning = frame.columns.meanings[at]
        if not meaning.role or (meaning.role[:1] == "S" and meaning.role[1:].isdigit()):
            continue
        variant = meaning.variant
        turn = 2
        while meaning.role in found.get(variant, {}):
            variant = f"{meaning.variant} #{turn}".strip()
            turn += 1
        found.setdefault(variant, {})[meaning.role] = at
    shared = found.get("", {})
    if len(found) > 1 and not find_recipes(shared):
        found = {variant: {**shared, **places} for variant, places in found.items() if variant}
    return [Family(places=places, variant=variant) for variant, places in found.items()]


def with_model(frame: Frame, places: dict[str, int]) -> dict[str, int]:
    """Turn L, C and R of no stated circuit into those of a series or a parallel circuit."""
    main = next((role for role in ("L", "C") if role in places), None)
    if "phi" in places and "theta" not in places:
        places = {**places, "theta": places["phi"]}
    if main is None:
        if "R" in places and {"Ls", "Cs"} & places.keys() and "Rs" not in places:
            return {**places, "Rs": places["R"]}
        return places
    answered = frame.notes.answers.model
    stated = frame.facts.circuit
    proposed = _proposed_model(frame, places, main)
    if answered is None and stated is None:
        frame.notes.ask(
            "model",
            f"Is {main} that of the series or of the parallel equivalent circuit?",
            proposed=proposed,
            choices=("series", "parallel"),
        )
    elif answered is None:
        frame.notes.assume("equivalent circuit", stated or "", "stated above the table", 0.9)
    names = _MODELS.get(answered or stated or proposed, _MODELS["series"])
    return {**places, **{names[role]: places[role] for role in ("L", "C", "R") if role in places}}


def _proposed_model(frame: Frame, places: dict[str, int], main: str) -> str:
    if "Rs" in places or "Rp" in places or "G" in places:
        return "series" if "Rs" in places else "parallel"
    with np.errstate(divide="ignore", invalid="ignore"):
        reactance = 2 * np.pi * frame.frequency * frame.columns.plain(places[main])
        size = np.abs(reactance if main == "L" else 1 / reactance)
        middle = float(np.nanmedian(size)) if np.isfinite(size).any() else 0.0
    if middle < _LOW or middle > _HIGH:
        return "series" if middle < _LOW else "parallel"
    return "series" if main == "L" else "parallel"


def solve(frame: Frame, variant: str, places: dict[str, int]) -> Solved | None:
    """Give the impedance of each row; None where a question about units is open.

    Parameters
    ----------
    frame : Frame
    variant : str
        What tells the columns from others of the same roles.
    places : dict
        Position of each column by role; they must fix an impedance.
    """
    recipes = find_recipes(places)
    recipe = recipes[0]
    used = [places[role] for role in recipe.roles]
    if not frame.settled(used):
        return None
    impedance = _impedance(frame, places, recipe)
    impedance[frame.without_value(used) | _without_size(frame, recipe, used)] = np.nan
    _cross_check(frame, places, recipes, impedance)
    return Solved(impedance=impedance, conditions=_conditions(frame, recipe, variant))


def _without_size(frame: Frame, recipe: Recipe, used: list[int]) -> NDArray[np.bool_]:
    """Tell which rows hold an exact zero where no part has one; doubt other lone zeros."""
    table = frame.columns.table
    zero = (table.values[:, used] == 0) & (frame.frequency > 0)[:, None]
    never = zero & np.isin(recipe.roles, _NEVER_ZERO)
    for row in np.flatnonzero(never.any(axis=1)):
        frame.notes.drop(int(table.lines[row]), "a value is exactly zero")
    for role, rare in zip(recipe.roles, (zero & ~never).T, strict=True):
        count = int(rare.sum())
        if role in _SELDOM_ZERO and 0 < count <= _FEW_ZEROS * table.values.shape[0]:
            where = ", ".join(f"line {line}" for line in table.lines[rare][:_SHOWN])
            seen = f"{count} of {table.values.shape[0]} rows hold an exact zero ({where})"
            frame.notes.assume(role, "zeros kept", f"{seen}: look whether it is a gap", 0.5)
    return np.asarray(never.any(axis=1))


def _sweeps(frame: Frame, family: Family, places: dict[str, int]) -> list[Capture]:
    solved = solve(frame, family.variant, places)
    if solved is None:
        return []
    run = Run(
        axis=frame.frequency,
        values=solved.impedance[:, None],
        lines=frame.columns.table.lines,
        label=frame.labelled(family.variant).label,
    )
    return [
        Sweep(
            frequency=part.axis,
            impedance=check_impedance(part, frame.notes),
            noise=Noise(),
            conditions=solved.conditions,
            origin=replace(frame.origin, label=part.label),
        )
        for part in arrange(run, frame.notes)
    ]


def _impedance(frame: Frame, places: dict[str, int], recipe: Recipe) -> NDArray[np.complex128]:
    main, loss = (frame.columns.plain(places[role]) for role in recipe.roles)
    if frame.columns.meanings[places[recipe.roles[0]]].part == "db":
        with np.errstate(over="ignore"):
            main = 10 ** (frame.columns.table.values[:, places[recipe.roles[0]]] / 20)
        frame.notes.assume("magnitude", "dB of 1 ohm", "the heading says dB", 0.7)
    if recipe.roles[1] == "theta":
        loss = _angle(frame, main, places["theta"], turned=recipe.roles[0] == "|Y|")
    if recipe.roles[1] == "DCR":
        seen = "the file gives no other loss; at the frequencies of the sweep it is higher"
        frame.notes.assume("series resistance", "the DC resistance", seen, 0.3)
    with np.errstate(all="ignore"):
        return recipe.impedance(2 * np.pi * frame.frequency, main, loss)


def _angle(
    frame: Frame, magnitude: NDArray[np.float64], at: int, *, turned: bool
) -> NDArray[np.float64]:
    meaning, raw = frame.columns.meanings[at], frame.columns.table.values[:, at]
    slope = slope_of_phase(frame.frequency, magnitude, raw)
    if meaning.stated and meaning.factor == 1.0 and turned:
        slope = None
    sign = -1.0 if meaning.factor < 0 else 1.0
    stated = abs(meaning.factor) if meaning.stated else None
    return sign * raw * phase_factor(raw, stated, slope, frame.notes)


def _cross_check(
    frame: Frame, places: dict[str, int], recipes: list[Recipe], impedance: NDArray[np.complex128]
) -> None:
    """Compare with what the other columns give, where they fix the impedance too."""
    for other in recipes[1:]:
        if "DCR" in other.roles or set(other.roles) & set(recipes[0].roles):
            continue
        if not all(
            frame.columns.meanings[places[role]].stated or role in {"Q", "D"}
            for role in other.roles
        ):
            continue
        twin = _impedance(frame, places, other)
        with np.errstate(all="ignore"):
            apart = np.abs(twin - impedance) / np.abs(impedance)
        apart = apart[np.isfinite(apart)]
        if apart.size and float(np.median(apart)) > _DISAGREE:
            frame.notes.assume(
                "columns",
                f"{recipes[0].roles[0]} and {recipes[0].roles[1]}",
                f"{other.roles[0]} and {other.roles[1]} in the same rows disagree by "
                f"{100 * float(np.median(apart)):.3g} %: check units and headings",
                0.3,
            )
            return


def _conditions(frame: Frame, recipe: Recipe, variant: str) -> Conditions:
    known = replace(frame.conditions, equivalent_circuit=recipe.circuit)
    try:
        value = parse_quantity(variant)
    except QuantityError:
        return known
    role = {"V": "level", "A": "bias", "degC": "temperature"}.get(value.unit, "")
    return condition(known, role, value.value, value.unit)


def _magnitude(frame: Frame, family: Family, at: int) -> list[Capture]:
    """Keep a magnitude of impedance without a phase as what it is: a response of no phase."""
    if not frame.settled([at]):
        return []
    frame.notes.assume(
        "quantity",
        "|Z| without phase",
        "no column fixes the phase: resonance and Q can be found, but not L, C and R",
        0.9,
    )
    run = Run(
        axis=frame.frequency,
        values=frame.columns.plain(at)[:, None].astype(np.complex128),
        lines=frame.columns.table.lines,
        label=frame.labelled(family.variant, "|Z|").label,
    )
    parts = arrange(run, frame.notes)
    for part in parts:
        doubt_leaps(part, frame.notes, relative=True)
    return [
        Response(
            frequency=part.axis,
            ratio=part.values[:, 0],
            kind="gain",
            has_phase=False,
            conditions=frame.conditions,
            origin=replace(frame.origin, label=part.label),
        )
        for part in parts
    ]
