"""Where the pages' own files are: beside the package when installed, in `grafana-free-dashboards` in a checkout."""

from __future__ import annotations

from pathlib import Path

from hivemon.errors import ConfigError

_HERE = Path(__file__).parent
_PLACES = (_HERE / "static", _HERE.parent.parent / "grafana-free-dashboards")


def folder() -> Path:
    """Return the folder of the pages' files; raises ConfigError when the installation lacks them."""
    for place in _PLACES:
        if (place / "index.html").is_file():
            return place
    raise ConfigError(
        "the files of the pages are not there", hint="install hivemon again, or set on = false in [pages]"
    )
