"""A production to serve, a page that is really served, and a Chromium that really looks at it."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from rimside.files import job, scaffold
from tests.files import productions
from tests.web.serving import ARGUMENTS, CHROMIUM, Served, Watched, serve


@pytest.fixture(scope="session")
def production(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small production that has been cast once; tests that change anything take `folder`."""
    folder = tmp_path_factory.mktemp("made") / "production"
    scaffold.new(str(folder))
    job.cast(job.prepare(str(folder), seconds=1.0), lambda stage, share: None)
    return folder


@pytest.fixture(scope="session")
def troubled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A production with figures that nobody can take; tests that change anything take a copy."""
    return productions.with_troubles(tmp_path_factory.mktemp("troubled") / "production")


@pytest.fixture
def folder(production: Path, tmp_path: Path) -> Path:
    """A copy of the small production, to do with as a test likes."""
    return Path(shutil.copytree(production, tmp_path / "production"))


@pytest.fixture
def served(folder: Path) -> Iterator[Served]:
    """The copy of the small production, served."""
    page = serve(folder)
    yield page
    page.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One Chromium for all tests of a process."""
    from playwright.sync_api import sync_playwright

    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture
def watched() -> Iterator[Watched]:
    """Fails a test whose windows told an error or asked another machine; `allowed` are words that a test provokes."""
    found = Watched()
    yield found
    assert not found.troubles


@pytest.fixture
def window(browser: Any, watched: Watched) -> Iterator[Callable[..., Any]]:
    """Opens a new window, of its own context: `window(width=390, dress="hall")`."""
    contexts: list[Any] = []

    def opened(width: int = 1280, height: int = 800, dress: str = "paper", **options: Any) -> Any:
        scheme = "dark" if dress == "hall" else "light"
        context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme, **options)
        context.set_default_timeout(15_000)
        contexts.append(context)
        return watched.watch(context.new_page())

    yield opened
    for context in contexts:
        context.close()
