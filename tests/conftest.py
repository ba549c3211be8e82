"""For all tests: how long an example takes is not tested, since machines are busy."""

from hypothesis import settings

settings.register_profile("all", deadline=None)
settings.load_profile("all")
