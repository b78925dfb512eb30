"""The simulated bench: parts, fixtures and instruments, repeatable from a seed.

A `Setup` is a part in its fixture. `Meter`, `Analyser` and `Scope` measure it and give arrays as
an instrument would send them. Randomness comes only from the generator passed in.
"""

from benchapp.bench.analyser import Analyser
from benchapp.bench.converter import Converter, Pickup
from benchapp.bench.device import Core, Device, Element, Setup, draw
from benchapp.bench.fixture import Cable, Fixture
from benchapp.bench.meter import Meter, MeterRange, Readings
from benchapp.bench.scope import Record, Scope

__all__ = [
    "Analyser",
    "Cable",
    "Converter",
    "Core",
    "Device",
    "Element",
    "Fixture",
    "Meter",
    "MeterRange",
    "Pickup",
    "Readings",
    "Record",
    "Scope",
    "Setup",
    "draw",
]
