"""Many small files made one: a browser that must ask forty times waits for each, and a file of a season can ask nobody.

What is written stays as it is: plain modules and style sheets. They are put together when they are sent.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

_IMPORT = re.compile(r'^import \{([^}]*)\} from "\./(\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?function\*?|const|class) (\w+)", re.MULTILINE)
STYLES = ("base", "today", "story")
"""The style sheets of the screen, in their order; `print` stands alone."""


def style(folder: Path) -> str:
    """Return the style sheets of the screen as one."""
    return "\n".join((folder / "style" / f"{name}.css").read_text(encoding="utf-8") for name in STYLES)


def bundle(folder: Path, entry: str) -> str:
    """Return a module and all it imports as one script: each module a function that gives what it exports.

    Understands the forms the pages' own modules use: named imports of `./name.js`, exports where they are declared.
    """
    order: list[str] = []
    sources: dict[str, str] = {}

    def visit(name: str) -> None:
        if name in sources:
            return
        sources[name] = (folder / f"{name}.js").read_text(encoding="utf-8")
        for found in _IMPORT.finditer(sources[name]):
            visit(found.group(2))
        order.append(name)

    visit(entry)
    return '"use strict";\n' + "\n".join(_wrapped(name, sources[name]) for name in order)


def _wrapped(name: str, source: str) -> str:
    given = ", ".join(found.group(2) for found in _EXPORT.finditer(source))
    taken = _IMPORT.sub(lambda found: f"const {{{found[1].replace(' as ', ': ')}}} = module_{found[2]};", source)
    body = _EXPORT.sub(r"\1 \2", taken)
    return f"const module_{name} = (() => {{\n{body}\nreturn {{ {given} }};\n}})();"
