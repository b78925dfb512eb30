"""Reports and windows share one process of tests: the application of both is the window's."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _one_application(qapp):
    """Have the application there before a report would make a smaller one."""
