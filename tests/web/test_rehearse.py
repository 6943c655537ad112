"""The rehearsal over the line: links, the clock, flags, and what nobody else may do."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient, WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from rimside.errors import BadInput
from rimside.files import project
from rimside.files.ledger import Clock, Ledger
from rimside.web.app import make_app
from rimside.web.house import House
from rimside.web.rehearsing.clock import seconds
from rimside.web.rehearsing.messages import Deed, from_phone
from rimside.web.rehearsing.now import Bar
from rimside.web.rehearsing.rehearsal import CLOSED, MOST_FLAGS, Rehearsal, after, server_ms
from tests.files.test_ledger import FLAG as KEPT

HERE = "127.0.0.1:8471"
SHARED = "192.168.4.2:8471"
FLAG = {"kind": "flag", "id": "0123456789abcdef", "at_s": 3.5, "bar": "2", "pass_": "", "figure": "", "what": "late"}


@pytest.fixture
def app(folder: Path) -> Starlette:
    return make_app(House(root=folder, port=8471, hosts=frozenset({"192.168.4.2"})))


@pytest.fixture
def client(app: Starlette) -> Iterator[TestClient]:
    """The leader's browser, on this machine."""
    with TestClient(
        app, base_url=f"http://{HERE}", headers={"origin": f"http://{HERE}"}, client=("127.0.0.1", 5)
    ) as opened:
        yield opened


@pytest.fixture
def phone(app: Starlette, client: TestClient) -> TestClient:
    """A browser elsewhere in the local network, in the same running page."""
    origin = {"origin": f"http://{SHARED}", "host": SHARED}
    found = TestClient(app, base_url=f"http://{SHARED}", headers=origin, client=("192.168.4.77", 5000))
    found.portal = client.portal
    return found


def rehearsal(client: TestClient) -> Rehearsal:
    client.get("/rehearse")
    found: Rehearsal = client.app.state.rehearsal  # type: ignore[attr-defined]
    return found


def first_player(client: TestClient) -> str:
    shown = rehearsal(client)._shown
    assert shown is not None
    return shown.players[0].id


def token(client: TestClient, player: str) -> str:
    """A fresh link of a player: what stands behind /follow/."""
    assert client.post("/rehearse/make", json={"player": player}).status_code == 200
    link: str = client.get(f"/rehearse/link/{player}").json()["link"]
    assert link.startswith(f"http://{SHARED}/follow/")
    return link.rpartition("/")[2]


def until(line: Any, kind: str, **fields: Any) -> dict[str, Any]:
    """The next message of a kind that has these fields."""
    for _ in range(50):
        message: dict[str, Any] = line.receive_json()
        if message["kind"] == kind and all(message.get(name) == value for name, value in fields.items()):
            return message
    raise AssertionError(f"no {kind} came")


def opened(client: TestClient, path: str, mark: str = "") -> Any:
    host = client.base_url.netloc.decode()
    return client.websocket_connect(f"ws://{host}{path}", headers={"host": host, "origin": f"http://{host}"})


# --- the clock --------------------------------------------------------------------------------------------------------


def test_a_phone_is_told_the_part_once_and_the_clock_at_every_change(client: TestClient, phone: TestClient) -> None:
    """Hello brings clock and part; playing and stopping come; with its mark the part is not sent again."""
    player = first_player(client)
    path = f"/follow/{token(client, player)}/line"
    with opened(phone, path) as line:
        line.send_json({"kind": "hello", "part": ""})
        assert until(line, "clock")["playing"] is False
        part = until(line, "part")
        assert part["part"]["player"]["id"] == player
        assert part["part"]["steps"]
        client.post("/rehearse/do", json={"do": "play"})
        clock = until(line, "clock", playing=True)
        assert abs(clock["server_ms"] - server_ms()) < 2000
        client.post("/rehearse/do", json={"do": "pause"})
        until(line, "clock", playing=False)
    with opened(phone, path) as line:
        line.send_json({"kind": "hello", "part": part["mark"]})
        kinds = [line.receive_json()["kind"] for _ in range(2)]
        assert kinds == ["clock", "notes"]


