"""How all tests are run."""

from __future__ import annotations

from hypothesis import settings

# A busy machine is no failure: how long an example takes is for the benchmarks to say.
settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")
