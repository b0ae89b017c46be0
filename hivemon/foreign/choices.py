"""What a person says about a foreign table, and what is asked of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping


class Choices(NamedTuple):
    """What a person said; empty where nothing was said.

    `columns` maps headings (in a long table, names of quantities) to a role or HIVE,QUANTITY,UNIT; `hives` maps the
    file's names to ids or `skip`; `hive` is whose everything is that names no hive.
    """

    decimal: str = ""
    order: str = ""
    zone: str = ""
    hour_twice: str = ""
    columns: Mapping[str, str] = {}
    hives: Mapping[str, str] = {}
    hive: str = ""


class Question(NamedTuple):
    """Something that cannot be told from the file: the option that answers it, its words, and possible answers.

    `key` is the heading or name asked about, for options that map one; `default` is what fits best, or empty.
    """

    option: str
    key: str
    text: str
    answers: tuple[str, ...]
    default: str
