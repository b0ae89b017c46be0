"""The unit that `hivemon service` writes: systemd understands it, judges it safe, and it names what is really there."""

import os
import pwd
import re
import shutil
import subprocess
from pathlib import Path

import msgspec
import pytest
from cli_samples import CONFIG as CONFIG_TEXT
from typer.main import get_command

from hivemon.cli.app import app
from hivemon.cli.service import disk_of
from hivemon.config import Settings, parse
from hivemon.config_notify import ChannelSettings
from hivemon.daemon.unit import unit
from hivemon.errors import UsageError
from hivemon.pages import metrics

PROGRAM, CONFIG = Path("/opt/hivemon/bin/hivemon"), Path("/srv/bees/hivemon.toml")
EXPOSURE_MOST = 15
"""Tenths on systemd-analyze's scale of 0 to 10, where it calls up to 2 "OK"; measured 1.2 with systemd 252."""


@pytest.fixture
def at_home(settings: Settings) -> Settings:
    return msgspec.structs.replace(settings, store=msgspec.structs.replace(settings.store, path="/srv/bees/hivemon.db"))


def lines(text: str, key: str) -> list[str]:
    return re.findall(rf"^{key}=(.*)$", text, re.MULTILINE)


def systemd_analyze() -> str:
    found = shutil.which("systemd-analyze")
    if found is None:
        reason = "systemd-analyze is not installed (apt-get install systemd)"
        (pytest.fail if os.environ.get("HIVEMON_NO_SKIP") == "1" else pytest.skip)(reason)
    return found


