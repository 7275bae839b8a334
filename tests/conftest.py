"""Laws are tried on the same examples each time, so that a red test is the change's own.

``--hypothesis-profile=default`` looks for new ones.
"""

from hypothesis import settings

settings.register_profile("steady", derandomize=True)
settings.load_profile("steady")
