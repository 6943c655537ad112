"""Random draws: the same ones in every default run, new ones in `make soak`."""

from __future__ import annotations

from hypothesis import Phase, settings

settings.register_profile("same", derandomize=True, deadline=None, phases=(Phase.explicit, Phase.generate))
settings.register_profile("soak", deadline=None)
settings.load_profile("same")
