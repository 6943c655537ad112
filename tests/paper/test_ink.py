"""Colours: refusals, letters on fields, and two kinds that never mix."""

from __future__ import annotations

import pytest

from rimside.errors import BadInput
from rimside.paper import ink
from rimside.pitch import Key
from tests.paper import fixture


def test_a_colour_that_is_not_written_as_six_digits_is_refused() -> None:
    """The message says what is allowed."""
    with pytest.raises(BadInput, match="#RRGGBB"):
        ink.luminance("orange")


def test_letters_are_black_on_light_fields_and_white_on_dark_ones() -> None:
    """Whichever stands out more."""
    assert ink.letters_on("#F0E442") == ink.BLACK
    assert ink.letters_on("#000000") == ink.WHITE
    assert ink.letters_on("#0072B2") == ink.WHITE


def test_a_production_s_own_pitch_colour_goes_first() -> None:
    """A given colour replaces the pitch class's; other keys keep theirs."""
    own = {Key(40): "#123456"}
    assert ink.pitch_colour(Key(40), own) == "#123456"
    assert ink.pitch_colour(Key(52), own) == ink.PITCH_CLASS_COLOURS[0]


def test_no_pitch_has_a_player_s_colour() -> None:
    """The colours of pitches and those of players are different colours, all of them."""
    pitches = set(ink.PITCH_CLASS_COLOURS)
    assert len(pitches) == 12
    assert not pitches & {player.colour for player in fixture.players()}


def test_pitch_colours_are_alike_in_lightness() -> None:
    """Their luminance varies little, so that no pitch looks more important than another."""
    shades = [ink.luminance(colour) for colour in ink.PITCH_CLASS_COLOURS]
    assert max(shades) - min(shades) < 0.12
