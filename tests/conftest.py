"""What holds for all tests: a slow or busy machine is no fault, so invented examples have no deadline of their own."""

from hypothesis import settings

settings.register_profile("ours", deadline=None)
settings.load_profile("ours")
