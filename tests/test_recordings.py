"""The bundled recordings are found, in a checkout and in an installed package alike."""

from pathlib import Path

import pytest

from hivemon import recordings
from hivemon.config import load
from hivemon.errors import UsageError
from hivemon.intake.files import read_logbook


def test_every_recording_has_a_configuration_that_loads_and_a_logbook_without_bad_rows() -> None:
    assert "orchard-swarm" in recordings.names()
    for name in recordings.names():
        found = recordings.find(name)
        known = {hive.id for hive in load(found.config).hive}
        assert {entry.hive for entry in read_logbook(found.logbook, rejected=refuse)} <= known


def refuse(number: int, reason: str, _: str) -> None:
    pytest.fail(f"row {number}: {reason}")


def test_an_unknown_recording_is_met_with_those_that_are_here() -> None:
    with pytest.raises(UsageError, match="no recording 'moor'") as caught:
        recordings.find("moor")
    assert "orchard-swarm" in caught.value.hint


def test_in_an_installed_package_they_stand_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The wheel carries them as hivemon/recordings; that place is looked at first."""
    (tmp_path / "moor").mkdir()
    (tmp_path / "moor" / "readings.csv.gz").touch()
    monkeypatch.setattr(recordings, "_PLACES", (tmp_path, *recordings._PLACES))
    assert recordings.find("moor").readings == tmp_path / "moor" / "readings.csv.gz"
    assert recordings._PLACES[1] == Path(recordings.__file__).parent / "recordings"
