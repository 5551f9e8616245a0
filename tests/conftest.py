"""For all tests: no deadline for a single example, because a busy machine is not a defect."""

from hypothesis import settings

settings.register_profile("grainlog", deadline=None)
settings.load_profile("grainlog")
