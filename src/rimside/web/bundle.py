"""Our modules as one script: a page that is opened from the disc may not import.

Each module becomes a function that returns what it exports; an import becomes a constant taken from that.
"""

from __future__ import annotations

import re
from pathlib import Path

IMPORT = re.compile(r'^import \{([^}]*)\} from "(\.{1,2}/[\w/]+)\.js";$', re.MULTILINE)
EXPORT = re.compile(r"^export (?:const|let|class|function\*?|async function) (\w+)", re.MULTILINE)
OTHER = re.compile(r"^(?:import|export)\b.*$", re.MULTILINE)


def bundled(entry: Path) -> str:
    """One script of a module and all that it imports, in the order of need.

    Raises
    ------
    ValueError : an import or export in another form than ours: a fault of ours.
    """
    done: dict[str, str] = {}
    _add(entry, done)
    return "\n".join(done.values())


def _add(path: Path, done: dict[str, str]) -> None:
    if path.stem in done:
        return
    text = path.read_text("utf-8")
    for _, way in IMPORT.findall(text):
        _add((path.parent / f"{way}.js").resolve(), done)
    exports = EXPORT.findall(text)
    body = IMPORT.sub(lambda found: f"const {{{found[1].replace(' as ', ': ')}}} = {_name(Path(found[2]).name)};", text)
    body = re.sub(r"^export (?=const|let|class|function|async)", "", body, flags=re.MULTILINE)
    if strange := OTHER.search(body):
        raise ValueError(f"{path.name}: {strange[0]}")
    done[path.stem] = f"const {_name(path.stem)} = (() => {{\n{body}\nreturn {{ {', '.join(exports)} }};\n}})();"


def _name(stem: str) -> str:
    return f"module_{stem}"
