"""The words for what is wrong in hivemon.toml: the place as a person sees it, what was found, what is allowed.

`explain` turns the type checker's message into such words. Values of keys that may hold a secret are never repeated.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec

from hivemon.errors import ConfigError

if TYPE_CHECKING:
    import tomllib
    from collections.abc import Iterable, Iterator

Path = tuple[str | int, ...]
"""The way to a value in the parsed file: ("hive", 1, "brood_boxes")."""

_KINDS = {
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "str": 'text in "quotes"',
    "array": "a list",
    "object": "a table",
    "date": "a date",
    "datetime": "a date",
    "time": "a time",
}
_BOUNDS = {">=": "at least", "<=": "at most", ">": "more than", "<": "less than"}
_SECRET = re.compile(r"password|token|secret|url_file", re.IGNORECASE)
_ID_HINT = "use letters, digits, dots, dashes and underscores, beginning with a letter or digit; at most 64 of them"


class ConfigFile(NamedTuple):
    """The configuration as it was read: its name, its text, and the tables in it."""

    where: str
    text: str
    raw: dict[str, Any]

    def wrong(self, path: Path, message: str, hint: str = "") -> ConfigError:
        """Return the error that says `message` about the value at `path`."""
        line = line_of(self.text, path)
        place = section(path, self.raw)
        start = f"{self.where}, line {line}" if line else self.where
        return ConfigError(f"{start}: {place}{': ' if place else ''}{message}", hint=hint)


def explain_toml(error: tomllib.TOMLDecodeError, text: str, where: str) -> ConfigError:
    """Return the error for a text that is no TOML. The line itself is not repeated: it may hold a secret."""
    found = re.search(r"^(.*) \(at line (\d+), column (\d+)\)$", str(error))
    if not found:
        message = str(error).replace(" (at end of document)", "")
        return ConfigError(f"{where} is not valid TOML: {message}", hint='text goes in "quotes" that end on their line')
    message, line = found.group(1), int(found.group(2))
    hint = 'look at that line: key = value, text in "quotes", sections as [name] or [[name]]'
    if re.search(r"=\s*-?\d+,\d", text.splitlines()[line - 1]):
        hint = "numbers have a point, not a comma: 51.2"
    elif re.search("[\u201c\u201d\u201e\u2018\u2019]", text.splitlines()[line - 1]):
        hint = 'quotes must be straight ones, "like this"; a word processor bends them: use a plain editor'
    elif message == "Cannot overwrite a value":
        hint = "that key, or a [section] of that name, stands there twice: keep one"
    return ConfigError(f"{where}, line {line}: not valid TOML: {message}", hint=hint)


def explain(message: str, raw: dict[str, Any], text: str, where: str, root: type) -> ConfigError:
    """Return the error for a value of the wrong type, in words; `root` is the type of the whole file."""
    file = ConfigFile(where, text, raw)
    body, _, place = message.partition(" - at `$")
    path = _path(place.rstrip("`"))
    if field := re.match(r"Object contains unknown field `(.+)`", body):
        return _unknown_key(file, (*path, field.group(1)), _fields_at(root, path))
    if field := re.match(r"Object missing required field `(.+)`", body):
        return file.wrong(path, f'the key "{field.group(1)}" is missing', hint=f"add {field.group(1)} = ...")
    if body.startswith("Invalid enum value"):
        return _not_one_of(file, path, _choices_at(root, path))
    if "matching regex" in body or "of length" in body:
        return file.wrong(path, f"{found_at(path, raw)} cannot be used as an id", hint=_ID_HINT)
    if bound := re.match(r"Expected `[^`]+` (>=|<=|>|<) (\S+)", body):
        limit = f"{_BOUNDS[bound.group(1)]} {float(bound.group(2)):g}"
        return file.wrong(path, f"{found_at(path, raw)} is out of range", hint=f"it must be {limit}")
    return _wrong_kind(file, path, body)


def _unknown_key(file: ConfigFile, path: Path, known: list[str]) -> ConfigError:
    key = str(path[-1])
    near = nearest(key, known)
    hint = f'did you mean "{near}"?' if near else f"known here: {', '.join(sorted(known))}"
    if key in ("password", "token") or (key == "url" and path[0] == "channel"):
        hint = f"secrets stay out of this file: write it into a file of its own and name that in {key}_file"
    return file.wrong(path, f'unknown key "{key}"', hint=hint)


def _not_one_of(file: ConfigFile, path: Path, allowed: list[str]) -> ConfigError:
    found = str(value_at(path, file.raw))
    near = nearest(found, allowed)
    hint = f'did you mean "{near}"? ' if near else ""
    choices = ", ".join(f'"{choice}"' for choice in allowed)
    return file.wrong(path, f"{found_at(path, file.raw)} is not allowed", hint=f"{hint}allowed: {choices}")


def _wrong_kind(file: ConfigFile, path: Path, body: str) -> ConfigError:
    """Return the error for text where a number should be, one bracket where two should be, and the like."""
    kinds = re.match(r"Expected `([a-z]+)[^`]*`, got `([a-z]+)`", body)
    if not kinds:
        return file.wrong(path, body[0].lower() + body[1:])
    wanted, got = kinds.groups()
    name = ".".join(str(step) for step in path)
    if (wanted, got) == ("array", "object"):
        return file.wrong(path, "there may be several of these", hint=f"write [[{name}]], with double brackets")
    if (wanted, got) == ("object", "array"):
        return file.wrong(path, f"there can be only one [{name}]", hint=f"write [{name}], with single brackets")
    is_what = f"{found_at(path, file.raw)} is {_KINDS.get(got, got)}"
    return file.wrong(path, is_what, hint=f"write {_KINDS.get(wanted, wanted)}")


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word most like this one, whatever its case; None when none is near."""
    by_lower = {name.lower(): name for name in known}
    found = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.55)
    return by_lower[found[0]] if found else None


