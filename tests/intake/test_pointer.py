"""JSON pointers against the evaluation examples of RFC 6901 section 5 (quoted from memory of the RFC)."""

import json

import pytest

from hivemon.errors import Unusable
from hivemon.intake.pointer import follow, parse_pointer

DOCUMENT = json.loads(
    r"""{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7,
         "m~n": 8}""",
)


@pytest.mark.parametrize(
    ("pointer", "expected"),
    [
        ("", DOCUMENT),
        ("/foo", ["bar", "baz"]),
        ("/foo/0", "bar"),
        ("/", 0),
        ("/a~1b", 1),
        ("/c%d", 2),
        ("/e^f", 3),
        ("/g|h", 4),
        ("/i\\j", 5),
        ('/k"l', 6),
        ("/ ", 7),
        ("/m~0n", 8),
    ],
)
def test_rfc_6901_section_5(pointer, expected):
    assert follow(DOCUMENT, parse_pointer(pointer)) == expected


def test_tilde_one_is_resolved_before_tilde_zero():
    """RFC 6901 section 4: "~01" is "~1", not "/"."""
    assert parse_pointer("/~01") == ("~1",)


@pytest.mark.parametrize("pointer", ["foo", "/a~2b", "/a~"])
def test_malformed_pointers_are_refused(pointer):
    with pytest.raises(ValueError, match="pointer"):
        parse_pointer(pointer)


@pytest.mark.parametrize("pointer", ["/bar", "/foo/2", "/foo/01", "/foo/-", "/foo/-1", "/foo/0/1", "/a~1b/x"])
def test_pointers_that_lead_nowhere_name_the_token(pointer):
    """RFC 6901 section 4: array indexes have no leading zeros; "-" is past the end and refers to nothing."""
    with pytest.raises(Unusable, match="nothing at"):
        follow(DOCUMENT, parse_pointer(pointer))
