"""The short words of cards and sheets: how a figure is played, when it comes, and where every value is from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rimside.casting.chore import ChoreKind
from rimside.casting.result import HELD_KEYS, CastChore, Casting, PedalAction
from rimside.casting.scale import TIE_S
from rimside.kit import Kit
from rimside.paper.ink import pitch_colour
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.pitch import Key, LabelScheme, is_course, label
from rimside.score.model import Figure, Mute, Score, Technique

SHORT: Mapping[Technique, str] = {
    Technique.FINGER_PLUCK: "pluck",
    Technique.HANDLED_PLECTRUM: "tremolo plectrum",
    Technique.MAGNET_DRIVE: "magnet",
}
"""Shorter words where a card would be crowded; every other technique keeps its name."""

SCHEME_WORDS: Mapping[LabelScheme, str] = {
    LabelScheme.KEY_NUMBER: "key numbers, 1 to 88",
    LabelScheme.SCIENTIFIC: "scientific, middle C is C4",
    LabelScheme.HELMHOLTZ: "Helmholtz, middle C is c'",
    LabelScheme.ORDINAL: "ordinal, each letter counted from its lowest: 440 Hz is A5",
    LabelScheme.TECHNICIAN: "letter and key number, middle C is C40",
}

LEVELS: Mapping[str, str] = {
    "uncast": "Music left out: 1000 for each essential figure, 1 for each other",
    "changed": "Refit: 4 for each figure with another player, else 2 at another place, 1 with another implement",
    "risk": "Hurried changes and long leaning",
    "moves": "Changes of place",
    "returns": "Figures that come back to another player",
    "memory": "Things to remember, for the busiest player",
    "load": "Between the most and the least busy player",
}
"""The six levels of the objective in words (decision 0001)."""
IN_MILLISECONDS = frozenset({"risk", "load"})
"""Levels that are spans of time; the sheets show them in seconds."""


def clock(seconds: float) -> str:
    """Minutes and seconds with a tenth: 1:07.3; before the first downbeat −0:11.0."""
    tenths = abs(round(seconds * 10))
    sign = "−" if round(seconds * 10) < 0 else ""
    return f"{sign}{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def how(figure: Figure) -> str:
    """Technique and what changes it: a node, a mute, tremolo, silence at the end."""
    words = [SHORT.get(figure.technique, figure.technique.value)]
    if figure.touch is not None:
        words.append(f"node {figure.touch.node}")
    if figure.mute is not Mute.NONE:
        words.append("finger mute" if figure.mute is Mute.FINGER else "muted")
    if figure.tremolo and figure.technique is not Technique.HANDLED_PLECTRUM:
        words.append("tremolo")
    if figure.dry:
        words.append("dry")
    return " ".join(words)


def hands(names: Sequence[str]) -> str:
    """L, R, or both."""
    letters = [letter for letter, name in (("L", "left"), ("R", "right")) if name in names]
    return "".join(letters)


def times(cycles: int) -> str:
    """How often the pattern comes round: 16×, nothing for once."""
    return f"{cycles}×" if cycles > 1 else ""


def tags(figure: Figure, scheme: LabelScheme, pitch_colours: Mapping[Key, str]) -> list[dict[str, str]]:
    """The labels of a figure's courses with the colour of each pitch, or its spot without one."""
    if figure.spot is not None:
        return [{"label": figure.spot, "colour": ""}]
    return [{"label": label(key, scheme), "colour": pitch_colour(key, pitch_colours)} for key in figure.keys]


def bar_at(score: Score, seconds: float) -> str:
    """The printed bar that sounds at a moment; nothing when the score has no bars."""
    started = [bar for bar in score.bars if bar.start_s <= seconds + 1e-6]
    return started[-1].bar if started else ""


def pass_at(score: Score, bar: str, seconds: float) -> str:
    """Which time round a printed bar is at a moment ("2nd"); nothing for a bar that comes only once.

    A bar without any start up to that moment (a figure's bar that the score does not list) has none.
    """
    started = [one for one in score.bars if one.bar == bar and one.start_s <= seconds + 1e-6]
    if not started or len({one.pass_number for one in score.bars if one.bar == bar}) < 2:
        return ""
    return nth(started[-1].pass_number)


def nth(number: int) -> str:
    """1st, 2nd, 3rd, 4th and on."""
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def beat(figure: Figure) -> str:
    """The beat on which a figure starts, unless it is the first."""
    if figure.beat == 1:
        return ""
    return str(figure.beat) if figure.beat.denominator == 1 else f"{float(figure.beat):.2f}".rstrip("0")


