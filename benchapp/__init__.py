"""A bench companion: measure a coil, a capacitor or a tank instead of guessing it."""

__version__ = "0.1.0"
