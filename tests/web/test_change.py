"""What the page can change, asked as the page asks."""

from __future__ import annotations

import json
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from rimside.files.history import OUTSIDE
from rimside.web.app import make_app
from rimside.web.house import House

HERE = "http://127.0.0.1:8471"


@pytest.fixture
def client(folder: Path) -> Iterator[Any]:
    """The page of a copy of the small production."""
    house = House(root=folder, port=8471)
    options: Any = {"base_url": HERE, "headers": {"origin": HERE}, "client": ("127.0.0.1", 5)}
    with TestClient(make_app(house), raise_server_exceptions=False, **options) as opened:
        yield opened
    house.desk().close()


def movable(client: Any) -> tuple[str, str]:
    """A figure and a player that it can go to without loss."""
    scene = client.get("/scene.json").json()
    for figure in scene["figures"]:
        for player in scene["players"]:
            if figure.get("player") not in (None, player["id"]):
                told = client.post(
                    "/change/try", json={"figure": figure["id"], "pins": [{"player": player["id"]}]}
                ).json()
                if "slip" not in told and not told["lost"]:
                    return figure["id"], player["id"]
    raise AssertionError("nothing can be moved")


def test_a_pin_is_tried_kept_taken_back_and_made_again(client: Any, folder: Path) -> None:
    """The whole way of a change, with what lies on the disc at every station."""
    before = {path.name: path.read_bytes() for path in (folder / "castings").glob("*.json")}
    figure, player = movable(client)
    wish = {"figure": figure, "pins": [{"player": player}], "had": []}
    tried = client.post("/change/try", json=wish).json()
    assert any(row["figure"] == figure and row["after"]["player"] == player for row in tried["moved"])
    assert {path.name: path.read_bytes() for path in (folder / "castings").glob("*.json")} == before
    kept = client.post("/change/keep", json={**wish, "words": "mine"}).json()
    assert kept["can_undo"] and kept["steps"][-1]["words"] == "mine"
    assert next(f for f in client.get("/scene.json").json()["figures"] if f["id"] == figure)["player"] == player
    assert client.get("/change/pins", params={"figure": figure}).json()["pins"] == [
        {"figure": figure, "player": player}
    ]
    assert client.post("/undo", json={}).json()["step"] == "mine"
    assert {path.name: path.read_bytes() for path in (folder / "castings").glob("*.json")} == before
    assert client.post("/redo", json={}).json()["step"] == "mine"
    assert next(f for f in client.get("/scene.json").json()["figures"] if f["id"] == figure)["player"] == player


def test_two_pin_one_figure_and_the_second_is_told(client: Any) -> None:
    """Who looked at the figure before the other's pin is refused with what the other did, and can send it on top."""
    figure, player = movable(client)
    mine = {"figure": figure, "pins": [{"player": player, "forbid": True}], "had": []}
    client.post("/change/keep", json={"figure": figure, "pins": [{"player": player}], "had": [], "words": "theirs"})
    refused = client.post("/change/keep", json=mine)
    assert refused.status_code == 409
    assert "theirs" in refused.json()["slip"]
    had = client.get("/change/pins", params={"figure": figure}).json()["pins"]
    assert client.post("/change/keep", json={**mine, "had": had}).status_code == 200


def test_a_file_is_checked_beside_its_field_and_kept(client: Any, folder: Path) -> None:
    """A slip has words and a place; a good change is written with everything else as it was."""
    told = client.get("/files/form", params={"name": "ensemble.toml"}).json()
    way = ["player", 0, "stature_mm"]
    bad = {"name": "ensemble.toml", "sha": told["sha"], "edits": [{"do": "set", "way": way, "value": 1.7}]}
    found = client.post("/files/check", json=bad).json()
    assert (found["way"] == way and "metres" in found["slip"]) or "in m" in found["slip"]
    assert client.post("/files/save", json=bad).status_code == 400
    good = {**bad, "edits": [{"do": "set", "way": way, "value": 1701}]}
    assert client.post("/files/save", json=good).status_code == 200
    assert tomllib.loads((folder / "ensemble.toml").read_text("utf-8"))["player"][0]["stature_mm"] == 1701
    assert client.get("/steps").json()["steps"][-1]["words"] == "ensemble.toml written"


