"""The reference node is MicroPython: it runs in MicroPython 1.27 itself (vendor/), as far as that needs no chip."""

import ast
import subprocess
from pathlib import Path

import playwright
import pytest

HERE = Path(__file__).parent
NODE = HERE.parents[1] / "firmware-notes" / "node"
JAVASCRIPT = Path(playwright.__file__).parent / "driver" / "node"
THERE = {
    *("binascii", "ds18x20", "json", "machine", "network", "ntptime", "onewire", "os", "ssl", "struct", "time"),
    "umqtt.simple",
}
"""Modules of MicroPython's own ESP32 firmware that the node uses (micropython.org library reference, from memory)."""


def on_the_chip(script):
    """Run a script in MicroPython and return the finished process."""
    command = [JAVASCRIPT, HERE / "on_the_chip.mjs", NODE, script]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def test_the_pure_parts_run_in_micropython():
    found = on_the_chip(HERE / "on_the_chip.py")
    assert (found.returncode, found.stdout.splitlines()[-1:]) == (0, ["all is well"]), found.stderr[-2000:]


def test_micropython_compiles_every_file_and_refuses_what_it_does_not_know(tmp_path):
    """The last line is Python 3.10's, which MicroPython 1.27 does not speak: the check can fail."""
    script = tmp_path / "compile.py"
    script.write_text(
        "import os\n"
        "for name in sorted(os.listdir('/flash')):\n"
        "    compile(open('/flash/' + name).read(), name, 'exec')\n"
        "    print(name)\n"
        "try:\n    compile('match 1:\\n    case 1: pass\\n', 'x', 'exec')\n"
        "except SyntaxError:\n    print('refused')\n"
    )
    found = on_the_chip(script)
    assert found.stdout.split() == [*sorted(path.name for path in NODE.glob("*.py")), "refused"], found.stderr[-2000:]


@pytest.mark.parametrize("file", sorted(NODE.glob("*.py")), ids=lambda f: f.name)
def test_nothing_is_imported_that_the_chip_does_not_have(file):
    own = {path.stem for path in NODE.glob("*.py")}
    wanted = set()
    for part in ast.walk(ast.parse(file.read_text())):
        if isinstance(part, ast.Import):
            wanted |= {name.name for name in part.names}
        elif isinstance(part, ast.ImportFrom):
            wanted.add(part.module)
    assert wanted <= own | THERE