def test_systemd_judges_it_well_shielded(at_home: Settings, tmp_path: Path) -> None:
    path = tmp_path / "hivemon.service"
    path.write_text(unit(Path("/bin/true"), CONFIG, at_home, "daemon"))
    command = [systemd_analyze(), "security", "--offline=true", f"--threshold={EXPOSURE_MOST}", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    print(done.stdout.splitlines()[-1] if done.stdout else done.stderr)
    assert done.returncode == 0, done.stdout + done.stderr


def test_systemd_finds_nothing_wrong_with_it(at_home: Settings, tmp_path: Path) -> None:
    path = tmp_path / "hivemon.service"
    path.write_text(unit(Path("/bin/true"), CONFIG, at_home, "daemon"))
    done = subprocess.run([systemd_analyze(), "verify", str(path)], capture_output=True, text=True, check=False)
    assert (done.returncode, [line for line in done.stderr.splitlines() if "hivemon.service" in line]) == (0, [])


def test_a_store_with_a_disk_of_its_own_waits_for_that(at_home: Settings, tmp_path: Path) -> None:
    """The check that the unit runs tells a mounted disk from the folder it belongs on."""
    text = unit(Path("/bin/true"), CONFIG, at_home, "daemon", Path("/mnt/a disk"))
    assert lines(text, "ExecStartPre") == ['+mountpoint -q "/mnt/a disk"']
    assert not lines(unit(PROGRAM, CONFIG, at_home, "bees"), "ExecStartPre")
    path = tmp_path / "hivemon.service"
    path.write_text(text)
    done = subprocess.run([systemd_analyze(), "verify", str(path)], capture_output=True, text=True, check=False)
    assert (done.returncode, [line for line in done.stderr.splitlines() if "hivemon.service" in line]) == (0, [])
    said = [subprocess.run(["mountpoint", "-q", str(place)], check=False).returncode for place in ("/proc", tmp_path)]
    assert said[0] == 0
    assert said[1] not in (0, 3)  # what is told by 3 is not tried again


def test_the_disk_of_a_folder_is_found() -> None:
    assert disk_of(Path("/proc/self/fd")) == Path("/proc")
    assert disk_of(Path("/nowhere/to/be/found")) is None


def test_it_may_write_where_the_store_and_the_diary_are(at_home: Settings) -> None:
    diary = ChannelSettings(name="diary", kind="file", path="/srv/notes/diary.txt")
    text = unit(PROGRAM, CONFIG, msgspec.structs.replace(at_home, channel=[diary]), "bees")
    assert lines(text, "ReadWritePaths") == ['"/srv/bees" "/srv/notes"']
    assert lines(text, "ProtectHome") == ["yes"]
    assert lines(text, "ExecStart") == ['"/opt/hivemon/bin/hivemon" run --config "/srv/bees/hivemon.toml"']


def test_a_program_in_a_home_stays_visible_there(at_home: Settings) -> None:
    text = unit(Path("/home/bees/.venv/bin/hivemon"), CONFIG, at_home, "bees")
    assert lines(text, "ProtectHome") == ["read-only"]


def test_a_port_below_1024_gets_the_one_right_it_needs(at_home: Settings) -> None:
    assert lines(unit(PROGRAM, CONFIG, at_home, "bees"), "CapabilityBoundingSet") == [""]
    low = msgspec.structs.replace(at_home, pages=msgspec.structs.replace(at_home.pages, port=443))
    assert lines(unit(PROGRAM, CONFIG, low, "bees"), "AmbientCapabilities") == ["CAP_NET_BIND_SERVICE"]


def test_odd_paths_reach_systemd_as_they_are(at_home: Settings) -> None:
    """Quotes, specifiers and variables (systemd.syntax(7), systemd.unit(5), systemd.service(5))."""
    text = unit(PROGRAM, Path('/srv/my "bees" 100%/$x.toml'), at_home, "bees")
    assert lines(text, "ExecStart")[0].endswith(r'--config "/srv/my \"bees\" 100%%/$$x.toml"')
    with pytest.raises(UsageError, match="line break"):
        unit(PROGRAM, Path("/srv/a\nb"), at_home, "bees")


def test_a_mistake_in_the_configuration_is_not_tried_again(at_home: Settings) -> None:
    text = unit(PROGRAM, CONFIG, at_home, "bees")
    assert (lines(text, "Restart"), lines(text, "RestartPreventExitStatus")) == (["always"], ["3"])
    assert lines(text, "Type") == ["notify"]


def test_the_command_writes_it_and_says_what_to_do_then(hivemon, config: Path, tmp_path: Path) -> None:
    elsewhere = config.read_text() + '\n[store]\npath = "/srv/hivemon.db"\n'
    config.write_text(elsewhere)
    out = tmp_path / "bees.service"
    answer = hivemon("service", "--account", "bees", "--out", str(out))
    assert (answer.code, answer.err) == (0, "")
    assert "systemctl enable --now bees" in answer.out
    assert f'--config "{config}"' in lines(out.read_text(), "ExecStart")[0]
    assert hivemon("service", "--account", "bees").out.strip() == out.read_text().strip()
    assert hivemon("service", "--account", "bees", "--out", "/proc/no.service").code == 4


def test_root_is_asked_for_an_account_and_a_store_in_tmp_is_refused(hivemon, config: Path) -> None:
    if str(config).startswith("/tmp/"):
        answer = hivemon("service", "--account", "bees")
        assert (answer.code, "does not last" in answer.err) == (2, True)
    config.write_text(config.read_text() + '\n[store]\npath = "/srv/hivemon.db"\n')
    if config.stat().st_uid == 0:
        answer = hivemon("service")
        assert (answer.code, "--account hivemon" in answer.err) == (2, True)
    else:
        assert lines(hivemon("service").out, "User") == [pwd.getpwuid(os.getuid()).pw_name]


def test_the_page_on_operations_tells_the_truth() -> None:
    """Its configuration loads, its command has these options, and what it alerts on is scraped under those names."""
    page = (Path(__file__).parents[2] / "hivemon" / "daemon" / "OPERATIONS.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```toml\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    assert parse(CONFIG_TEXT + block).pages.scrape_token_file == "scrape-token"
    options = {name for parameter in get_command(app).commands["service"].params for name in parameter.opts}
    assert set(re.findall(r"hivemon service.*?(--\w+) .*?(--\w+) ", page)[0]) <= options
    scraped = Path(metrics.__file__).read_text(encoding="utf-8")
    assert all(f'"{name}"' in scraped for name in re.findall(r"hivemon_\w+", page))
