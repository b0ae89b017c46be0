"""The texts of advice for the translator: found in the program, kept in gettext catalogues.

python tests/advice/catalogues.py --update    brings locale/*/LC_MESSAGES/advice.po up to date and compiles the .mo
"""

from __future__ import annotations

import argparse
import ast
import io
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import read_mo, write_mo
from babel.messages.pofile import read_po, write_po

import hivemon.advice
from hivemon.advice.words import LANGUAGES, LOCALE

SOURCE = Path(hivemon.advice.__file__).parent
SAYING = ("say", "marked")
BEGUN = datetime(2026, 1, 1, tzinfo=UTC)
"""One date for ever, so that equal texts give equal files."""
TRANSLATED = tuple(language for language in LANGUAGES if language != "en")


def calls() -> list[tuple[str, ast.Call]]:
    """Return every call that says or marks a text, and the file it stands in."""
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        nodes = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)]
        nodes.sort(key=lambda n: (n.lineno, n.col_offset))
        found += [(path.relative_to(SOURCE).as_posix(), n) for n in nodes if n.func.id in SAYING]  # type: ignore[attr-defined]
    return found


def texts() -> dict[str, set[str]]:
    """Return every text the program says, and the files it is said in."""
    found: dict[str, set[str]] = {}
    for file, call in calls():
        if isinstance(call.args[0], ast.Constant):
            found.setdefault(str(call.args[0].value), set()).add(file)
    return found


def po_file(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / "advice.po"


def catalogue(language: str) -> Catalog:
    with po_file(language).open("rb") as file:
        return read_po(file, locale=language)


def compiled(language: str) -> Catalog:
    with po_file(language).with_suffix(".mo").open("rb") as file:
        return read_mo(file)


def header(kept: Catalog) -> dict[str, str]:
    """Return what a catalogue says of itself; the release of the library that wrote it is not the texts' affair."""
    return {name: value for name, value in kept.mime_headers if name != "Generated-By"}


def packed(kept: Catalog) -> bytes:
    """Return a catalogue as its .mo file must be."""
    buffer = io.BytesIO()
    write_mo(buffer, kept)
    return buffer.getvalue()


def update(language: str) -> int:
    """Bring a catalogue up to date with the program; return how many texts still need a translation."""
    old = {m.id: m.string for m in catalogue(language) if m.id} if po_file(language).exists() else {}
    new = Catalog(locale=language, project="hivemon", version="1", fuzzy=False, charset="utf-8", creation_date=BEGUN)
    new.header_comment = f"# What hivemon says, in {new.locale.english_name if new.locale else language}."
    new.revision_date, new.last_translator, new.language_team, new.msgid_bugs_address = BEGUN, "hivemon", language, ""
    for message, files in texts().items():
        new.add(message, old.get(message, ""), locations=[(file, 0) for file in sorted(files)])
    po_file(language).parent.mkdir(parents=True, exist_ok=True)
    with po_file(language).open("wb") as file:
        write_po(file, new, width=120, omit_header=False, include_lineno=False, sort_by_file=True)
    po_file(language).with_suffix(".mo").write_bytes(packed(new))
    return sum(not m.string for m in new if m.id)


def main() -> None:
    """Bring all catalogues up to date when asked to."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--update", action="store_true", help="write locale/*/LC_MESSAGES/advice.po and .mo")
    if not parser.parse_args().update:
        parser.error("nothing to do without --update")
    for language in TRANSLATED:
        print(f"{language}: {update(language)} texts without a translation")


if __name__ == "__main__":
    main()
