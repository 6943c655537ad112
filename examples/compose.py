"""The music of the demonstration, written down bar by bar: `python -m examples.compose FILE` writes it as MusicXML.

The piece is "Brackwater Wheel": a mill at an estuary, driven by the tide. Its harmony is a few sonorities that share
most of their pitches, so that a line that has begun to sound may stay. G sharp is kept back until high water (G); after
it, it is heard only once more, as the fifth partial of a low E: the last sound of the piece.
"""

from __future__ import annotations

import sys
from pathlib import Path

from examples.notation import Part, Repeat, Section, musicxml

TITLE = "Brackwater Wheel"
LOW_SPOT, HIGH_SPOT, BRIGHT_SPOT = "case_side", "bass_strut", "duplex_strings"
"""Named in the surveys of all three pianos and allowed by all three owners; _ stands for a space."""

PARTS = (
    Part(name="Lines high", short="L. hi", clef="G"),
    Part(name="Lines low", short="L. lo", clef="F"),
    Part(name="Stick bow I", short="St. I", clef="G"),
    Part(name="Stick bow II", short="St. II", clef="G"),
    Part(name="Stick bow III", short="St. III", clef="G"),
    Part(name="Stick bow IV", short="St. IV", clef="G"),
    Part(name="Felt hammer I", short="F. I", clef="G"),
    Part(name="Felt hammer II", short="F. II", clef="G"),
    Part(name="Felt hammer III", short="F. III", clef="G"),
    Part(name="Low bell", short="Bell", clef="F"),
    Part(name="Wood hammer", short="W.", clef="G"),
    Part(name="Plucked", short="Pl.", clef="F"),
    Part(name="Handled plectrum", short="H. pl.", clef="G"),
    Part(name="Rubber strips", short="R.", clef="F"),
    Part(name="Keys", short="K.", clef="F"),
    Part(
        name="Beaters",
        short="Bt.",
        clef="percussion",
        spots=tuple(spot.replace("_", " ") for spot in (LOW_SPOT, HIGH_SPOT, BRIGHT_SPOT)),
    ),
)

REST = "r:16 |"
TWO_BARS = REST * 2

# A, slack water: 4 s a bar. Three sonorities, each entered voice by voice from below: E with its fifths and a far G and
# D; then A minor's ninth; then E again with C sharp and A instead of D and G, which lifts it towards the theme.
SLACK_WATER = Section(
    mark="A",
    name="Slack water",
    pace="Lento",
    tempo=60,
    bars=16,
    voices={
        "Lines low": (
            "r:8 (line bow) !pp E3:64 r:48 !p A3:64 r:16 !mp E3:48",
            "r:32 B3:72 r:24 C4:64 r:16 B3:44",
        ),
        "Lines high": (
            "r:52 (line bow) !pp F#4:60 r:24 !p E4:60 r:20 !mp F#4:36",
            "r:72 D5:48 r:24 B4:56 r:24 C#5:28",
            "r:88 G4:36 r:28 G4:48 r:28 A4:24",
        ),
        "Low bell": ("(felt hammer) !p E1:16 | [r:16]*3 | E1:16 | [r:16]*3 | A1:24 r:8 | [r:16]*3 | E1:24",),
        "Plucked": (
            "[r:16]*6 | (pluck, touch 1/4) !p E1:6o B1:6 E1:4 | A1:12 r:4 | [r:16]*3 | A1:6 E1:6 B1:4 | E1:12 r:4",
        ),
        "Beaters": (f"[r:16]*7 | r:12 (beater) !pp @{LOW_SPOT}:4 | [r:16]*4 | @{BRIGHT_SPOT}:4",),
    },
)

# B, inflow: the theme. It has four pitches and goes round them as a ring of bells would: each short bow keeps one
# course for the whole phrase, so two players hold it in their four hands, and every note rings into the next. Question
# on B, answer a fifth below, and then a rise to the fifth above.


