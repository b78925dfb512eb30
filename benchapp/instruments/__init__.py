"""Instruments: the link, the profiles that say how to talk, and the procedure of a measurement."""

from benchapp.instruments.link import Link, LinkSettings

__all__ = ["Link", "LinkSettings"]
