"""What stands on a card, and how lines fall on cards."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimside.paper.cards import BODY_MM, card_deck
from rimside.paper.material import BookInput
from rimside.paper.turning import LINE_MM, height_mm, paginated
from rimside.paper.wording import clock
from tests.paper import fixture


def deck(player: str, book: BookInput | None = None) -> dict[str, Any]:
    chosen = book or fixture.book()
    found = card_deck(chosen, next(one for one in chosen.players if one.id == player), 1)
    assert found is not None
    return found


def lines(player: str, book: BookInput | None = None) -> list[dict[str, Any]]:
    return [line for page in deck(player, book)["pages"] for line in page["lines"]]


def test_each_figure_of_the_player_is_one_line() -> None:
    """As many figure lines as figures cast on the player, no more."""
    for player in fixture.players():
        cast = [cast for cast in fixture.casting().cast if cast.player == player.id]
        assert sum(line["kind"] == "figure" for line in lines(player.id)) == len(cast)


def test_a_line_says_string_implement_rest_and_times() -> None:
    """Ada's figure of bar 17: G1 by friction strip, sixteen times, both hands, from the rest at S3."""
    line = next(line for line in lines("ada") if line["kind"] == "figure" and line["bar"] == "17")
    assert [tag["label"] for tag in line["tags"]] == ["G1"]
    assert (line["how"], line["times"], line["hand"]) == ("friction strip", "16×", "LR")
    assert (line["tool"], line["rest"]) == ("take", "S3a")


def test_what_stays_in_hand_is_kept_and_a_line_bow_rests_on_its_course() -> None:
    """The next figure with the same strip says keep; a line bow is never fetched from a rest."""
    assert any(line["tool"] == "keep" for line in lines("ada") if line["kind"] == "figure")
    bows = [line for line in lines("cy") if line.get("how") == "line bow"]
    assert bows
    assert {line["tool"] for line in bows} == {"course"}


def test_a_move_stands_before_the_figure_it_leads_to() -> None:
    """Edda goes to B6 before bar 38, and nowhere else."""
    found = lines("ed")
    moves = [number for number, line in enumerate(found) if line["kind"] == "move"]
    assert [found[number]["place"] for number in moves] == ["B6"]
    assert found[moves[0] + 1]["bar"] == "38"


def test_little_slack_is_marked_and_ample_slack_is_not() -> None:
    """Of Bo's figures exactly the one after the long hammer figure is hurried."""
    assert [line["bar"] for line in lines("bo") if line.get("hurried")] == ["28"]


def test_cues_reach_everybody_or_only_their_part() -> None:
    """All breathe is on every card, the nod of part 4 on Di's alone."""
    for player in fixture.players():
        cues = [line["text"] for line in lines(player.id) if line["kind"] == "cue"]
        assert cues == (["all breathe", "nod to Gus"] if player.id == "di" else ["all breathe"])


def test_chores_and_pedals_are_lines_of_whoever_does_them() -> None:
    """Ada lays and lifts the mute of A1, Gus holds the damper pedal, the wedge has no card."""
    chores = [(line["bar"], line["text"], line["tags"][0]["label"]) for line in lines("ada") if line["kind"] == "chore"]
    assert chores == [("8", "lay mute", "A1"), ("38", "lift mute", "A1")]
    assert [line["text"] for line in lines("gus") if line["kind"] == "chore"] == [
        "damper pedal ↓ down",
        "damper pedal ↑ up",
    ]
    for player in fixture.players():
        assert not any("sostenuto" in str(line.get("text")) for line in lines(player.id))


def test_load_in_stands_before_the_piece_with_its_course_and_place() -> None:
    """A mute laid at another place 11 s before the piece: its own head, no bar, the course's tag; then the way back."""
    book = fixture.book()
    first = next(chore for chore in book.casting.chores if chore.player == "ada")
    start = str(deck("ada")["pages"][0]["place"])
    other = next(place.id for place in book.casting.places if place.id != start)
    early = replace(first, id="c0", start_s=-11.0, end_s=-9.0, place=other)
    changed = replace(book, casting=replace(book.casting, chores=(early, *book.casting.chores)))
    head, chore, *rest = lines("ada", changed)
    assert (head["name"], chore["bar"], chore["text"], chore["tags"][0]["label"]) == (
        "before the piece",
        "",
        "lay mute",
        "A1",
    )
    assert deck("ada", changed)["pages"][0]["place"] == other
    assert next(line["place"] for line in rest if line["kind"] == "move") == start


