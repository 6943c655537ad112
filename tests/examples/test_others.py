"""The harpsichord and the guitar: the same survey, the same casting, what is theirs alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from examples import others
from rimside import flow
from rimside.casting.result import Casting
from rimside.casting.verify import verify
from rimside.errors import BadInput
from rimside.files import project
from rimside.files.schema_piano import piano_from_toml, survey_from_toml
from rimside.paper.plan import make_plan_svg
from rimside.piano.model import Piano
from rimside.piano.survey import build, remarks
from rimside.pitch import Key, LabelScheme, choir_of, in_choir, label, parse, plain_key
from rimside.score.model import Technique
from rimside.units import cents


@pytest.fixture(scope="module", params=others.OTHERS)
def production(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> project.Production:
    """One of the two, as it lies on the disc."""
    folder = tmp_path_factory.mktemp("others") / str(request.param)
    others.build(folder, str(request.param))
    return project.load(folder)


def text(name: str) -> str:
    (path,) = (Path(others.__file__).parent / name / "pianos").glob("*.toml")
    return path.read_text("utf-8")


def instrument(name: str, change: Callable[[str], str] = lambda same: same) -> Piano:
    return piano_from_toml(change(text(name)).encode(), f"{name}.toml")


def refused(name: str, change: Callable[[str], str]) -> BadInput:
    with pytest.raises(BadInput) as caught:
        instrument(name, change)
    return caught.value


def cast(production: project.Production) -> Casting:
    return flow.plan(production.reading(), production.piano(), production.players(), production.kit(), seconds=1.5)


def test_everything_is_cast_and_every_rule_holds(production: project.Production) -> None:
    """All figures of both pieces, judged by code that never meets the solver."""
    casting = cast(production)
    assert production.reading().score.not_understood == ()
    assert casting.uncast == ()
    assert list(verify(casting, production.piano(), production.players(), production.kit())) == []


def test_nothing_of_them_is_out_of_the_ordinary(production: project.Production) -> None:
    """No published ranges were found for them, so nothing is remarked; the plan is drawn with its own keys or none."""
    piano = production.piano()
    assert remarks(piano) == ()
    assert make_plan_svg(piano).count("<rect") < make_plan_svg(instrument("harpsichord")).count("<rect") + 1


def test_three_choirs_are_three_courses_of_one_key() -> None:
    """61 keys x 3; the 4 foot sounds an octave above the 8 foot, which both sound alike."""
    piano = instrument("harpsichord")
    assert len(piano.courses) == 183
    for key in (9, 40, 69):
        first, second, third = (piano.course(in_choir(Key(key), choir)) for choir in (1, 2, 3))
        assert cents(second.frequency_hz / first.frequency_hz) == pytest.approx(0.0)
        assert cents(third.frequency_hz / first.frequency_hz) == pytest.approx(1200.0)
    assert piano.course(Key(49)).frequency_hz == pytest.approx(415.0)


def test_only_the_first_choir_is_damped() -> None:
    """The registers of the other two are off."""
    piano = instrument("harpsichord")
    assert {choir_of(c.key) for c in piano.courses if c.damper is not None} == {1}
    assert instrument("guitar").courses[0].damper is None


def test_a_pressed_key_of_a_harpsichord_is_no_silent_one(tmp_path: Path) -> None:
    """A line bow on the damped choir: on a piano a held key would free the string, here nothing can."""
    others.build(tmp_path, "harpsichord")
    score = (tmp_path / "score.csv").read_text("utf-8").replace("G3.2", "G3")
    (tmp_path / "score.csv").write_text(score, "utf-8")
    kit = (tmp_path / "kit.toml").read_text("utf-8").replace('"G3.2"', '"G3.2", "G3"')
    (tmp_path / "kit.toml").write_text(kit, "utf-8")
    (row,) = cast(project.load(tmp_path)).uncast
    assert row.rule == "H8"


def test_light_strings_bear_less_than_those_of_a_piano() -> None:
    """Every string of both pulls with less than a fifth of what the least of a piano does."""
    from rimside.piano.shipped import shipped_survey

    least = min(c.tension_n for c in piano_from_toml(shipped_survey("grand_275"), "x").courses)
    for name in others.OTHERS:
        assert max(c.tension_n for c in instrument(name).courses) < least / 5.0


def test_mass_follows_the_material() -> None:
    """A plain nylon string: mass a metre = density x area; brass is heavier than iron of one size."""
    course = next(c for c in instrument("guitar").courses if c.key == 44)
    area_m2 = 3.141592653589793 * (course.wire_mm / 2000.0) ** 2
    assert course.linear_density_kg_per_m == pytest.approx(1140.0 * area_m2)
    brass = instrument("harpsichord").course(Key(20))
    iron = instrument("harpsichord", lambda whole: whole.replace('material = "brass"', 'material = "iron"')).course(
        Key(20)
    )
    assert brass.linear_density_kg_per_m / iron.linear_density_kg_per_m == pytest.approx(8500.0 / 7850.0)


def test_keys_on_an_instrument_without_keys(tmp_path: Path) -> None:
    """Said plainly, not as a matter of reach."""
    others.build(tmp_path, "guitar")
    score = (tmp_path / "score.csv").read_text("utf-8").replace("felt hammer,D3", "keys,D3")
    (tmp_path / "score.csv").write_text(score, "utf-8")
    (row,) = cast(project.load(tmp_path)).uncast
    assert (row.rule, row.reason) == ("H6", "a guitar has no keyboard")


def test_a_pitch_that_no_string_has(tmp_path: Path) -> None:
    """Six strings sound six pitches."""
    others.build(tmp_path, "guitar")
    score = (tmp_path / "score.csv").read_text("utf-8").replace("felt hammer,D3", "felt hammer,D♯3")
    (tmp_path / "score.csv").write_text(score, "utf-8")
    (row,) = cast(project.load(tmp_path)).uncast
    assert "D♯3" in row.reason


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('instrument = "harpsichord"', 'instrument = "zither"', "unknown instrument"),
        ('material = "brass"', 'material = "gold"', "unknown material"),
        ("choir = 3", "choir = 2", "in two sections"),
        ("number = 3", "number = 2", "told twice"),
        ("to_mm = 823", "to_mm = -3", "ends before"),
        ("wire_mm = 0.64", "wire_mm = 6.4", "no string bears"),
    ],
)
def test_slips_of_such_a_survey(old: str, new: str, told: str) -> None:
    """Each with one message that says what and where."""
    error = refused("harpsichord", lambda whole: whole.replace(old, new))
    assert told in error.what
    assert error.where.startswith("harpsichord.toml")


def test_a_piano_must_have_dampers_and_no_choirs() -> None:
    """What may be left out elsewhere may not be left out there."""
    from rimside.piano.shipped import shipped_survey

    whole = shipped_survey("grand_170").decode()
    without = whole[: whole.index("[dampers]")] + whole[whole.index("[[strike]]") :]
    with pytest.raises(BadInput, match="missing"):
        survey_from_toml(without.encode(), "x")
    survey = survey_from_toml(whole.encode(), "x")
    second = replace(survey.sections[0], choir=2)
    with pytest.raises(BadInput, match="no such choir"):
        build(replace(survey, sections=(second, *survey.sections[1:])))


@pytest.mark.parametrize("scheme", LabelScheme)
@pytest.mark.parametrize("choir", [1, 2, 3])
def test_labels_carry_the_choir(scheme: LabelScheme, choir: int) -> None:
    """There and back for every key in every scheme; the first choir's labels are those of a piano."""
    for number in range(1, 89):
        key = in_choir(Key(number), choir)
        written = label(key, scheme)
        assert parse(written, scheme) == key
        assert (plain_key(key), choir_of(key)) == (number, choir)
        assert ("." in written) == (choir > 1)


@pytest.mark.parametrize("written", ["A3.4", "A3.0", "A3.x", "A3."])
def test_choirs_that_are_none(written: str) -> None:
    """One to three."""
    with pytest.raises(BadInput, match="choir"):
        parse(written)


def test_a_word_chooses_the_choir() -> None:
    """A register's name holds until the next; the pitches are those of the keys."""
    from rimside.score import reading, words

    sheet = "#tempo,60\n#meter,4/4\nstart,length,technique,pitches,rhythm\n1:1,1 bars,pizz,A3.3,x...\n"
    (figure,) = reading.read(sheet.encode(), "s.csv", words.default_vocabulary(), LabelScheme.SCIENTIFIC).figures
    assert figure.keys == (in_choir(Key(37), 3),)
    assert figure.technique is Technique.FINGER_PLUCK
    for phrase, choir in (("4 foot", 3), ("back 8 foot", 2), ("8 foot", 1)):
        meaning = words.default_vocabulary().meaning(phrase)
        assert meaning is not None
        assert meaning.choir == choir
