"""Files damaged at random, the same way each time: each is read or refused with BadInput, never anything else."""

from __future__ import annotations

import io
import random
import re
import zipfile

import pytest

from rimside.errors import BadInput
from rimside.score.read_sheet import template_csv
from rimside.score.reading import read
from tests.score.build import VOCABULARY, bars, file_of, note, rest, words
from tests.score.midi_bytes import METER_3_4, TEMPO_60, after, header, text, track

ENDINGS = (
    '<barline location="left"><ending number="1" type="start"/></barline>'
    + note("E")
    + '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward" times="2"/></barline>'
)
XML = file_of(bars(words("pizz., touch 1/3") + note(after='<tie type="start"/>'), ENDINGS, rest() + note()))


def _packed() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", '<container><rootfile full-path="s.xml"/></container>')
        archive.writestr("s.xml", XML)
    return buffer.getvalue()


NOTES = [after(10, 0x90, 60 + n, 64) + after(40, 0x80, 60 + n, 0) for n in range(8)]
SEEDS = {
    "x.xml": XML,
    "x.mxl": _packed(),
    "x.mid": header(1, 2) + track(TEMPO_60, METER_3_4, text(0x06, "A")) + track(text(0x03, "Keys"), *NOTES),
    "x.csv": template_csv().encode(),
}
SLIPS = (b"-1", b"0", b"1e308", b"9" * 25, b"", b"nan", b"1/3", b"1/0", b"<", "²".encode(), b"0s", b"1:0")


def damaged(data: bytes, chance: random.Random) -> bytes:
    """One to four slips: a byte changed, some lost, some doubled, or a value or cell replaced."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(made))
        match chance.randrange(4):
            case 0:
                made[at] = chance.randrange(256)
            case 1:
                del made[at : at + chance.randint(1, 20)]
            case 2:
                made[at:at] = made[at : at + 30]
            case _:
                values = list(re.finditer(rb'(?<=[>",])[^<>",]+(?=[<",])', bytes(made)))
                if values:
                    start, end = chance.choice(values).span()
                    made[start:end] = chance.choice(SLIPS)
        if not made:
            return b""
    return bytes(made)


@pytest.mark.parametrize("filename", list(SEEDS))
def test_damage_is_read_or_refused(filename: str) -> None:
    """400 damaged files of each kind: a reading, or one line that names the file."""
    chance = random.Random(filename)
    outcomes = set()
    for _ in range(400):
        data = damaged(SEEDS[filename], chance)
        try:
            read(data, filename, VOCABULARY)
            outcomes.add("read")
        except BadInput as error:
            assert filename in error.where
            outcomes.add("refused")
    assert outcomes == {"read", "refused"}
