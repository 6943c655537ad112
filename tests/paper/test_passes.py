"""A bar that is played more than once says which time round it is, alike on cards, running order and plan."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from rimside.paper.book import make_book, plan_legend
from rimside.paper.cards import card_deck
from rimside.paper.material import BookInput
from rimside.paper.running import running_order
from rimside.paper.sections import sections
from rimside.paper.wording import nth, pass_at
from rimside.score.model import BarStart, Score
from tests.paper import fixture, pdf_reading

PLAYED = (*range(1, 17), *range(9, 17), *range(17, 57))
"""Bars 1 to 16, then 9 to 16 again, then on to 56: as long as the fixture's piece."""


def score() -> Score:
    bars, heard = [], dict[int, int]()
    for number, bar in enumerate(PLAYED):
        heard[bar] = heard.get(bar, 0) + 1
        bars.append(
            BarStart(
                bar=str(bar), pass_number=heard[bar], start_quarters=Fraction(4 * number),
                start_s=fixture.BAR_S * number, section="A" if bar < 9 else "B" if bar < 17 else "C",
            )
        )  # fmt: skip
    return replace(fixture.score(), bars=tuple(bars), cues=())


def book() -> BookInput:
    """The fixture's production on a score with a repeat: each figure in the bar that is played when it starts."""
    whole = fixture.book()
    figures = tuple(
        replace(figure, bar=str(PLAYED[int(figure.start_s // fixture.BAR_S)])) for figure in whole.casting.figures
    )
    return replace(whole, score=score(), casting=replace(whole.casting, figures=figures))


def rows() -> list[dict[str, Any]]:
    found = running_order(book())["rows"]
    assert isinstance(found, list)
    return found


def lines() -> list[dict[str, Any]]:
    decks = [card_deck(book(), player, 1) for player in fixture.players()]
    return [line for deck in decks if deck for page in deck["pages"] for line in page["lines"]]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("bar", "bars_in", "told"),
    [
        ("8", 7, ""),
        ("9", 8, "1st"),
        ("9", 15, "1st"),
        ("9", 16, "2nd"),
        ("16", 23, "2nd"),
        ("17", 24, ""),
        ("99", 5, ""),
    ],
)
def test_a_bar_says_its_pass_only_when_it_comes_again(bar: str, bars_in: int, told: str) -> None:
    """Bars 9 to 16 are played twice; the others and bars that the score does not list say nothing."""
    assert pass_at(score(), bar, fixture.BAR_S * bars_in) == told


def test_numbers_of_passes_are_read_as_spoken() -> None:
    """1st, 2nd, 3rd, 4th; 11th to 13th; 21st."""
    assert [nth(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 22, 112)] == [
        "1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "22nd", "112th",
    ]  # fmt: skip


def test_cards_and_running_order_say_the_same_passes() -> None:
    """Every figure has the same bar and pass on its card as in the running order, and both passes occur."""
    on_cards = sorted((line["bar"], line["pass"]) for line in lines() if line["kind"] == "figure")
    in_order = sorted((row["bar"], row["pass"]) for row in rows() if row["kind"] == "figure")
    assert on_cards == in_order
    assert {told for _, told in on_cards} == {"", "1st", "2nd"}


def test_figures_of_one_bar_played_twice_differ() -> None:
    """Each figure's pass is the one in whose stretch of time it starts."""
    starts = {figure.start_s: figure.bar for figure in book().casting.figures}
    for row in rows():
        if row["kind"] == "figure" and row["pass"]:
            minutes, seconds = row["time"].split(":")
            at = 60 * int(minutes) + float(seconds)
            assert starts[at] == row["bar"]
            assert row["pass"] == ("1st" if at < fixture.BAR_S * 16 else "2nd")


def test_a_repeated_section_begins_again() -> None:
    """A once, B twice, C once."""
    assert [(one.name, one.bar, one.nth) for one in sections(score())] == [
        ("A", "1", ""), ("B", "9", "1st"), ("B", "9", "2nd"), ("C", "17", ""),
    ]  # fmt: skip
    heads = [(row["name"], row["pass"]) for row in rows() if row["kind"] == "section"]
    assert heads == [("A", ""), ("B", "1st"), ("B", "2nd"), ("C", "")]


def test_the_plan_tells_the_pass_of_its_moment() -> None:
    """The legend's pass is that of its bar at its time."""
    legend = plan_legend(book())
    minutes, seconds = str(legend["time"]).split(":")
    assert legend["pass"] == pass_at(score(), str(legend["bar"]), 60 * int(minutes) + float(seconds))


def test_passes_are_printed() -> None:
    """On the card of a player of bar 9's second pass, and in the running order, the PDF's text says 2nd."""
    texts = pdf_reading.page_texts(make_book(book()))
    assert any("Running order" in text and "2nd" in text for text in texts)
    assert sum("2nd" in text for text in texts[-len(fixture.players()) :]) > 3
