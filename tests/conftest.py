"""What all tests share."""

from __future__ import annotations

from hypothesis import settings

# The first example of a test compiles kernels, so there is no deadline; examples are
# the same on every run, so that a failure can be repeated.
settings.register_profile("pathways", deadline=None, derandomize=True)
settings.load_profile("pathways")
