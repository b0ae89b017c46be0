"""Other processes that use the same store, and die when told to."""

import subprocess
import sys
import textwrap

HEAD = """
import os, signal, sys, time
from pathlib import Path
import numpy as np
from hivemon.model import *
from hivemon.store import Store
path = Path(sys.argv[1])
T0 = 1_750_000_000_000
def die():
    os.kill(os.getpid(), signal.SIGKILL)
"""


def start(body, *arguments):
    """Start Python on `body` with the names of HEAD; its output is a pipe."""
    script = HEAD + textwrap.dedent(body)
    command = [sys.executable, "-c", script, *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def finish(process, *, killed=False):
    """Wait for a process and return what it printed; it must have ended well, or by kill -9 where that is expected."""
    out, err = process.communicate(timeout=60)
    assert process.returncode == (-9 if killed else 0), err
    return out


def run(body, *arguments, killed=False):
    return finish(start(body, *arguments), killed=killed)