def test_two_write_one_file_and_the_second_is_told(client: Any, folder: Path) -> None:
    """The second form is refused, its edits can go on top of the other's, and both changes are there then."""
    sha = client.get("/files/form", params={"name": "ensemble.toml"}).json()["sha"]
    first = {
        "name": "ensemble.toml",
        "sha": sha,
        "edits": [{"do": "set", "way": ["player", 0, "stature_mm"], "value": 1702}],
    }
    second = {
        "name": "ensemble.toml",
        "sha": sha,
        "edits": [{"do": "set", "way": ["player", 1, "stature_mm"], "value": 1703}],
    }
    assert client.post("/files/save", json=first).status_code == 200
    refused = client.post("/files/save", json=second)
    assert refused.status_code == 409 and "ensemble.toml written" in refused.json()["slip"]
    now = client.get("/files/form", params={"name": "ensemble.toml"}).json()["sha"]
    assert client.post("/files/save", json={**second, "onto": now}).status_code == 200
    players = tomllib.loads((folder / "ensemble.toml").read_text("utf-8"))["player"]
    assert [player["stature_mm"] for player in players[:2]] == [1702, 1703]


def test_what_goes_on_top_finds_its_entry_again(client: Any, folder: Path) -> None:
    """The other has taken out the first player; the change of the second player is the second player's still."""
    told = client.get("/files/form", params={"name": "ensemble.toml"}).json()
    name = told["table"]["player"][1]["name"]
    gone = {"name": "ensemble.toml", "sha": told["sha"], "edits": [{"do": "remove", "way": ["player", 0]}]}
    edit = {"do": "set", "way": ["player", 1, "stature_mm"], "value": 1704}
    mine = {"name": "ensemble.toml", "sha": told["sha"], "edits": [edit]}
    assert client.post("/files/save", json=gone).status_code == 200
    assert client.post("/files/check", json=mine).json()["slip"] == ""
    assert client.post("/files/save", json=mine).status_code == 409
    now = client.get("/files/form", params={"name": "ensemble.toml"}).json()["sha"]
    assert client.post("/files/save", json={**mine, "onto": now}).status_code == 200
    players = tomllib.loads((folder / "ensemble.toml").read_text("utf-8"))["player"]
    assert [player["name"] for player in players if player["stature_mm"] == 1704] == [name]
    lost = {**mine, "edits": [{**edit, "way": ["player", 0, "stature_mm"]}]}
    assert "no such entry any more" in client.post("/files/check", json=lost).json()["slip"]


@pytest.mark.parametrize("name", ["pins.toml", "techniques.toml"])
def test_a_file_that_is_not_there_is_begun(client: Any, folder: Path, name: str) -> None:
    """Its form is empty, its first entry makes it, and what somebody else began meanwhile is not overwritten."""
    (folder / name).unlink()
    told = client.get("/files/form", params={"name": name}).json()
    assert told["sha"] is None and not told["slip"]
    figure = client.get("/scene.json").json()["figures"][0]["id"]
    pin = {"do": "add", "way": ["pin"], "value": {"figure": figure, "hand": "left", "forbid": True}}
    word = {"do": "set", "way": ["words", "thrum"], "value": "line bow"}
    body = {"name": name, "sha": None, "edits": [pin if name == "pins.toml" else word]}
    assert client.post("/files/check", json=body).json()["slip"] == ""
    assert client.post("/files/save", json=body).status_code == 200
    assert tomllib.loads((folder / name).read_text("utf-8"))
    assert client.post("/files/save", json=body).status_code == 409
    assert client.post("/undo", json={}).status_code == 200
    assert not (folder / name).exists()


def test_a_file_by_hand_in_between_is_never_overwritten_unseen(client: Any, folder: Path) -> None:
    """What was edited outside counts as somebody else's change."""
    sha = client.get("/files/form", params={"name": "kit.toml"}).json()["sha"]
    path = folder / "kit.toml"
    path.write_text(path.read_text("utf-8") + "\n# by hand\n", "utf-8")
    body = {"name": "kit.toml", "sha": sha, "edits": [{"do": "set", "way": ["line_bow_hands"], "value": 1}]}
    assert client.post("/files/save", json=body).status_code == 409
    assert path.read_text("utf-8").endswith("# by hand\n")


@pytest.mark.parametrize(
    "name", ["../x.toml", "history.sqlite", "castings/grand_275.json", "score.csv", "/etc/passwd", "pianos/../kit.toml"]
)
def test_what_is_no_file_to_write_is_refused(client: Any, name: str) -> None:
    """Neither other files of the folder nor files outside can be written, checked or read as a form."""
    assert client.get("/files/form", params={"name": name}).status_code == 400
    body = {"name": name, "sha": None, "text": "x = 1\n"}
    assert client.post("/files/save", json=body).status_code in (400, 409)
    assert client.post("/files/check", json=body).json()["slip"]