def deed(
    chore: CastChore, casting: Casting, scheme: LabelScheme, pitch_colours: Mapping[Key, str]
) -> tuple[list[dict[str, str]], str]:
    """What a chore is done to, as tags when that is a course, and in words what is done."""
    key = next((contact.key for contact in chore.contacts if contact.key is not None), None)
    tags = target_tags(str(int(key)) if key is not None else chore.target, scheme, pitch_colours)
    kinds = {implement.id: implement.kind for implement in casting.implements}
    tools = dict.fromkeys(kinds[tool] for tool in chore.implements if tool in kinds)
    return tags, " ".join((chore.kind, *tools)) if tags else f"{chore.kind} {chore.target}".strip()


HOLDS = frozenset({ChoreKind.HOLD_PEDAL, ChoreKind.HOLD_KEY})
"""Chores that are told by both of their ends, with the pedals."""


def held(action: PedalAction, scheme: LabelScheme) -> str:
    """What a pedal action holds: a pedal, or keys pressed in silence."""
    if action.pedal == HELD_KEYS:
        return f"keys {' '.join(label(key, scheme) for key in action.keys)}"
    return f"{action.pedal} pedal"


def holder(action: PedalAction, casting: Casting) -> CastChore | None:
    """The chore of the player who holds a pedal or keys; None when a wedge does, or nobody yet."""
    kind = ChoreKind.HOLD_KEY if action.pedal == HELD_KEYS else ChoreKind.HOLD_PEDAL
    return next(
        (
            chore
            for chore in casting.chores
            if (chore.kind, chore.player) == (kind, action.by)
            and chore.start_s <= action.down_s + TIE_S
            and action.up_s <= chore.end_s + TIE_S
            and (kind is ChoreKind.HOLD_KEY or chore.target == action.pedal)
        ),
        None,
    )


def target_tags(words: str, scheme: LabelScheme, pitch_colours: Mapping[Key, str]) -> list[dict[str, str]]:
    """The tag of what a chore is done to when that is a course, written as its key number; else none."""
    if not (words.isdecimal() and is_course(int(words))):
        return []
    key = Key(int(words))
    return [{"label": label(key, scheme), "colour": pitch_colour(key, pitch_colours)}]


def value_words(casting: Casting, piano: Piano, kit: Kit, players: Sequence[Player]) -> dict[str, str]:
    """For every sheet: which values were measured and which are estimates."""
    used = {body.id for body in casting.players}
    playing = [player for player in players if player.id in used]
    measured = [player.name for player in playing if player.measured_reach_mm is not None]
    return {
        "reach": _some("from stature (estimate)", measured, len(playing)),
        "piano": "measured: " + ", ".join(sorted(piano.measured)) if piano.measured else "nothing measured",
        "times": _times(casting, kit),
    }


def _some(estimate: str, measured: Sequence[str], all_: int) -> str:
    if not measured:
        return estimate
    if len(measured) == all_:
        return "measured"
    return f"measured for {', '.join(measured)}, others {estimate}"


_TIME_WORDS = {"walk_mm_per_s": "walking", "turn_s": "turning", "settle_s": "settling"}
_KIND_WORDS = {"pick_s": "picking up", "put_s": "putting down", "chore_s": "the time to"}


def _times(casting: Casting, kit: Kit) -> str:
    found = measured_times(casting, kit)
    return f"measured: {', '.join(found)}; others defaults" if found else "defaults (estimate)"


def measured_times(casting: Casting, kit: Kit) -> list[str]:
    """The times that a rehearsal measured, in words ("walking", "picking up felt hammer")."""
    names = {*casting.times.measured, *(f"pick_s of {stock.kind}" for stock in kit.stock if stock.pick_s is not None)}
    names |= {f"put_s of {stock.kind}" for stock in kit.stock if stock.put_s is not None}
    return sorted(_time_words(name) for name in names)


def _time_words(name: str) -> str:
    what, _, kind = name.partition(" of ")
    return f"{_KIND_WORDS[what]} {kind}" if kind and what in _KIND_WORDS else _TIME_WORDS.get(name, name)


def value_line(values: Mapping[str, str]) -> str:
    """The same on one line, for a sheet's foot."""
    return f"Reach {values['reach']}. Times {values['times']}. Piano: {values['piano']}."


def short_values(casting: Casting, piano: Piano, kit: Kit, player: Player) -> str:
    """The same for one player's card, as short as it goes."""
    reach = "measured" if player.measured_reach_mm is not None else "estimate"
    timed = measured_times(casting, kit)
    piano_words = "some measured" if piano.measured else "estimate"
    return f"reach: {reach} · times: {'some measured' if timed else 'estimate'} · piano: {piano_words}"
