"""What a shell and a reader get before any work: quick help, completion, a man page that says what the help says."""

import json
import os
import re
import subprocess
import sys
from typing import Any

import pytest
from typer.main import get_command

from hivemon.cli.app import app
from hivemon.cli.manual import page

HEAVY = ("numpy", "pyarrow", "scipy", "ruptures", "msgspec", "paho", "amqtt", "rich", "apprise", "starlette", "tomlkit")


def test_help_loads_nothing_heavy() -> None:
    """Under 0.3 s on an idle machine; here loosely, in processor time, best of three, since others may be at work."""
    look = (
        "import sys, time, json, contextlib, io; from hivemon.cli import main\n"
        "with contextlib.redirect_stdout(io.StringIO()): main(['--help'])\n"
        f"print(json.dumps([time.process_time(), [m for m in {HEAVY!r} if m in sys.modules]]))"
    )
    said = [
        json.loads(subprocess.run([sys.executable, "-c", look], capture_output=True, check=True).stdout)
        for _ in range(3)
    ]
    assert said[0][1] == []
    assert min(seconds for seconds, _ in said) < 0.6


def test_what_a_watchdog_asks_does_not_load_the_fold(config, store) -> None:
    """`health` and `log add` beside a daemon run every few minutes on small boards; the fold's imports take seconds."""
    del store
    look = (
        "import sys; from hivemon.cli import main\n"
        f"main(['health', '--config', {str(config)!r}, '--json'])\n"
        "print([m for m in ('ruptures', 'scipy', 'hivemon.fold', 'pyarrow') if m in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True).stdout
    assert said.splitlines()[-1] == "[]"


def test_every_name_the_daemon_offers_is_there_each_time() -> None:
    """They are fetched when first used; `run` is a module's name too."""
    look = (
        "import hivemon.daemon as d; from hivemon.daemon import run; from hivemon.daemon import run as again\n"
        "assert run is again and callable(run); assert all(callable(getattr(d, name)) for name in d.__all__)"
    )
    subprocess.run([sys.executable, "-c", look], check=True)


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("hivemon ov", "overnight"), ("hivemon log ad", "add"), ("hivemon import --dry", "--dry-run")],
)
def test_a_shell_completes_commands_and_options(typed: str, offered: str) -> None:
    asked = {"_HIVEMON_COMPLETE": "complete_bash", "COMP_WORDS": typed, "COMP_CWORD": str(len(typed.split()) - 1)}
    main = "from hivemon.cli import main; raise SystemExit(main([]))"
    said = subprocess.run(
        [sys.executable, "-c", main], env=os.environ | asked, capture_output=True, text=True, check=False
    )
    assert said.returncode == 0
    assert said.stdout.split() == [offered]


def all_commands(command: Any) -> list[Any]:
    return [command, *(inner for sub in getattr(command, "commands", {}).values() for inner in all_commands(sub))]


def test_the_man_page_has_every_command_and_option_with_its_help() -> None:
    text = "\n".join(page(get_command(app)))
    read = re.sub(r"\\(?:f[BRI]|&)", "", text).replace("\\-", "-").replace("\\(ti", "~").replace("\\(ga", "`")
    for command in all_commands(get_command(app)):
        assert " ".join((command.help or "").split("\n\n")[0].split()) in read
        for option in command.params:
            if option.param_type_name == "option":
                assert all(name in read for name in option.opts)
                assert (option.help or "") in read


def test_the_man_page_uses_known_requests_only() -> None:
    """groff_man(7): a line that begins with a dot or a quote is a request."""
    lines = "\n".join(page(get_command(app))).splitlines()
    assert {line.split()[0] for line in lines if line.startswith((".", "'"))} == {".TH", ".SH", ".SS", ".TP", ".PP"}
    assert not [line for line in lines if re.search(r"\\(?![-&e(f])", line)]
