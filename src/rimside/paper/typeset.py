"""The one file that meets the typesetter: templates, faces and data in, a PDF or pictures of pages out.

What people wrote never becomes part of a template: it travels as JSON and is set as text, markup and all.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Final

from rimside.errors import RimsideError
from rimside.paper.lettering import FACES, face_file, sign_file

TIMESTAMP_S = 1577836800
"""1 January 2020, in the PDF's own dates: fixed, so that the same input gives the same bytes."""
PICTURE_PPI = 144.0
"""Dots an inch in pictures of pages: two for each of a browser's own, so that a page is sharp on a fine screen."""
STANDARD: Final = "ua-1"
"""PDF/UA-1 (ISO 14289-1): tagged, with a title, a language and words for every picture."""


class TypesettingFailed(RimsideError):
    """The typesetter refused a template or warned about it; a fault of ours, never of the input."""


def typeset(template: str, data: Mapping[str, object], pictures: Mapping[str, str]) -> bytes:
    """Set one template of this package as PDF.

    Parameters
    ----------
    template : file name in `templates` ("book.typ").
    data : what the template reads from `sys.inputs.data`; plain JSON values.
    pictures : SVG texts by name, each read from `sys.inputs` under "svg-" and its name.

    Raises
    ------
    TypesettingFailed : the typesetter refused or warned.
    """
    (pdf,) = _compiled(template, data, pictures, format="pdf", timestamp=TIMESTAMP_S, pdf_standards=STANDARD)
    return pdf


def page_pictures(template: str, data: Mapping[str, object], pictures: Mapping[str, str]) -> tuple[bytes, ...]:
    """The same template with the same inputs and faces as one PNG a page.

    Raises
    ------
    TypesettingFailed : the typesetter refused or warned.
    """
    return _compiled(template, data, pictures, format="png", ppi=PICTURE_PPI)


def _compiled(template: str, data: Mapping[str, object], pictures: Mapping[str, str], **how: Any) -> tuple[bytes, ...]:
    """The documents that the typesetter makes: one PDF, or a picture a page."""
    import typst

    inputs = {"data": json.dumps(data, ensure_ascii=False)} | {f"svg-{name}": svg for name, svg in pictures.items()}
    with tempfile.TemporaryDirectory() as folder, as_file(files("rimside.paper") / "templates") as root:
        fonts = typst.Fonts(include_system_fonts=False, font_paths=[_font_folder(Path(folder))])
        try:
            made, warnings = typst.compile_with_warnings(
                str(root / template), root=str(root), font_paths=fonts, sys_inputs=inputs, **how
            )
        except typst.TypstError as error:
            raise TypesettingFailed(f"{template}: {error}") from error
    if warnings:
        raise TypesettingFailed(f"{template}: {'; '.join(map(str, warnings))}")
    return tuple(map(bytes, made)) if isinstance(made, list) else (bytes(made),)


def _font_folder(folder: Path) -> str:
    for face in FACES:
        (folder / f"{face}.ttf").write_bytes(face_file(face))
    (folder / "signs.ttf").write_bytes(sign_file())
    return str(folder)
