"""What is built is what people get: sdist and wheel hold what they need, install cleanly and work by themselves."""

import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RECORDING = ROOT / "sample_streams" / "recordings" / "meadow-quiet"


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """Build sdist, and the wheel from the sdist, as an installer does that has nothing else."""
    out = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True, timeout=200)
    return out


@pytest.fixture(scope="module")
def installed(built, tmp_path_factory) -> Path:
    """Install the wheel alone into a fresh environment; its dependencies are lent to it from this one."""
    place = tmp_path_factory.mktemp("fresh")
    venv.create(place, with_pip=False)
    (wheel,) = built.glob("*.whl")
    site = next(place.glob("lib/python3*/site-packages"))
    pip = [sys.executable, "-m", "pip", "--python", str(place / "bin" / "python"), "install", "--quiet"]
    subprocess.run([*pip, "--no-deps", "--no-index", "--no-compile", str(wheel)], check=True, timeout=100)
    # After its own folder, so that the wheel's hivemon comes first; an editable one there has no folder to be found.
    (site / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return place / "bin"


def run(*words: object, cwd: Path) -> subprocess.CompletedProcess:
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("HIVEMON", "PYTHON"))}
    command = [str(word) for word in words]
    return subprocess.run(command, check=False, capture_output=True, text=True, timeout=120, env=clean, cwd=cwd)


def test_the_source_archive_holds_everything_but_what_was_made(built) -> None:
    (path,) = built.glob("*.tar.gz")
    with tarfile.open(path) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    for wanted in (
        "README.md",
        "LICENSE",
        "hivemon/cli/app.py",
        "sample_streams/guide/README.md",
        "firmware-notes/README.md",
    ):
        assert wanted in names
    assert not [name for name in names if "__pycache__" in name or name.endswith((".pyc", ".db"))]


def test_the_wheel_holds_the_program_its_pages_and_its_seasons_and_nothing_else(built) -> None:
    (path,) = built.glob("*.whl")
    names = zipfile.ZipFile(path).namelist()
    assert {name.split("/")[0].split("-")[0] for name in names} == {"hivemon"}
    for wanted in (
        "py.typed",
        "pages/static/index.html",
        "pages/openapi.json",
        "recordings/orchard-swarm/readings.csv.gz",
        "advice/locale/nl/LC_MESSAGES/advice.mo",
    ):
        assert f"hivemon/{wanted}" in names
    assert path.stat().st_size < 4_000_000  # a small board downloads it


def test_installed_it_answers_and_judges_a_season(installed, tmp_path) -> None:
    helped = run(installed / "hivemon", "--help", cwd=tmp_path)
    assert (helped.returncode, helped.stderr) == (0, "")
    assert "overnight" in helped.stdout
    where = run(installed / "python", "-c", "import hivemon; print(hivemon.__file__)", cwd=tmp_path).stdout
    assert where.startswith(str(installed.parent))
    out = tmp_path / "events.jsonl"
    files = ["--config", RECORDING / "hivemon.toml", "--readings", RECORDING / "readings.csv.gz"]
    replayed = run(installed / "hivemon", "replay", *files, "--out", out, cwd=tmp_path)
    assert replayed.returncode == 0, replayed.stderr
    assert "48,384 readings" in replayed.stdout + replayed.stderr
    assert out.exists()


def test_the_version_is_one(built) -> None:
    (path,) = built.glob("*.whl")
    said = re.search(r'^version = "(.+)"$', (ROOT / "pyproject.toml").read_text(), re.MULTILINE)
    assert said is not None
    assert f"-{said[1]}-" in path.name
