"""What the program can say, found in its code: reasons, evidence, refusals. The pages must have words for it."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import hivemon
from hivemon.inference import robbing, robbing_day
from hivemon.model import HIVE_QUANTITIES

SOURCE = Path(hivemon.__file__).parent
NAME = re.compile(r"[a-z]+(-[a-z]+)+")
KEY = re.compile(r"[a-z]+(_[a-z]+)*")

NEVER_SHOWN = {
    "after-swarm", "after-split-or-new-queen", "after-unlogged-loss", "break-excused", "too-fast-for-robbers",
    "nothing-to-compare-with", "could-be-foragers-or-drying", "rain-drying-alone", "logged-visit", "whole-yard",
    "rain", "no-faster-than-nature", "too-slow-for-a-step", "in-parts", "as-on-other-days", "not-measured",
    "scale-drops-out", "scale-wanders", "handled-lately", "flow-is-on", "put-on-before",
    "drying-or-fed", "as-usual-beside-neighbours", "within-an-hour", "too-much-for-robbers", "hardly-lost",
    "neighbours-lost-too", "cooling-its-nest", "lost-at-night-too", "scale-restless-at-night",
}  # fmt: skip
"""Why nothing is said, and weights that are added up: never shown.

Whoever adds one says so here; a reason that is shown needs words.
"""


def trees(*parts: str) -> Iterator[tuple[Path, ast.Module]]:
    """Yield every module of some packages of hivemon."""
    for part in parts:
        for path in sorted((SOURCE / part).rglob("*.py")):
            yield path, ast.parse(path.read_text(encoding="utf-8"))


def strings(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def names() -> set[str]:
    """Return every hyphenated name in inference, and those a quantity begins (`weight-stuck` for `-stuck`)."""
    found: set[str] = set()
    for _, tree in trees("inference"):
        for text in strings(tree):
            if NAME.fullmatch(text):
                found.add(text)
            elif re.fullmatch(r"-[a-z-]+", text) and text != "-":
                found |= {f"{quantity}{text}" for quantity in HIVE_QUANTITIES}
    return found


def reasons_of_no_swarm() -> set[str]:
    """Return the first of each pair in the checks of `swarm.why_not`: an unlogged step gives them as its reason."""
    tree = ast.parse((SOURCE / "inference" / "swarm.py").read_text(encoding="utf-8"))
    (function,) = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef) and n.name == "why_not"]
    pairs = [n for n in ast.walk(function) if isinstance(n, ast.Tuple) and len(n.elts) == 2]
    return {p.elts[0].value for p in pairs if isinstance(p.elts[0], ast.Constant)}


def evidence() -> set[str]:
    """Return the names of all numbers that stand behind events."""
    found = {*robbing.Loss._fields, *robbing_day.DayLoss._fields}
    for path, tree in trees("inference"):
        for node in ast.walk(tree):
            if not isinstance(node, ast.Dict) or _weighs(path, node):
                continue
            keys = [key.value for key in node.keys if isinstance(key, ast.Constant) and isinstance(key.value, str)]
            found |= {key for key in keys if KEY.fullmatch(key)}
    return found


def _weighs(path: Path, node: ast.Dict) -> bool:
    """Whether it is the dict of `swarm.weights`, which is added up and never shown."""
    return path.name == "swarm.py" and any(isinstance(k, ast.Constant) and k.value == "suddenness" for k in node.keys)


def regrets() -> set[str]:
    """Return every sentence by which an event is taken back."""
    found = set()
    for path, tree in trees("inference", "daemon"):
        for text in strings(tree):
            if text.startswith(
                (
                    "it no longer follows",
                    "the weight was back",
                    "the weight came back",
                    "more went",
                    "within a day the hive",
                    "the scale was found",
                    "it lost as much",
                    "the days since then",
                    "most of it went",
                    "by dusk it had",
                    "what went came",
                    "the scale wandered",
                )
            ):
                assert "\n" not in text, path
                found.add(text)
    return found


def refusals() -> set[str]:
    """Return every code of a refusal."""
    found = {"store"}
    for _, tree in trees("pages"):
        for node in ast.walk(tree):
            if isinstance(node, ast.keyword) and node.arg == "code" and isinstance(node.value, ast.Constant):
                found.add(node.value.value)
    return found - {""}
