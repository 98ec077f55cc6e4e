from __future__ import annotations

from hypothesis import settings

# A busy machine is no reason to fail: the time an example takes says nothing here.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
