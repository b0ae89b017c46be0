"""The reference node on this Python: its folder and the shim for MicroPython's modules on the path."""

import sys
from pathlib import Path

HERE = Path(__file__).parent
NODE = HERE.parents[1] / "firmware-notes" / "node"
sys.path[:0] = [str(NODE), str(HERE / "shim"), str(HERE), str(HERE.parent / "real")]