def test_a_turn_ends_its_card() -> None:
    """A card ends with the line that turns it, however empty it is."""
    rows: list[dict[str, object]] = [{"kind": "figure", "free_s": 1.0, "number": n} for n in range(6)]
    rows[2] = {"kind": "chore", "free_s": 0.0, "turns": True}
    assert [len(page) for page in paginated(rows, BODY_MM)] == [3, 3]


@pytest.mark.parametrize(
    ("at_s", "words"), [(67.3, "1:07.3"), (-11.0, "−0:11.0"), (-92.0, "−1:32.0"), (-0.01, "0:00.0")]
)
def test_the_clock_counts_down_to_the_first_downbeat(at_s: float, words: str) -> None:
    """Load-in has times before 0."""
    assert clock(at_s) == words


def test_section_heads_stand_once_in_order() -> None:
    """Rehearsal marks A to D, each once."""
    assert [line["name"] for line in lines("ada") if line["kind"] == "section"] == ["A", "B", "C", "D"]


def test_a_player_without_anything_to_do_has_no_card() -> None:
    """No figures, chores, pedals or cues: no deck."""
    book = fixture.book()
    idle = replace(
        book, casting=replace(book.casting, cast=(), chores=(), pedals=()), score=replace(book.score, cues=())
    )
    assert card_deck(idle, idle.players[0], 1) is None


def test_each_card_says_where_its_player_stands_when_it_begins() -> None:
    """The place of a later card is where the last move of the cards before it led."""
    pages = deck("ada", fixture.busy_book())["pages"]
    place = pages[0]["place"]
    for page in pages:
        assert page["place"] == place
        place = next((line["place"] for line in reversed(page["lines"]) if line["kind"] == "move"), place)


def line(kind: str, free_s: float = 0.0) -> dict[str, object]:
    return {"kind": kind, "free_s": free_s}


def test_a_card_is_turned_where_its_player_has_most_time() -> None:
    """Twelve figures for eight lines: the card ends before the seventh, where nine seconds are free."""
    run = [line("figure", 9.0 if number == 6 else 1.0) for number in range(12)]
    assert [len(page) for page in paginated(run, 8 * LINE_MM["figure"])] == [6, 6]


def test_a_card_is_filled_before_it_is_turned_for_time() -> None:
    """A long rest after the second of eight lines comes too early to turn; alike rests turn as late as they can."""
    run = [line("figure", 9.0 if number == 2 else 1.0) for number in range(12)]
    assert [len(page) for page in paginated(run, 8 * LINE_MM["figure"])] == [8, 4]


def test_the_time_to_turn_is_told_at_the_foot() -> None:
    """Every card but the last says how long its player is free before the next one begins."""
    pages = deck("ada", fixture.busy_book())["pages"]
    for page, following in pairwise(pages):
        assert page["turn"] == f"{following['lines'][0]['free_s']:.0f} s"
    assert pages[-1]["turn"] == ""


@given(st.lists(st.sampled_from(sorted(LINE_MM)), max_size=120))
def test_cards_are_never_overfull_and_never_end_with_a_head_or_move(kinds: list[str]) -> None:
    """Whatever the run of lines: all are kept in order, each card holds what fits, heads stay with what follows."""
    run: list[dict[str, object]] = [{"kind": kind, "number": number} for number, kind in enumerate(kinds)]
    pages = paginated(run, BODY_MM)
    assert [line for page in pages for line in page] == run
    leads = ("section", "move")
    for number, page in enumerate(pages):
        heads = 0
        for line in page:
            heads = heads + 1 if line["kind"] in leads else 0
        assert height_mm(page) <= BODY_MM or all(line["kind"] in leads for line in page[:-1])
        if number + 1 < len(pages):
            assert page[-1]["kind"] not in leads


def test_the_template_keeps_the_room_that_lines_are_laid_out_for() -> None:
    """Head, foot, edge and body together are the card's height."""
    values = deck("ada")
    assert values["number"] == 1
    from rimside.paper import cards

    assert pytest.approx(cards.CARD_HEIGHT_MM) == cards.HEAD_MM + cards.FOOT_MM + cards.EDGE_MM + BODY_MM
