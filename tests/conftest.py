"""For all tests: how long an example takes is not tested, since machines are busy."""

import os

from hypothesis import settings

# The same examples each time where a failure must tell of a change; others each time elsewhere.
settings.register_profile("all", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("all")