def _path(text: str) -> Path:
    """Parse the checker's `.hive[1].brood_boxes`."""
    steps = re.findall(r"\[(\d+)\]|\.?([^.\[\]]+)", text)
    return tuple(int(number) if number else name for number, name in steps)


def section(path: Path, raw: dict[str, Any]) -> str:
    """Return the place as a person sees it: `[[hive]] number 2 ("o2")`, `[rules.swarm]`, or nothing at the top."""
    if len(path) > 1 and isinstance(path[1], int):
        entry = value_at(path[:2], raw)
        key = "name" if path[0] == "channel" else "id"
        name = entry.get(key, entry.get("topic")) if isinstance(entry, dict) else None
        called = f" ({quoted(name)})" if isinstance(name, str) and name else ""
        return f"[[{path[0]}]] number {path[1] + 1}{called}"
    tables = path if isinstance(value_at(path, raw), dict) else path[:-1]
    return f"[{'.'.join(str(step) for step in tables)}]" if tables else ""


def found_at(path: Path, raw: dict[str, Any]) -> str:
    """Return `key = value` as it stands in the file; the value of a key that may hold a secret is left out."""
    key = str(path[-1]) if path and not isinstance(path[-1], int) else "the entry"
    value = value_at(path, raw)
    if _SECRET.search(key) or isinstance(value, dict | list):
        return key
    if isinstance(value, bool):
        return f"{key} = {str(value).lower()}"
    return f"{key} = {quoted(value)}" if isinstance(value, str) else f"{key} = {value}"


def quoted(text: str) -> str:
    """Return text in double quotes as TOML writes it, so that nothing in it can disturb a terminal or a file."""
    return '"' + "".join(_escaped(sign) for sign in text) + '"'


def _escaped(sign: str) -> str:
    if sign in '"\\':
        return f"\\{sign}"
    if sign == "\n":
        return "\\n"
    if sign.isprintable():
        return sign
    return f"\\u{ord(sign):04X}" if ord(sign) <= 0xFFFF else f"\\U{ord(sign):08X}"  # noqa: PLR2004 - TOML's two forms


def value_at(path: Path, raw: Any) -> Any:
    """Return what stands at a path in the parsed file; None when nothing does."""
    for step in path:
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            return None
    return raw


def leaves(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Yield every plain value below a table or list, with its path."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*path, index))
    else:
        yield path, value


def _type_at(root: type, path: Path) -> msgspec.inspect.Type:
    """Return the declared type at a path, seen through lists, bounds and `| None`."""
    found = msgspec.inspect.type_info(root)
    for step in path:
        if isinstance(step, int) and isinstance(found, msgspec.inspect.ListType):
            found = found.item_type
        elif isinstance(found, msgspec.inspect.StructType):
            found = next(field.type for field in found.fields if field.encode_name == step)
        found = _bare(found)
    return found


def _bare(found: msgspec.inspect.Type) -> msgspec.inspect.Type:
    if isinstance(found, msgspec.inspect.Metadata):
        found = found.type
    if isinstance(found, msgspec.inspect.UnionType):
        found = next(member for member in found.types if not isinstance(member, msgspec.inspect.NoneType))
    return found


def _fields_at(root: type, path: Path) -> list[str]:
    found = _type_at(root, path)
    return [field.encode_name for field in found.fields] if isinstance(found, msgspec.inspect.StructType) else []


def _choices_at(root: type, path: Path) -> list[str]:
    found = _type_at(root, path)
    if isinstance(found, msgspec.inspect.EnumType):
        return [str(member.value) for member in found.cls]
    return [str(value) for value in found.values] if isinstance(found, msgspec.inspect.LiteralType) else []


def line_of(text: str, path: Path) -> int | None:
    """Return the number of the line where a key (or, failing that, its section) stands; None when it is not plain."""
    names = [str(step) for step in path if not isinstance(step, int)]
    number = next((step for step in path if isinstance(step, int)), 0)
    if not names:
        return None
    full, table = ".".join(names), ".".join(names[:-1])
    key = re.compile(rf'\s*"?{re.escape(names[-1])}"?\s*=')
    seen: Counter[str] = Counter()
    here, header_line = ("", 0), None
    for count, line in enumerate(text.splitlines(), start=1):
        if header := re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]", line):
            here = (header.group(1), seen[header.group(1)])
            seen[header.group(1)] += 1
            if header_line is None and here in ((table, number), (full, number)):
                header_line = count
        elif here == (table, number) and key.match(line):
            return count
    return header_line
