"""Property tests of the statistics: no time limit for a case (a busy machine is no fault), the same cases each time."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("statistics", deadline=None, derandomize=True, database=None)
settings.load_profile("statistics")
