"""What an equivalent circuit is: its elements, its impedance, and the coordinates of its fit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Circuit", "ComplexArray", "Decode", "Encode", "FloatArray", "Kernel", "Product"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Kernel = Callable[[FloatArray, FloatArray], tuple[ComplexArray, ComplexArray]]
Encode = Callable[[FloatArray, float], FloatArray]
Decode = Callable[[FloatArray, float], tuple[FloatArray, FloatArray]]
TWO_PI = 2.0 * np.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A derived quantity that is a product of powers: factor * prod(values ** exponents)."""

    unit: str
    factor: float
    exponents: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """One equivalent circuit of a one-port.

    ``elements`` are named in the order of every ``values`` array. A fit works in *coordinates*
    p, chosen so that the impedance is as nearly linear in them as it can be: reactances and
    resistances at a reference angular frequency w, relative to one another. They may take
    any sign, so that an element the data do not determine passes smoothly through zero.

    Parameters
    ----------
    kernel
        (y, p) -> Z (N,) and d ln Z / dp (P, N), with y = 2 pi f / w.
    encode
        (values, w) -> p.
    decode
        (p, w) -> values (..., P) and d values / dp (..., P, P).
    products
        Derived quantities that are products of powers of the elements.
    powers
        Elements and products alike as products of powers: names, units, factors, exponents.
    family
        How the elements are joined, which decides the way a start is found.
    """

    name: str
    title: str
    elements: tuple[str, ...]
    units: tuple[str, ...]
    family: Literal["series", "parallel", "shunted", "coupled"]
    kernel: Kernel = field(repr=False)
    encode: Encode = field(repr=False)
    decode: Decode = field(repr=False)
    products: Mapping[str, Product] = field(default_factory=dict)
    powers: tuple[tuple[str, ...], tuple[str, ...], FloatArray, FloatArray] = field(
        init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        products, size = self.products.values(), len(self.elements)
        powers = (
            (*self.elements, *self.products),
            (*self.units, *(product.unit for product in products)),
            np.array([1.0] * size + [product.factor for product in products]),
            np.array([*np.eye(size), *(product.exponents for product in products)]),
        )
        object.__setattr__(self, "powers", powers)

    def impedance(self, frequency: ArrayLike, values: ArrayLike) -> ComplexArray:
        """Give the impedance.

        Parameters
        ----------
        frequency : (N,) float, Hz
        values : (P,) float, SI units
            In the order of ``elements``.

        Returns
        -------
        (N,) complex, ohm
        """
        return self._evaluate(frequency, values)[0]

    def gradient(self, frequency: ArrayLike, values: ArrayLike) -> ComplexArray:
        """Give the gradient of the logarithm of the impedance.

        Parameters
        ----------
        frequency : (N,) float, Hz
        values : (P,) float, SI units
            In the order of ``elements``, none of them zero.

        Returns
        -------
        (P, N) complex
            d ln Z / d value, one row per element.
        """
        return self._evaluate(frequency, values)[1]

    def _evaluate(
        self, frequency: ArrayLike, values: ArrayLike
    ) -> tuple[ComplexArray, ComplexArray]:
        omega = TWO_PI * np.asarray(frequency, dtype=np.float64)
        scale = float(np.exp(np.log(omega).mean()))
        p = self.encode(np.asarray(values, dtype=np.float64), scale)
        z, jacobian = self.kernel(omega / scale, p)
        slopes = self.decode(p, scale)[1]
        return z, np.asarray(np.linalg.solve(slopes.T, jacobian))