def theme(top: str, second: str, last: str, neighbour: str) -> tuple[str, str, str, str]:
    """Two bars for four bows: top, second, last, second, top, neighbour, last."""
    return (
        f"{top}:10 r:6 | {top}:8 r:8 |",
        f"r:4 {second}:4 r:6 {second}:4 r:14 |",
        f"r:8 {last}:10 r:6 {last}:8 |",
        f"r:16 | r:4 {neighbour}:8 r:4 |",
    )


QUESTION = theme("B4", "A4", "F#4", "G4")
ANSWER = theme("E4", "D4", "B3", "C4")
RISE = theme("F#5", "E5", "C#5", "D5")
BOWS = ("Stick bow I", "Stick bow II", "Stick bow III", "Stick bow IV")


def bows(bars_before: int, dynamic: str, *phrases: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """The four bow parts: rests, the words and the dynamic, then one phrase after the other."""
    start = f"{REST * bars_before} (stick bow, essential) !{dynamic} "
    return {part: (start + " ".join(phrase[lane] for phrase in phrases),) for lane, part in enumerate(BOWS)}


ENDINGS = (
    f"B4:14 r:2 | {REST} {REST} !mf B4:12 r:4",
    f"{REST} A4:10 r:6 | !mf A4:14 r:2",
    f"{REST} F#4:10 r:6 | !mf F#4:14 r:2",
    f"G4:14 r:2 | {REST} {REST} !mf G4:12 r:4",
)
INFLOW = Section(
    mark="B",
    name="Inflow",
    pace="Andante",
    tempo=72,
    bars=10,
    repeat=Repeat(first=1, last=8, endings=((7, 8), (9, 10))),
    voices={
        **bows(0, "mp", QUESTION, ANSWER, RISE, ENDINGS),
        "Plucked": (
            "(pluck) !p E2:4 r:2 B1:2 E2:4 B1:4 | E2:4 r:2 B1:2 E2:4 B1:4 | D2:4 r:2 A1:2 D2:8 | r:16 |"
            "E2:4 r:2 B1:2 E2:4 B1:4 | E2:4 r:2 B1:2 E2:8 | r:16 | r:16 | D2:4 r:2 A1:2 D2:4 A1:4 | G1:8 r:8",
        ),
        "Keys": (
            "r:16 | r:16 | (keys, moulded mute) !p [r:2 B2+F#3:2 r:2 D3:2]*4 | r:16 | r:16 |"
            "[r:2 B2+F#3:2 r:2 D3:2]*3 r:8 | r:16 | r:2 B2+F#3:2 r:2 D3:2",
        ),
        "Lines low": ("r:16 | (line bow) !pp E3:72",),
        "Handled plectrum": ("[r:16]*8 | r:8 (handled plectrum) !pp B5:20~",),
        "Beaters": (
            f"[r:16]*3 | r:8 (beater) !p @{LOW_SPOT}:4 @{LOW_SPOT}:4 | r:16 | r:16 | r:16 | r:12 @{LOW_SPOT}:4",
        ),
    },
)


def first(low: str, high: str, *, breath: bool = False) -> str:
    """A bar of the first hammer: sixteenths 0 3 6 8 11 14, or as many of them as lie before a breath."""
    return f"{low}:1 r:2 {high}:1 r:2 {low}:1 r:1 {low}:1 " + ("r:7 |" if breath else f"r:2 {high}:1 r:2 {low}:1 r:1 |")


def second(low: str, high: str, *, breath: bool = False) -> str:
    """A bar of the second hammer: sixteenths 1 4 7 9 12 15, the first one's rhythm one step later."""
    return "r:1 " + (
        f"{low}:1 r:2 {high}:1 r:2 {low}:1 r:1 {low}:1 " + ("r:6 |" if breath else f"r:2 {high}:1 r:2 {low}:1 |")
    )


def third(low: str, high: str, *, breath: bool = False) -> str:
    """A bar of the third hammer: sixteenths 2 5 10 13, the ones that the other two leave open."""
    return f"r:2 {low}:1 r:2 {high}:1 r:4 {low}:1 " + ("r:5 |" if breath else f"r:2 {high}:1 r:2 |")


# C and D, the wheel: eight strokes a second made by three players, none of whom plays more than three.
WHEEL_STARTS = Section(
    mark="C",
    name="The wheel starts",
    pace="Allegro",
    tempo=120,
    bars=8,
    voices={
        "Felt hammer I": (
            f"(felt hammer, essential) {{cue: the wheel}} !p {first('B3', 'E4') * 7} {first('B3', 'E4', breath=True)}",
        ),
        "Felt hammer II": (
            f"{REST * 3} (felt hammer, essential) !p {second('B4', 'E5') * 4} {second('B4', 'E5', breath=True)}",
        ),
        "Felt hammer III": (
            f"{REST * 5} (felt hammer, essential) !p {third('G5', 'B5') * 2} {third('G5', 'B5', breath=True)}",
        ),
        "Plucked": (f"{REST * 4} (plectrum) !mp E2:8 B1:8 | r:16 | E2:8 B1:8 | r:16",),
        "Beaters": (f"{REST * 6} (beater) !p [@{LOW_SPOT}:4]*2 @{LOW_SPOT}:8",),
    },
)
WHEEL_TURNS = Section(
    mark="D",
    name="The wheel turns",
    pace="Allegro",
    tempo=120,
    bars=4,
    repeat=Repeat(first=1, last=4, times=4),
    voices={
        "Felt hammer I": (f"!mf {first('B3', 'E4')} {first('C4', 'E4') * 2} {first('B3', 'F#4', breath=True)}",),
        "Felt hammer II": (
            f"!mf {second('B4', 'E5')} {second('C5', 'E5')} {second('C5', 'D5')} {second('B4', 'E5', breath=True)}",
        ),
        "Felt hammer III": (f"!mf {third('G5', 'B5') * 2} {third('A5', 'B5')} {third('A5', 'B5', breath=True)}",),
        "Wood hammer": (f"{REST} r:4 (col legno) !mf E3:1 r:2 G3:1 r:4 E3:1 r:3 | {REST} r:10 E3:1 r:2 G3:1 r:2",),
        "Rubber strips": ("(rubber strip) !mf E1:24 r:40", "r:32 B1:24"),
    },
)

# E, stones: the wheel stands. Rubber on wound strings, knocks on the plate, dry plucks; above them three long notes
# fall. When the last of them is gone the keys knock once more and the dampers come down: nothing rings.
STONES = Section(
    mark="E",
    name="Stones",
    pace="Grave",
    tempo=54,
    bars=12,
    voices={
        "Rubber strips": (
            "!f E1:40 r:40 | !mf A1:44 r:20",
            "r:16 | r:16 | r:8 C2:40 | r:16 | r:16 | r:16 | !mp B1:40",
        ),
        "Beaters": (
            f"{REST} (beater) !mf @{HIGH_SPOT}:3 @{HIGH_SPOT}:3 @{HIGH_SPOT}:2 r:8 | {REST}"
            f"r:8 @{LOW_SPOT}:3 @{LOW_SPOT}:5 | {REST * 2} @{HIGH_SPOT}:3 @{HIGH_SPOT}:3 @{HIGH_SPOT}:2 r:8 |"
            f"{REST * 2} r:8 !p @{LOW_SPOT}:3 @{LOW_SPOT}:5",
        ),
        "Keys": (
            f"{REST * 2} (keys, moulded mute) !mf [B2:3 D3:3 B2+F#3:2 r:8]*2 |"
            f"{REST * 3}!p [B2:3 D3:3 B2+F#3:2 r:8]*3 | {REST}(dry) !pp B2:3 D3:3 B2+F#3:2 r:8",
        ),
        "Plucked": (
            f"{REST * 4} (pluck, finger mute) !mp G3:2 A3:2 G3:4 r:8 | G3:2 A3:2 C4:2 A3:2 G3:4 r:4 | {REST * 3}"
            "G3:2 A3:2 G3:4 r:8",
        ),
        "Handled plectrum": (f"{REST * 2} r:8 (handled plectrum) !pp B5:24~ | {REST * 2} r:8 C6:24~",),
        "Lines high": (
            f"{REST * 4} (line bow) !mp F#5:32 | {REST * 2} D5:40",
            f"{REST * 6} E5:36",
        ),
    },
)

# F, lamps: the theme again, slower, each question answered by plucked harmonics and glints of wood in the treble.
LAMPS = Section(
    mark="F",
    name="Lamps",
    pace="Lento",
    tempo=60,
    bars=12,
    voices={
        **bows(1, "p", QUESTION, (REST,) * 4, ANSWER, (REST,) * 4, RISE),
        "Plucked": (
            "[r:16]*3 | (pluck, mute off, touch 1/3) !p E1:6o B1:6 A1:4 | [r:16]*2 | (touch 1/2) E1:6o A1:6 E1:4",
        ),
        "Wood hammer": (
            "[r:16]*3 | (col legno) !pp r:4 F#6:4 C#6:4 r:4 | [r:16]*2 | r:4 C#6:4 F#6:4 r:4 | [r:16]*3 |"
            "F#6:4 r:2 C#6:4 r:6",
        ),
        "Keys": (
            "[r:16]*2 | (keys, open, dry off) !pp r:8 E5+B5:8 | [r:16]*2 | r:8 D5+A5:8 | [r:16]*3 | r:8 C#5+F#5:8",
        ),
        "Lines low": ("r:16 | r:8 (line bow) !pp C4:40 | r:16 | r:16 | A3:56", "r:16 | r:16 | r:8 E3:56"),
        "Felt hammer III": ("[r:16]*8 | (felt hammer) !p [r:2 G5:3 B5:3]*2 | [r:2 G5:3 B5:3]*2",),
        "Beaters": (f"[r:16]*11 | (beater) !p @{BRIGHT_SPOT}:4 {{cue: all breathe}} r:12",),
    },
)


def pairs(octave: str) -> str:
    """Two bars of the keys: one stroke, then two."""
    return f"{octave}:12 r:4 | {octave}:6 {octave}:6 r:4 |"


# G, high water: all eight at once, and G sharp at last. C major and D major lead to the broadest E major of the piece.
# The keys take their mute off D3 for it, and lay it again for the ebb.
HIGH_WATER = Section(
    mark="G",
    name="High water",
    pace="Vivace",
    tempo=126,
    bars=16,
    repeat=Repeat(first=1, last=8, endings=((7, 8), (9, 10))),
    voices={
        "Felt hammer I": (
            f"(felt hammer, essential) !f {first('E4', 'F#4') * 3} {first('E4', 'F#4', breath=True)}"
            f"{first('F#4', 'E4') * 2} {first('E4', 'F#4')} {first('E4', 'F#4', breath=True)}"
            f"{first('E4', 'G4') * 2} {first('D4', 'F#4') * 2} !ff {first('E4', 'F#4') * 3}"
            "{cue: hammers off} E4:1",
        ),
        "Felt hammer II": (
            f"(felt hammer, essential) !f {second('B4', 'E5') * 2} {second('C#5', 'E5')}"
            f"{second('C#5', 'E5', breath=True)}"
            f"{second('C#5', 'E5') * 2} {second('B4', 'E5')} {second('B4', 'E5', breath=True)}"
            f"{second('C5', 'E5') * 2} {second('B4', 'D5') * 2} !ff {second('B4', 'E5') * 2}"
            f"{second('B4', 'E5', breath=True)} B4:1",
        ),
        "Felt hammer III": (
            f"(felt hammer, essential) !f {third('G#5', 'B5') * 2} {third('A5', 'C#6')}"
            f"{third('A5', 'C#6', breath=True)} {third('A5', 'C#6') * 2} {third('A5', 'B5')}"
            f"{third('A5', 'B5', breath=True)}"
            f"{third('G5', 'B5') * 2} {third('A5', 'B5') * 2} !ff {third('G#5', 'B5') * 3} G#5:1",
        ),
        "Wood hammer": (
            f"{REST * 2} (col legno) !mf F#6:1 r:5 F#6:1 r:3 G#6:1 r:5 | F#6:1 r:5 F#6:1 r:3 G#6:1 r:5 | {REST * 2}"
            f"{REST * 2} {REST * 2} [F#6:1 r:5 F#6:1 r:5 F#6:1 r:3]*2 !ff [G#6:1 r:5 G#6:1 r:5 G#6:1 r:3]*3 G#6:1",
        ),
        "Keys": (
            f"(keys, open) !f {pairs('E2+E3')} {pairs('A2+A3')} {pairs('F#2+C#3')} {REST * 2}"
            f"{pairs('C2+C3')} {pairs('D2+D3')} !ff [E2+E3:6 E2+E3:6 r:4]*3 | E2+E3:4",
        ),
        "Rubber strips": (f"{REST} (rubber strip) !f E1:40 r:40 | {REST * 2} G1:40 r:24 | !ff E1:64",),
        "Lines low": (
            f"{REST} (line bow) !f G#3:40 r:56 | {REST} r:8 G3:32 r:8 | r:16 | r:8 !ff G#3:56",
            f"{REST} B3:64 r:32 | {REST * 4} r:8 B3:60",
        ),
    },
)

# H, ebb: the first sonority stands at once, G natural again, and leaves from the top; the theme's question once more;
# the last sound is the fifth partial of a low E.
EBB = Section(
    mark="H",
    name="Ebb",
    pace="Lento",
    tempo=54,
    bars=16,
    voices={
        "Lines low": (f"{REST} r:8 (line bow) !p E3:176", f"{REST} r:16 B3:128"),
        "Lines high": (f"{REST * 2} r:8 (line bow) !p F#4:88", f"{REST * 2} r:4 D5:36", f"{REST * 3} G4:48"),
        "Low bell": (f"(felt hammer) !p E1:16 | {REST * 6} E1:16 | {REST * 5} !pp E1:16",),
        "Plucked": (
            f"{REST * 4} (pluck, touch 1/4) !p E1:6o B1:6 E1:4 | A1:12 r:4 | {REST * 2} (finger mute) (touch off) !pp "
            f"G3:4 A3:4 G3:8 | {REST * 4} (mute off) (touch 1/5) !ppp r:8 E2:8o | r:8 E2:8 | E2:16",
        ),
        **bows(8, "pp", QUESTION),
        "Keys": (f"{REST * 6} (keys, moulded mute) !pp [B2:3 D3:3 B2+F#3:2 r:8]*2",),
        "Beaters": (
            f"(beater) !mp {{cue: one breath, then the lines}} @{BRIGHT_SPOT}:4 r:12 | {REST * 10} !ppp @{LOW_SPOT}:4",
        ),
    },
)

SECTIONS = (SLACK_WATER, INFLOW, WHEEL_STARTS, WHEEL_TURNS, STONES, LAMPS, HIGH_WATER, EBB)


def score_text() -> str:
    """The whole piece as MusicXML."""
    return musicxml(TITLE, PARTS, SECTIONS)


def main(arguments: list[str]) -> int:
    """Write the score to the one file named."""
    if len(arguments) != 1:
        print("usage: python -m examples.compose FILE", file=sys.stderr)
        return 2
    Path(arguments[0]).write_text(score_text(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