def test_a_ping_is_answered_with_the_times_of_its_arrival_and_answer(client: TestClient, phone: TestClient) -> None:
    """The phone's own time comes back, the server's lie between the sending and now."""
    with opened(phone, f"/follow/{token(client, first_player(client))}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        before = server_ms()
        line.send_json({"kind": "ping", "sent_ms": 123.25})
        pong = until(line, "pong")
        assert pong["sent_ms"] == 123.25
        assert before <= pong["arrived_ms"] <= pong["answered_ms"] <= server_ms()


def test_the_clock_is_there_again_after_the_server_was_gone(client: TestClient, folder: Path) -> None:
    """A new server on the same folder goes on from the same second of the piece."""
    client.post("/rehearse/do", json={"do": "pace", "speed": 0.5})
    client.post("/rehearse/do", json={"do": "play"})
    kept = rehearsal(client).clock
    again = Rehearsal(House(root=folder, port=8471))
    assert again.clock == kept
    assert seconds(again.clock, kept.server_ms + 8000) == pytest.approx(kept.at_s + 4.0)


BARS: list[Bar] = [(0.0, "1", "", "A"), (4.0, "2", "", ""), (8.0, "3", "", "B")]


@pytest.mark.parametrize(
    ("deed", "expected"),
    [
        ({"do": "play"}, {"at_s": 5.0, "playing": True}),
        ({"do": "pause"}, {"at_s": 5.0, "playing": False}),
        ({"do": "step", "by": 1}, {"at_s": 8.0}),
        ({"do": "step", "by": -1}, {"at_s": 0.0}),
        ({"do": "go", "first": "B"}, {"at_s": 8.0}),
        ({"do": "go_s", "at_s": -3.0}, {"at_s": -3.0}),
        ({"do": "pace", "speed": 0.75}, {"at_s": 5.0, "speed": 0.75}),
        ({"do": "loop", "first": "2", "last": "3"}, {"at_s": 5.0, "loop_s": (4.0, 12.0)}),
        ({"do": "unloop"}, {"at_s": 5.0, "loop_s": None}),
    ],
)
def test_each_deed_does_what_it_says(deed: dict[str, Any], expected: dict[str, Any]) -> None:
    """From 5 s into the piece, with a loop and at half speed, only what is named changes, and the epoch goes up."""
    clock = Clock(epoch=3, at_s=4.5, server_ms=1000.0, speed=0.5, playing=True, loop_s=(0.0, 20.0))
    found = after(clock, 2000.0, Deed.model_validate(deed), BARS, 12.0)
    assert found == replace(clock, epoch=4, server_ms=2000.0, **{"at_s": 5.0, **expected})


def test_a_bar_that_is_not_there_is_told_and_the_clock_stays(client: TestClient) -> None:
    """One sentence for the leader; nobody's clock moves."""
    before = rehearsal(client).clock
    told = client.post("/rehearse/do", json={"do": "go", "first": "999"})
    assert told.status_code == 400
    assert "there is no such bar" in told.json()["slip"]
    assert rehearsal(client).clock == before


# --- links ------------------------------------------------------------------------------------------------------------


def test_a_revoked_link_shows_a_plain_page_and_its_line_is_closed_at_once(
    client: TestClient, phone: TestClient
) -> None:
    """The open line ends with the code for it; so does a new one; the page says that the link is closed."""
    player = first_player(client)
    gone = token(client, player)
    assert "<main" in phone.get(f"/follow/{gone}").text
    with opened(phone, f"/follow/{gone}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        until(line, "notes")
        client.post("/rehearse/revoke", json={"player": player})
        with pytest.raises(WebSocketDisconnect) as closed:
            until(line, "never")
        assert closed.value.code == CLOSED
    page = phone.get(f"/follow/{gone}")
    assert page.status_code == 404
    assert "This link is closed" in page.text
    with opened(phone, f"/follow/{gone}/line") as line, pytest.raises(WebSocketDisconnect) as closed:
        line.receive_json()
    assert closed.value.code == CLOSED


def test_a_link_opens_one_player_and_nothing_else(client: TestClient, phone: TestClient) -> None:
    """From the local network every director's page and deed is refused, with or without a player's link."""
    held = token(client, first_player(client))
    for path in ("/", "/rehearse", "/rehearse/links", f"/rehearse/link/{first_player(client)}", "/scene.json"):
        assert phone.get(path).status_code == 403, path
        assert phone.get(path, params={"token": held}).status_code == 403, path
    for path in (
        "/rehearse/do",
        "/rehearse/make",
        "/rehearse/revoke",
        "/rehearse/answer",
        "/rehearse/choose",
        "/rehearse/measure",
    ):
        assert phone.post(path, json={"do": "play"}).status_code == 403, path
    assert phone.get(f"/follow/{held}/../../rehearse").status_code in (403, 404)
    with pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)), opened(phone, "/rehearse/line") as line:
        line.receive_json()


def test_only_the_page_itself_may_open_a_line(client: TestClient) -> None:
    """Another site that knows a link is refused by its Origin."""
    path = f"ws://{HERE}/follow/{token(client, first_player(client))}/line"
    headers = {"host": HERE, "origin": "http://elsewhere.example"}
    with (
        pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)),
        client.websocket_connect(path, headers=headers) as line,
    ):
        line.receive_json()


