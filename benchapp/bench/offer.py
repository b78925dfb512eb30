"""What the simulated bench offers by name: parts in its clip, and instruments for each profile."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from benchapp.bench import scenario
from benchapp.bench.analyser import Method
from benchapp.bench.device import Device, Setup, draw
from benchapp.bench.fault import FAULTS, Fault
from benchapp.bench.fixture import OPEN, Fixture
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.errors import UsageError

__all__ = ["CLIP", "INSTRUMENTS", "PARTS", "Offer", "fault_from", "instrument_for", "setup_of"]

LOAD_OHM = 1000.0
HIGHEST_PORT = 65535

CLIP = Fixture(open_farad=2e-12, short_henry=30e-9, short_ohm=0.04)
"""The clip that holds the part."""

PARTS: Mapping[str, tuple[str, Callable[[int], Device | float]]] = MappingProxyType(
    {
        "tank": ("gate antenna coil GA-12 with its capacitor", lambda _seed: scenario.TANK),
        "drawn": (
            "a GA-12 tank drawn from its spread by the seed",
            lambda seed: draw(scenario.DESIGN, np.random.default_rng(seed)),
        ),
        "shorted-turn": ("a GA-12 tank with a shorted turn", lambda _seed: scenario.SHORTED_TURN),
        "coil": ("the GA-12 coil alone", lambda _seed: scenario.COIL),
        "series": ("coil and capacitor in series", lambda _seed: scenario.SERIES),
        "open": ("nothing: the empty clip", lambda _seed: OPEN),
        "short": ("a short", lambda _seed: 0.0),
        "load": ("a resistor of 1 kohm", lambda _seed: LOAD_OHM),
    }
)
"""Every part that can be in the clip: what it is, and how a seed makes it."""

INSTRUMENTS: Mapping[str, tuple[str, tuple[str, ...]]] = MappingProxyType(
    {
        "lcr": ("LCR meter", ("lcr-points", "lcr-list")),
        "analyser": (
            "network analyser",
            ("network-reflection", "network-series", "network-shunt"),
        ),
        "scope": ("scope and generator", ("scope-gain-phase", "scope-ring-down")),
        "terse": ("meter with one-letter commands", ()),
    }
)
"""Every instrument: what it is, and the profiles that come with the program for it."""

WIRED: Mapping[str, Method] = MappingProxyType({"network-shunt": "shunt-through"})


def instrument_for(profile: str) -> str:
    """Give the instrument of the bench that speaks a profile.

    Raises
    ------
    UsageError
        When none does.
    """
    for name, (_, profiles) in INSTRUMENTS.items():
        if profile in profiles:
            return name
    known = ", ".join(one for _, profiles in INSTRUMENTS.values() for one in profiles)
    raise UsageError(
        f"simulated bench: the profile must be one that it speaks by itself (got {profile!r}).",
        hint=f"Choose one of {known}, or start the bench and give its address.",
    )


def setup_of(part: str, seed: int = 1) -> Setup:
    """Put a part in the clip.

    Raises
    ------
    UsageError
        When there is no such part.
    """
    if part not in PARTS:
        raise UsageError(
            f"simulated bench: the part must be one that it has (got {part!r}).",
            hint=f"Choose one of {', '.join(PARTS)}.",
        )
    return Setup(device=PARTS[part][1](seed), fixture=CLIP)


def fault_from(text: str) -> Fault:
    """Make a fault of text such as ``drop@20``: the kind, and the reply (from 1) it spoils.

    Raises
    ------
    UsageError
        When the kind is unknown or the place is no number.
    """
    kind, _, place = text.partition("@")
    if kind not in FAULTS or not (place.isascii() and place.isdigit()) or int(place) < 1:
        raise UsageError(
            f"fault: must be KIND@NUMBER, the kind of fault and the reply it spoils (got "
            f"{text!r}).",
            hint=f"For example drop@20. Kinds: {', '.join(FAULTS)}.",
        )
    return Fault(kind=kind, reply=int(place) - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One instrument of the bench as a person chooses it.

    ``profile`` matters where it decides how the part is wired; ``port`` 0 takes any free one.
    """

    instrument: str = "lcr"
    part: str = "tank"
    seed: int = 1
    port: int = 0
    faults: tuple[Fault, ...] = ()
    profile: str = ""

    def server(self) -> BenchServer:
        """Make the server of this instrument; it does not run yet.

        Raises
        ------
        UsageError
            When there is no such instrument, part or port.
        """
        if self.instrument not in PANELS:
            raise UsageError(
                f"simulated bench: the instrument must be one that it has (got "
                f"{self.instrument!r}).",
                hint=f"Choose one of {', '.join(PANELS)}.",
            )
        if not 0 <= self.port <= HIGHEST_PORT:
            raise UsageError(
                f"port: must be from 0 to {HIGHEST_PORT} (got {self.port}).",
                hint="0 takes any free one.",
            )
        desk = Desk(
            setup=setup_of(self.part, self.seed),
            seed=self.seed,
            through=WIRED.get(self.profile, "series-through"),
        )
        return BenchServer(
            PANELS[self.instrument](desk), port=self.port, faults=self.faults, seed=self.seed
        )
