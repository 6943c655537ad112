"""Random draws: the same ones in every default run, new ones in `make soak`."""

from __future__ import annotations

import shutil
from typing import Any

from hypothesis import Phase, settings

settings.register_profile("same", derandomize=True, deadline=None, phases=(Phase.explicit, Phase.generate))
settings.register_profile("soak", deadline=None)
settings.load_profile("same")


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say it where nobody can miss it: without a Chromium nothing was looked at."""
    if not any(shutil.which(name) for name in ("chromium", "chromium-browser")):
        terminalreporter.write_line("No Chromium here: the tests that look at the page were left out.", yellow=True)