def test_a_link_for_somebody_who_does_not_play_is_refused(client: TestClient) -> None:
    """One sentence, and nothing in the ledger."""
    told = client.post("/rehearse/make", json={"player": "nobody-at-all"})
    assert told.status_code == 400
    assert "nobody of this name plays" in told.json()["slip"]
    assert rehearsal(client).ledger.links() == ()


def test_a_code_shows_only_a_link_that_was_made_here(client: TestClient, folder: Path) -> None:
    """No token is on the disc, so that a link made before the server started cannot be shown; it still opens."""
    player = first_player(client)
    assert client.get(f"/rehearse/code/{player}").status_code == 404
    kept = token(client, player)
    assert client.get(f"/rehearse/code/{player}").text.startswith("<svg")
    rehearsal(client).tokens.clear()
    assert client.get(f"/rehearse/code/{player}").status_code == 404
    assert client.get(f"/follow/{kept}").status_code == 200
    assert kept.encode() not in b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_the_print_has_a_code_for_every_link(client: TestClient) -> None:
    """As many pictures as links that were made; the others say what to do."""
    player = first_player(client)
    token(client, player)
    page = client.get("/rehearse/links").text
    assert page.count("<img") == 1
    assert f"/rehearse/code/{player}" in page
    assert "No link made since the page was opened" in page


# --- flags ------------------------------------------------------------------------------------------------------------