def test_a_score_is_read_before_it_is_kept(client: Any, folder: Path) -> None:
    """A good score is named in production.toml in the same step; what cannot be read changes nothing."""
    before = (folder / "production.toml").read_bytes()
    facts = tomllib.loads(before.decode())
    data = (folder / facts["score"]).read_bytes()
    ending = Path(facts["score"]).suffix
    bad = client.post(
        "/files/upload", files={"file": (f"x{ending}", b"<score-partwise><nothing")}, data={"kind": "score"}
    )
    assert bad.status_code == 400
    assert (folder / "production.toml").read_bytes() == before
    good = client.post("/files/upload", files={"file": (f"../../Ünder Way{ending}", data)}, data={"kind": "score"})
    assert good.status_code == 200, good.text
    kept = tomllib.loads((folder / "production.toml").read_text("utf-8"))["score"]
    assert kept == f"Under-Way{ending}"
    assert (folder / kept).read_bytes() == data
    client.post("/undo", json={})
    assert (folder / "production.toml").read_bytes() == before and not (folder / kept).exists()


def test_a_picture_is_what_its_bytes_say(client: Any, folder: Path) -> None:
    """A PNG is kept under survey/, whatever it was called; anything else is refused."""
    png = b"\x89PNG\r\n\x1a\n" + bytes(64)
    assert (
        client.post("/files/upload", files={"file": ("../hall.exe", png)}, data={"kind": "picture"}).status_code == 200
    )
    assert (folder / "survey" / "hall.png").read_bytes() == png
    bad = client.post("/files/upload", files={"file": ("hall.png", b"#!/bin/sh\n")}, data={"kind": "picture"})
    assert bad.status_code == 400 and "JPEG" in bad.json()["slip"]


def test_variants_are_made_compared_taken_over_and_put_aside(client: Any, folder: Path) -> None:
    """A variant is changed by itself; the main plan stays until it is taken over, and that can be taken back."""
    assert client.post("/variants/make", json={"name": "calmer"}).status_code == 200
    assert client.post("/variants/make", json={"name": "calmer"}).status_code == 400
    sha = client.get("/files/form", params={"name": "ensemble.toml", "variant": "calmer"}).json()["sha"]
    edit = {"do": "set", "way": ["player", 0, "stature_mm"], "value": 1705}
    body = {"name": "ensemble.toml", "sha": sha, "edits": [edit]}
    assert client.post("/files/save", params={"variant": "calmer"}, json=body).status_code == 200
    mine = (folder / "ensemble.toml").read_bytes()
    theirs = (folder / "variants" / "calmer" / "ensemble.toml").read_bytes()
    assert mine != theirs
    page = client.get("/variants", headers={"accept": "text/html"}).text
    assert "calmer" in page and "ensemble.toml" in page
    assert client.post("/variants/take-over", json={"name": "calmer"}).status_code == 200
    assert (folder / "ensemble.toml").read_bytes() == theirs
    client.post("/undo", json={})
    assert (folder / "ensemble.toml").read_bytes() == mine
    assert client.post("/variants/remove", json={"name": "calmer"}).status_code == 200
    assert (folder / "variants" / ".removed" / "calmer" / "ensemble.toml").read_bytes() == theirs
    assert client.get("/scene.json", params={"variant": "calmer"}).status_code == 400


@pytest.mark.parametrize("name", ["../x", "a/b", "", ".removed", "a b", "x" * 61])
def test_a_variant_has_a_plain_name(client: Any, name: str) -> None:
    """Names that would lead elsewhere are refused."""
    assert client.post("/variants/make", json={"name": name}).status_code == 400


def test_a_step_of_somebody_else_is_not_taken_back_unseen(client: Any, folder: Path) -> None:
    """Two look at the same steps; after the first took one back, the second's button would take back another."""
    for value in (1706, 1707):
        stature(client, value)
    seen = client.get("/steps").json()["position"]
    assert client.post("/undo", json={"step": seen}).status_code == 200
    refused = client.post("/undo", json={"step": seen})
    assert refused.status_code == 409 and "ensemble.toml written" in refused.json()["slip"]
    assert tomllib.loads((folder / "ensemble.toml").read_text("utf-8"))["player"][0]["stature_mm"] == 1706


def stature(client: Any, value: int, **where: str) -> None:
    """Write the stature of the first player."""
    sha = client.get("/files/form", params={"name": "ensemble.toml", **where}).json()["sha"]
    edit = {"do": "set", "way": ["player", 0, "stature_mm"], "value": value}
    body = {"name": "ensemble.toml", "sha": sha, "edits": [edit]}
    assert client.post("/files/save", params=where, json=body).status_code == 200


