"""Who may ask for what."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from rimside.web.app import make_app
from rimside.web.guard import HEADERS, POLICY
from rimside.web.house import House

PORT = 8471
HERE = f"http://127.0.0.1:{PORT}"
SHARED = "192.0.2.7"  # RFC 5737, an address for examples


def client(folder: Path, base: str = HERE, peer: str = "127.0.0.1", hosts: frozenset[str] = frozenset()) -> Any:
    """A client at an address, of a page that may be shared."""
    house = House(root=folder, port=PORT, hosts=hosts)
    return TestClient(make_app(house), base_url=base, client=(peer, 50000), raise_server_exceptions=False)


@pytest.fixture
def here(production: Path) -> Iterator[Any]:
    """A client on this machine."""
    with client(production) as opened:
        yield opened


def test_a_page_is_shown_to_this_machine(here: Any) -> None:
    """The piano view answers with its own policy, and with every header of the guard."""
    answer = here.get("/")
    assert answer.status_code == 200
    assert {name: answer.headers[name] for name in HEADERS} == dict(HEADERS)
    assert "unsafe" not in POLICY


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8471", "127.0.0.1:1", "127.0.0.1.evil.example:8471", ""]
)
def test_another_name_for_this_machine_is_refused(here: Any, host: str) -> None:
    """A page elsewhere whose name leads here (DNS rebinding) sends another Host."""
    assert here.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", [None, "null", "http://evil.example", "http://127.0.0.1:1"])
def test_a_change_from_elsewhere_is_refused(here: Any, origin: str | None) -> None:
    """A form on another page sends its own Origin, or none."""
    headers = {} if origin is None else {"origin": origin}
    assert here.post("/nothing", headers=headers).status_code == 403


def test_a_change_from_the_page_is_let_through(here: Any) -> None:
    """The page's own Origin passes the guard; there is just nothing at this address."""
    assert here.post("/nothing", headers={"origin": HERE}).status_code == 404


@pytest.mark.parametrize("path", ["/", "/scene.json", "/plan.svg", "/sound"])
def test_the_network_sees_no_page_of_the_director(production: Path, path: str) -> None:
    """With --share the local network reaches the players' addresses alone."""
    for peer, base in (
        ("192.0.2.50", f"http://{SHARED}:{PORT}"),
        ("192.0.2.50", HERE),
        ("127.0.0.1", f"http://{SHARED}:{PORT}"),
    ):
        with client(production, base, peer, frozenset({SHARED})) as opened:
            assert opened.get(path).status_code == 403


def test_the_network_sees_the_still_files(production: Path) -> None:
    """Style, scripts and type belong to the players' pages too."""
    with client(production, f"http://{SHARED}:{PORT}", "192.0.2.50", frozenset({SHARED})) as opened:
        assert opened.get("/static/look.css").status_code == 200
        assert opened.get("/type/Bold.ttf").status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static//etc/passwd",
        "/type/..%2f..%2fpyproject.ttf",
        "/type/Italic.ttf",
    ],
)
def test_no_path_reaches_the_disc(here: Any, path: str) -> None:
    """Only the files of the page itself are served."""
    assert here.get(path).status_code == 404


@pytest.mark.parametrize("name", ["../x", "..", "a/b", "%2e%2e", "nothing"])
def test_a_name_is_no_path(here: Any, name: str) -> None:
    """Castings and variants are names; whatever leads out of the folder is none."""
    assert here.get("/scene.json", params={"casting": name}).status_code == 400
    assert here.get("/scene.json", params={"variant": name}).status_code == 400


def test_what_is_too_large_is_refused(here: Any) -> None:
    """A body over the limit is refused before it is read."""
    answer = here.post("/nothing", content=b"x" * 2_000_001, headers={"origin": HERE})
    assert answer.status_code == 413


def test_markup_in_names_is_text(folder: Path) -> None:
    """A title with markup is shown as it is written."""
    path = folder / "production.toml"
    text = path.read_text("utf-8")
    line = next(line for line in text.splitlines() if line.startswith("title"))
    path.write_text(text.replace(line, 'title = "<script>alert(1)</script>"'), "utf-8")
    with client(folder) as opened:
        body = opened.get("/").text
    assert "<script>alert" not in body
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in body
