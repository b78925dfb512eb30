"""Equivalent circuits: impedance, analytic gradients, and one table of them all."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from benchapp.circuit import shunted
from benchapp.circuit.model import Circuit, Product
from benchapp.circuit.straight import straight

__all__ = ["CIRCUITS", "EXTENDED", "Circuit", "Product"]

_HERTZ = 0.5 / math.pi


def _products(*exponents: float, q: tuple[float, ...]) -> dict[str, Product]:
    """f0 = 1 / (2 pi sqrt(L C)), undamped, and Q = prod(elements ** q)."""
    return {
        "f0": Product(unit="Hz", factor=_HERTZ, exponents=exponents),
        "Q": Product(unit="1", factor=1.0, exponents=q),
    }


def _f0(*exponents: float) -> dict[str, Product]:
    return {"f0": Product(unit="Hz", factor=_HERTZ, exponents=exponents)}


def _line(name: str, title: str, elements: str, family: str, **more: object) -> Circuit:
    names = tuple(elements)
    kernel, encode, decode = straight(names, family)
    units = tuple({"L": "H", "C": "F", "R": "ohm"}[element] for element in names)
    return Circuit(
        name=name,
        title=title,
        elements=names,
        units=units,
        family=family,  # type: ignore[arg-type]
        kernel=kernel,
        encode=encode,
        decode=decode,
        **more,  # type: ignore[arg-type]
    )


_ALL = (
    _line(
        "series-rlc",
        "R, L and C in series",
        "LCR",
        "series",
        products=_products(-0.5, -0.5, 0.0, q=(0.5, -0.5, -1.0)),
    ),
    _line(
        "parallel-rlc",
        "R, L and C across each other",
        "LCR",
        "parallel",
        products=_products(-0.5, -0.5, 0.0, q=(-0.5, 0.5, 1.0)),
    ),
    Circuit(
        name="tank",
        title="a coil with series resistance, across a capacitor",
        elements=("L", "C", "R"),
        units=("H", "F", "ohm"),
        family="shunted",
        kernel=shunted.kernel_tank,
        encode=shunted.encode_tank,
        decode=shunted.decode_tank,
        products=_products(-0.5, -0.5, 0.0, q=(0.5, -0.5, -1.0)),
    ),
    Circuit(
        name="coil",
        title="a coil with skin effect and self-capacitance",
        elements=("L", "C", "Rdc", "Rac"),
        units=("H", "F", "ohm", "ohm/sqrt(Hz)"),
        family="shunted",
        kernel=shunted.kernel_coil,
        encode=shunted.encode_coil,
        decode=shunted.decode_coil,
        products=_f0(-0.5, -0.5, 0.0, 0.0),
    ),
    _line("inductor", "an inductance with series resistance", "LR", "series"),
    _line(
        "capacitor",
        "a capacitor with series resistance and series inductance",
        "CRL",
        "series",
        products=_f0(-0.5, 0.0, -0.5),
    ),
    Circuit(
        name="coupled-pair",
        title="a tank coupled to a second resonance",
        elements=("L", "C", "R", "k", "f2", "Q2"),
        units=("H", "F", "ohm", "1", "Hz", "1"),
        family="coupled",
        kernel=shunted.kernel_coupled,
        encode=shunted.encode_coupled,
        decode=shunted.decode_coupled,
        products=_products(-0.5, -0.5, 0.0, 0.0, 0.0, 0.0, q=(0.5, -0.5, -1.0, 0.0, 0.0, 0.0)),
    ),
)

CIRCUITS: Mapping[str, Circuit] = MappingProxyType({circuit.name: circuit for circuit in _ALL})
"""Every circuit that can be asked for, by name."""

_CORE = Circuit(
    name="coil",
    title="a coil with skin effect, core loss and self-capacitance",
    elements=("L", "C", "Rdc", "Rac", "Rcore"),
    units=("H", "F", "ohm", "ohm/sqrt(Hz)", "ohm"),
    family="shunted",
    kernel=shunted.kernel_coil_with_core,
    encode=shunted.encode_coil_with_core,
    decode=shunted.decode_coil_with_core,
    products=_f0(-0.5, -0.5, 0.0, 0.0, 0.0),
)

EXTENDED: Mapping[str, Circuit] = MappingProxyType({"coil": _CORE})
"""The same circuit with its optional element, used where the data ask for it."""
