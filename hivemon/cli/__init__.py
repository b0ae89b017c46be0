"""The command line: one module per group of commands, all thin; what they show is built by pure functions beside them.

Heavy imports (numpy, pyarrow, the broker) wait inside the commands, so that `hivemon --help` answers at once.
"""

from hivemon.cli.app import main

__all__ = ["main"]
