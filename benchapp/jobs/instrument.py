"""Work with an instrument."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from benchapp.instruments import (
    Ending,
    Examined,
    Link,
    LinkSettings,
    Plan,
    Point,
    Taken,
    examine_address,
    load_profile,
    switch_off,
    take,
)
from benchapp.jobs.progress import Cancelled, Progress, stop_if

__all__ = ["Discover", "ExamineAddress", "SwitchOff", "TakeSweep", "unwatched"]


def unwatched(_point: Point) -> None:
    """Take a measured point and show it to nobody."""


def _unshown(_step: Examined) -> None:
    """Take a step of an examination and show it to nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeSweep:
    """Take a sweep, or a record, from an instrument.

    ``profile`` is a file, or the name of one that comes with the program; ``backend`` names
    another VISA library than the profile's; ``watch`` is shown each point as it comes.

    A failure or a stop on the way is no error: what came before is kept, and `Taken` tells.

    Raises
    ------
    FileAccessError, ProfileError
        When the profile cannot be opened or breaks a rule.
    UsageError
        When the plan does not suit it or needs consent; nothing was switched then.
    """

    profile: str
    address: str
    plan: Plan
    backend: str = ""
    watch: Callable[[Point], None] = unwatched

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Taken:
        """Measure; the output is off afterwards, or `Taken` says that this is not sure."""
        profile = load_profile(self.profile)
        settings = _chosen(profile.link, self.backend)
        link = Link(self.address, settings, cancelled=cancelled)
        return take(link, profile, self.plan, progress=progress, watch=self.watch)


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchOff:
    """Switch an instrument's output off: ``bias`` (V) is what was set last.

    Raises
    ------
    FileAccessError, ProfileError
        When the profile cannot be opened or breaks a rule.
    """

    profile: str
    address: str
    bias: float | None = None
    backend: str = ""

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Ending:
        """Switch off, whatever was stopped."""
        del cancelled  # nothing stops this
        progress("switching the output off", 0.0)
        profile = load_profile(self.profile)
        return switch_off(
            Link(self.address, _chosen(profile.link, self.backend)), profile, self.bias
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ExamineAddress:
    """Test an address step by step; ``watch`` is shown each step as it is done.

    ``backend`` names another VISA library than the profile's.

    Raises
    ------
    FileAccessError, ProfileError
        When the profile cannot be opened or breaks a rule.
    """

    address: str
    profile: str | None = None
    watch: Callable[[Examined], None] = _unshown
    backend: str = ""

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[Examined, ...]:
        """Examine the address; the last step tells the trouble, if there is one."""
        profile = None if self.profile is None else load_profile(self.profile)
        steps: list[Examined] = []
        progress(f"examining {self.address}", 0.0)
        for step in examine_address(
            self.address, profile, backend=self.backend, cancelled=cancelled
        ):
            steps.append(step)
            self.watch(step)
        return tuple(steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Discover:
    """List the addresses that VISA finds. It sends broadcasts: only when a person asks for it.

    Raises
    ------
    LinkError
        When the VISA library is missing or fails.
    """

    backend: str = "@py"

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[str, ...]:
        """Look for instruments; takes seconds."""
        from benchapp.instruments.visa import discover  # start-up: VISA only where it is used

        stop_if(cancelled)
        progress("looking for instruments", 0.0)
        return discover(self.backend)


def _chosen(settings: LinkSettings, backend: str) -> LinkSettings:
    return replace(settings, backend=backend) if backend else settings
