"""Instruments: the link, the profiles that say how to talk, and the procedure of a measurement.

Give `take` a `Link` to the instrument, its `Profile` and a `Plan`; `examine_address` finds out why
an instrument does not answer.
"""

from benchapp.instruments.doctor import Examined, examine_address
from benchapp.instruments.link import Link, LinkSettings
from benchapp.instruments.plan import Plan
from benchapp.instruments.procedure import PARTIAL, Aside, Ending, Taken, switch_off, take
from benchapp.instruments.profile import METHODS, Profile
from benchapp.instruments.profile_text import (
    is_profile,
    load_profile,
    parse_profile,
    shipped_profiles,
)
from benchapp.instruments.reading import Point

__all__ = [
    "METHODS",
    "PARTIAL",
    "Aside",
    "Ending",
    "Examined",
    "Link",
    "LinkSettings",
    "Plan",
    "Point",
    "Profile",
    "Taken",
    "examine_address",
    "is_profile",
    "load_profile",
    "parse_profile",
    "shipped_profiles",
    "switch_off",
    "take",
]
