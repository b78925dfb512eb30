"""What every test stands on: no display, and examples that are the same in each run."""

from __future__ import annotations

import os

from hypothesis import settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# A law that fails must fail for everybody; a shared machine may pause at any moment.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")
