"""Every package that hivemon brings along has a licence that goes with MIT, and each is listed by name and licence.

The list is printed with `pytest tests/test_licences.py -s`. Licences are read from the packages' own metadata
(core metadata specification: License-Expression, then the trove classifiers, then License).
"""

import re
from importlib.metadata import Distribution, PackageNotFoundError, distribution

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement

PERMISSIVE = re.compile(
    r"\b(MIT|BSD|0BSD|Apache|ISC|PSF|Python Software Foundation|Python-2\.0|HPND|Unlicense|Zlib|CC0)\b", re.IGNORECASE
)
WEAK_COPYLEFT = re.compile(r"\b(MPL|Mozilla Public License|EPL|Eclipse Public License|EDL)\b", re.IGNORECASE)
"""May be used as a library without touching our own licence; changes to the library itself must stay open."""
STRONG = re.compile(r"\b(A?GPL|LGPL|GNU|SSPL|BUSL|Commons Clause)", re.IGNORECASE)
KNOWN = {"paho-mqtt": "EPL-2.0 OR BSD-3-Clause"}
"""Where the metadata says less than the package's own licence file: two licences, of which we take the second."""


def brought_along(name: str = "hivemon") -> dict[str, Distribution]:
    """Return what an ordinary installation brings, by name: the dependencies of dependencies too, no extras."""
    found: dict[str, Distribution] = {}
    waiting = [Requirement(text) for text in distribution(name).requires or []]
    while waiting:
        wanted = waiting.pop()
        if wanted.marker and not any(
            wanted.marker.evaluate({**default_environment(), "extra": extra}) for extra in wanted.extras or {""}
        ):
            continue
        key = re.sub(r"[-_.]+", "-", wanted.name).lower()
        if key in found:
            continue
        try:
            found[key] = distribution(wanted.name)
        except PackageNotFoundError:
            pytest.fail(f"{wanted.name} is required and not installed")
        waiting += [Requirement(text) for text in found[key].requires or []]
    return found


def licence(package: Distribution) -> str:
    """Return what a package says of its licence, on one line."""
    metadata = package.metadata
    name = re.sub(r"[-_.]+", "-", metadata["Name"]).lower()
    classifiers = [c.rsplit(" :: ", 1)[-1] for c in metadata.get_all("Classifier") or [] if c.startswith("License ::")]
    said = KNOWN.get(name) or metadata.get("License-Expression") or "; ".join(classifiers) or metadata.get("License")
    return " ".join((said or "").split())[:120]


PACKAGES = brought_along()


def test_nothing_is_missing_from_the_list() -> None:
    direct = {Requirement(text).name for text in distribution("hivemon").requires or [] if "extra ==" not in text}
    assert {re.sub(r"[-_.]+", "-", name).lower() for name in direct} <= set(PACKAGES)
    for name, package in sorted(PACKAGES.items()):
        print(f"{name:24} {package.version:16} {licence(package)}")


@pytest.mark.parametrize("name", sorted(PACKAGES))
def test_its_licence_goes_with_ours(name: str) -> None:
    said = licence(PACKAGES[name])
    alternatives = said.split(" OR ")
    assert any(
        (PERMISSIVE.search(one) or WEAK_COPYLEFT.search(one)) and not STRONG.search(one) for one in alternatives
    ), f"{name} says {said!r}"