def test_many_steps_are_told_around_where_one_is(client: Any) -> None:
    """After going far back, the next step to make again is among those that the page is told."""
    for value in range(1600, 1670):
        stature(client, value)
    for _ in range(69):
        client.post("/undo", json={})
    told = client.get("/steps").json()
    later = [step["number"] for step in told["steps"] if step["number"] > told["position"]]
    assert client.post("/redo", json={"step": later[0]}).status_code == 200


def test_a_variant_that_is_taken_over_leaves_the_pictures(client: Any, folder: Path) -> None:
    """A picture that came in after the variant was made is no part of the plan, and stays."""
    client.post("/variants/make", json={"name": "bolder"})
    stature(client, 1708, variant="bolder")
    png = b"\x89PNG\r\n\x1a\n" + bytes(64)
    client.post("/files/upload", files={"file": ("hall.png", png)}, data={"kind": "picture"})
    assert client.post("/variants/take-over", json={"name": "bolder"}).status_code == 200
    assert (folder / "survey" / "hall.png").read_bytes() == png
    assert tomllib.loads((folder / "ensemble.toml").read_text("utf-8"))["player"][0]["stature_mm"] == 1708


def test_a_casting_whose_files_changed_meanwhile_says_so(client: Any, folder: Path) -> None:
    """It is kept, as a step, and the person is told to cast once more."""
    client.post("/cast", json={"close": False, "seconds": 2})
    stature(client, 1709)
    told = ended(client)
    assert not told["slip"] and "ensemble.toml changed meanwhile" in str(told["words"])


def test_a_casting_that_dies_says_so(client: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault of the program itself is not silent."""

    def broken(*_: object) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr("rimside.files.workers.here", broken)
    monkeypatch.setattr("threading.excepthook", lambda _: None)
    client.post("/cast", json={"close": False, "seconds": 2})
    assert "without an answer" in str(ended(client)["slip"])


def ended(client: Any) -> dict[str, object]:
    """How the casting that is being made ended."""
    until = time.monotonic() + 60.0
    while client.get("/cast/state").json()["running"] and time.monotonic() < until:
        time.sleep(0.1)
    told: dict[str, object] = client.get("/cast/state").json()
    return told


def test_a_whole_casting_is_made_beside_the_page(client: Any, folder: Path) -> None:
    """It is begun, its progress is told, and its end is a step that can be taken back."""
    before = next((folder / "castings").glob("*.json")).read_bytes()
    assert client.post("/cast", json={"close": False, "seconds": 2}).json()["running"]
    assert client.post("/cast", json={"close": False}).status_code == 400
    told = ended(client)
    assert not told["slip"] and "figures cast" in str(told["words"])
    assert client.get("/steps").json()["steps"][-1]["words"].startswith("cast ")
    client.post("/undo", json={})
    assert next((folder / "castings").glob("*.json")).read_bytes() == before


def test_a_casting_that_is_stopped_changes_nothing(client: Any, folder: Path) -> None:
    """Stopped within a second or two, whatever it is at; every file is as it was."""
    before = next((folder / "castings").glob("*.json")).read_bytes()
    client.post("/cast", json={"close": False, "seconds": 60})
    time.sleep(0.5)
    client.post("/cast/stop", json={})
    begun = time.monotonic()
    assert "stopped" in str(ended(client)["words"])
    assert time.monotonic() - begun < 3.0
    assert next((folder / "castings").glob("*.json")).read_bytes() == before


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b'{"figure": 3, "pins": []}', b'{"figure": "x", "pins": [{"evil": 1}]}', b"\xff\xfe"]
)
def test_what_cannot_be_used_is_refused_in_words(client: Any, body: bytes) -> None:
    """Whatever is sent instead of a wish brings one clear message and changes nothing."""
    answer = client.post("/change/try", content=body)
    assert answer.status_code == 400
    assert json.loads(answer.text)["slip"]


def test_what_another_program_did_is_a_step_too(client: Any, folder: Path) -> None:
    """A file that was changed by hand is noticed as a step when the page next changes anything."""
    client.get("/steps")
    (folder / "kit.toml").write_text((folder / "kit.toml").read_text("utf-8") + "\n", "utf-8")
    sha = client.get("/files/form", params={"name": "pins.toml"}).json()["sha"]
    client.post("/files/save", json={"name": "pins.toml", "sha": sha, "text": 'format = "rimside-pins/1"\n'})
    words = [step["words"] for step in client.get("/steps").json()["steps"]]
    assert words == [OUTSIDE, "pins.toml written"]
