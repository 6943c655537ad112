"""MusicXML bytes to an element tree, safely: no entities, no network, no bombs.

MusicXML 4.0 (W3C Community Group Report, 2021): plain files and compressed .mxl containers.
"""

from __future__ import annotations

import io
import lzma
import struct
import zipfile
import zlib
from typing import TYPE_CHECKING, Any

from rimside.errors import BadInput

if TYPE_CHECKING:
    from lxml import etree

MOST_XML_BYTES = 100_000_000
"""An orchestral movement of 200 pages is about 20 MB. Our assumption."""
MOST_ZIP_RATIO = 200
"""Music packs 20 to 40 times; a bomb 1000 times. Our assumption."""
_SMALLEST_SUSPECT = 1_000_000
"""Below this many bytes a high ratio does no harm."""
_ZIP_ERRORS = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    EOFError,
    RuntimeError,
    ValueError,
    OSError,
)
"""What the zip library raises for damage, found by damaging files at random. NotImplementedError is a RuntimeError."""
_ROOTS = ("score-partwise", "score-timewise")


def root_of(data: bytes, filename: str) -> etree._Element:
    """The root element of a plain or compressed MusicXML file.

    Raises
    ------
    BadInput : damaged, not MusicXML, declares entities, or unpacks to an unreasonable size.
    """
    if data.startswith(b"PK"):
        data, filename = _unpacked(data, filename)
    if len(data) > MOST_XML_BYTES:
        raise BadInput("file is too large", where=filename, value=len(data), allowed=f"{MOST_XML_BYTES} bytes")
    return _parsed(data, filename)


def _parsed(data: bytes, filename: str) -> etree._Element:
    from lxml import etree

    _refuse_entities(data, filename)
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        line = getattr(error, "lineno", None)
        raise BadInput(
            "the file is not well-formed XML",
            where=f"{filename}, line {line}" if line else filename,
            value=str(error),
            allowed="complete MusicXML in the encoding that its first line names",
            hint="was it cut short while copying?",
        ) from error
    declared = root.getroottree().docinfo.internalDTD
    if _declares_entities(declared):
        _refuse(filename)
    if root.tag not in _ROOTS:
        raise BadInput("not a MusicXML score", where=filename, value=str(root.tag), allowed=" or ".join(_ROOTS))
    return root


def _declares_entities(declared: Any) -> bool:
    return declared is not None and any(True for _ in declared.iterentities())


def _refuse_entities(data: bytes, filename: str) -> None:
    """Look before parsing: whatever the encoding, zero bytes aside, ASCII stays ASCII."""
    if b"<!ENTITY" in data.replace(b"\0", b"").partition(b"<score-")[0]:
        _refuse(filename)


def _refuse(filename: str) -> None:
    raise BadInput(
        "the file declares entities, which MusicXML never needs",
        where=filename,
        value="<!ENTITY",
        allowed="no declarations of entities",
    )


def _unpacked(data: bytes, filename: str) -> tuple[bytes, str]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            name = _score_name(archive, filename)
            return _member(archive, name, filename), f"{filename} ({name})"
    except _ZIP_ERRORS as error:
        raise BadInput(
            "the .mxl container is damaged",
            where=filename,
            value=str(error),
            allowed="an unencrypted zip with META-INF/container.xml",
            hint="was it cut short while copying?",
        ) from error


def _score_name(archive: zipfile.ZipFile, filename: str) -> str:
    """The score inside: what the container names first, else the only score-like member."""
    names = archive.namelist()
    if "META-INF/container.xml" in names:
        from lxml import etree

        container = _member(archive, "META-INF/container.xml", filename)
        _refuse_entities(container, filename)
        try:
            root = etree.fromstring(container, etree.XMLParser(resolve_entities=False, no_network=True))
        except etree.XMLSyntaxError as error:
            raise BadInput("META-INF/container.xml is damaged", where=filename, value=str(error)) from error
        for rootfile in root.iter("{*}rootfile"):
            path = rootfile.get("full-path", "")
            if path in names:
                return path
    scores = [name for name in names if name.endswith((".musicxml", ".xml")) and not name.startswith("META-INF/")]
    if len(scores) != 1:
        raise BadInput(
            "no score can be found in the container",
            where=filename,
            value=", ".join(names),
            allowed="one rootfile named in META-INF/container.xml",
        )
    return scores[0]


def _member(archive: zipfile.ZipFile, name: str, filename: str) -> bytes:
    info = archive.getinfo(name)
    ratio = info.file_size / max(info.compress_size, 1)
    if info.file_size > MOST_XML_BYTES or (info.file_size > _SMALLEST_SUSPECT and ratio > MOST_ZIP_RATIO):
        raise BadInput(
            "the container unpacks to an unreasonable size",
            where=f"{filename} ({name})",
            value=f"{info.file_size} bytes, {ratio:.0f} times the packed size",
            allowed=f"{MOST_XML_BYTES} bytes, {MOST_ZIP_RATIO} times",
        )
    cap = info.file_size + 1
    with archive.open(info) as member:
        data = member.read(cap)
    if len(data) >= cap:
        raise BadInput(
            "the container holds more than its directory says",
            where=f"{filename} ({name})",
            value=len(data),
            allowed=f"{info.file_size} bytes",
        )
    return data