def test_a_flag_is_kept_once_told_to_the_leader_and_answered(client: TestClient, phone: TestClient) -> None:
    """Sent twice it is there once; the leader sees it; done with words it comes back to the phone."""
    player = first_player(client)
    with opened(client, "/rehearse/line") as leader, opened(phone, f"/follow/{token(client, player)}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        for _ in range(2):
            line.send_json(FLAG)
            until(line, "kept", id=FLAG["id"])
        room = until(leader, "room")
        while not room["flags"]:
            room = until(leader, "room")
        flag = room["flags"][0]
        assert (flag["player"], flag["what"], flag["done_at"]) == (player, "late", None)
        client.post("/rehearse/answer", json={"flag": flag["id"], "done": True, "answer": "slower there"})
        while not (notes := until(line, "notes")["notes"]) or notes[0]["done_at"] is None:
            pass
        assert notes[0]["answer"] == "slower there"
    assert len(rehearsal(client).ledger.flags()) == 1


def test_a_phone_gets_its_own_notes_only(client: TestClient, phone: TestClient) -> None:
    """What one player flagged is in no message to another."""
    shown = rehearsal(client).ledger
    players = [one.id for one in rehearsal(client)._shown.players]  # type: ignore[union-attr]
    assert len(players) > 1
    with opened(phone, f"/follow/{token(client, players[0])}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        line.send_json({**FLAG, "what": "only for me"})
        until(line, "kept")
    assert shown.flags(players[0])
    with opened(phone, f"/follow/{token(client, players[1])}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        assert until(line, "notes")["notes"] == []


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"kind":"flag"}', '{"kind":"play"}', '{"kind":"ping","sent_ms":"x"}', "[" * 5000]
    + [json.dumps({**FLAG, **change}) for change in ({"what": ""}, {"id": "../x"}, {"measured_s": -1}, {"more": 1})]
    + ['{"kind":"ping","sent_ms":NaN}', json.dumps({**FLAG, "what": "x" * 401})],
)
def test_messages_that_make_no_sense_are_refused(text: str) -> None:
    """Nothing that is not one of the three messages gets past the reading."""
    with pytest.raises(BadInput):
        from_phone(text)


def test_a_line_that_only_talks_nonsense_is_closed_and_others_go_on(client: TestClient, phone: TestClient) -> None:
    """Each is refused with its id, so that a phone does not send it again; after twenty the line ends."""
    with opened(phone, f"/follow/{token(client, first_player(client))}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        line.send_json({**FLAG, "what": ""})
        assert until(line, "refused")["id"] == FLAG["id"]
        for _ in range(30):
            line.send_text("nonsense")
        with pytest.raises(WebSocketDisconnect):
            until(line, "never")


def test_a_measured_time_goes_into_the_kit_and_can_be_taken_back(client: TestClient, folder: Path) -> None:
    """The leader keeps it: kit.toml says the new time and its comments stay; undone it is as before, byte for byte."""
    shown = rehearsal(client)._shown
    assert shown is not None
    figure, change = next((name, one) for name, one in shown.changes.items() if one.kind)
    ledger = rehearsal(client).ledger
    for number, (at, measured_s) in enumerate(((figure, change.whole_s + 0.75), (figure, 0.01), ("none", 2.0))):
        flag = replace(KEPT, id=f"f{number}", player=shown.players[0].id, figure=at, measured_s=measured_s)
        ledger.add_flag(flag)
    before = (folder / "kit.toml").read_bytes()
    kept = client.post("/rehearse/measure", json={"flag": "f0"})
    assert kept.status_code == 200, kept.text
    after = (folder / "kit.toml").read_text("utf-8")
    stock = next(one for one in project.load(folder).kit().stock if one.kind == change.kind)
    assert stock.pick_s == pytest.approx(change.pick_s + 0.75, abs=0.006)
    assert after.count("#") == before.decode().count("#")
    assert [(flag.id, "cast anew" in flag.answer) for flag in ledger.flags() if flag.done_at] == [("f0", True)]
    for refused in ("f1", "f2", "f9"):
        assert client.post("/rehearse/measure", json={"flag": refused}).status_code == 400
    rehearsal(client).house.desk().history().undo()
    assert (folder / "kit.toml").read_bytes() == before


def test_a_slip_in_the_folder_loses_no_flag(client: TestClient, phone: TestClient, folder: Path) -> None:
    """With production.toml broken the flag is kept all the same; before hello none is, and the phone keeps it."""
    with opened(phone, f"/follow/{token(client, first_player(client))}/line") as line:
        line.send_json(FLAG)
        assert "hello" in until(line, "slip")["what"]
        line.send_json({"kind": "hello", "part": ""})
        until(line, "notes")
        (folder / "production.toml").write_text("broken =", "utf-8")
        line.send_json(FLAG)
        assert until(line, "kept")["id"] == FLAG["id"]
    assert len(Ledger(folder).flags()) == 1


def test_a_player_cannot_fill_the_disc(folder: Path, client: TestClient, phone: TestClient) -> None:
    """One more flag than is kept is refused in words; the kept ones stay."""
    player = first_player(client)
    flags = rehearsal(client).ledger
    with opened(phone, f"/follow/{token(client, player)}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        line.send_json(FLAG)
        until(line, "kept")
        first = flags.flags()[0]
        for number in range(MOST_FLAGS - 1):
            flags.add_flag(replace(first, id=f"{player}-more-{number}"))
        line.send_json({**FLAG, "id": "fedcba9876543210"})
        assert "more than is kept" in until(line, "refused", id="fedcba9876543210")["why"]
    assert len(flags.flags()) == MOST_FLAGS


# --- what is rehearsed ------------------------------------------------------------------------------------------------


def test_a_casting_changed_on_the_disc_reaches_the_phones(client: TestClient, phone: TestClient, folder: Path) -> None:
    """When the folder says otherwise, a phone gets its part anew without asking."""
    player = first_player(client)
    with opened(phone, f"/follow/{token(client, player)}/line") as line:
        line.send_json({"kind": "hello", "part": ""})
        before = until(line, "part")
        path = folder / "production.toml"
        path.write_text(path.read_text("utf-8").replace("title = ", "title = 'Another name' # ", 1), "utf-8")
        client.post("/rehearse/do", json={"do": "pause"})
        part = until(line, "part")
        assert part["mark"] != before["mark"]
        assert part["part"]["title"] == "Another name"


def test_another_casting_is_rehearsed_when_it_is_there(client: TestClient) -> None:
    """The choice is kept in the ledger; a name that nobody cast is told."""
    name = rehearsal(client).ledger.rehearsed()
    assert name == ("", "")
    told = client.post("/rehearse/choose", json={"casting": "nowhere"})
    assert (told.status_code, "no such casting" in told.json()["slip"]) == (400, True)
    desk = rehearsal(client).house.desk()
    there = desk.name(desk.production(), None)
    assert client.post("/rehearse/choose", json={"casting": there}).status_code == 200
    assert rehearsal(client).ledger.rehearsed() == ("", there)


def test_two_threads_keep_flags_at_once(tmp_path: Path) -> None:
    """Twenty flags from two threads are all there: the ledger waits for the other writer."""
    ledger = Ledger(tmp_path)

    def many(who: str) -> None:
        for number in range(10):
            ledger.add_flag(replace(KEPT, id=f"{who}{number}"))
            time.sleep(0.001)

    threads = [threading.Thread(target=many, args=(who,)) for who in "ab"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(ledger.flags()) == 20


def test_behind_the_end_it_plays_from_the_beginning() -> None:
    """Play after the last sound starts the piece again; before it the clock goes on from where it stands."""
    done = after(Clock(at_s=300.0, server_ms=0.0), 1000.0, Deed(do="play"), [], 212.5)
    assert (done.at_s, done.playing) == (0.0, True)
    assert after(Clock(at_s=200.0, server_ms=0.0), 1000.0, Deed(do="play"), [], 212.5).at_s == 200.0
