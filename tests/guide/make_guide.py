"""Makes what in sample_streams/guide is made: the tables of thresholds from the code, the pictures from sample streams.

    python tests/guide/make_guide.py             # both; the pictures need matplotlib, and a minute
    python tests/guide/make_guide.py --tables    # the tables alone

A test fails while a table differs from hivemon/rules.py.
"""

import ast
import re
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))  # sample_streams is no part of the installed package

from hivemon import rules  # noqa: E402
from hivemon.intake.files import read_readings  # noqa: E402
from hivemon.model import Kind, Quantity, Stream  # noqa: E402
from sample_streams import families, recordings  # noqa: E402
from sample_streams.writer import write  # noqa: E402

GUIDE = ROOT / "sample_streams" / "guide"
TABLE = re.compile(r"(<!-- thresholds of ([a-z ]+) -->\n).*?(<!-- end -->)", re.DOTALL)
MOST_POINTS = 260


class Scene(NamedTuple):
    """What a picture shows: a season, a hive (None: the yard), a quantity, where it begins, for how long, and notes.

    `marks` are (moment, words); `beside` is another stream drawn lightly for comparison.
    """

    season: str
    seed: int
    hive: str
    quantity: Quantity
    start: str
    hours: float
    title: str
    marks: tuple[tuple[str, str], ...] = ()
    beside: tuple[str | None, Quantity] | None = None


W, T, B = Quantity.WEIGHT, Quantity.TEMPERATURE, Quantity.BATTERY
OUTSIDE = (None, Quantity.OUTSIDE_TEMPERATURE)
SCENES: dict[tuple[Kind, str], Scene] = {
    (Kind.SWARM, "typical"): Scene(
        "orchard-swarm",
        4,
        "o1",
        W,
        "2025-05-15T04:00",
        12,
        "A swarm of 3.4 kg leaves in a quarter of an hour",
        (("2025-05-15T10:34", "begins to leave"),),
    ),
    (Kind.SWARM, "misleading"): Scene(
        "careless",
        2,
        "c4",
        W,
        "2024-05-28T08:00",
        12,
        "A stone of 1.7 kg is taken off the lid",
        (("2024-05-28T14:16", "stone off"),),
    ),
    (Kind.FLOW_ONSET, "typical"): Scene(
        "orchard-swarm",
        4,
        "o2",
        W,
        "2025-05-02T00:00",
        24 * 14,
        "A flow begins: two weeks of one hive",
        (("2025-05-08T03:28", "flow begins"), ("2025-05-09T11:29", "super on")),
    ),
    (Kind.FLOW_ONSET, "misleading"): Scene(
        "careless",
        2,
        "c1",
        W,
        "2024-06-04T00:00",
        24 * 4,
        "A scale is set anew in a dearth: more weight, no nectar",
        (("2024-06-06T15:20", "scale reset"),),
    ),
    (Kind.FLOW_END, "typical"): Scene(
        "heath-flow",
        1,
        "h2",
        W,
        "2025-08-07T00:00",
        24 * 14,
        "A heather flow ends",
        (("2025-08-15T03:22", "flow ends"),),
    ),
    (Kind.FLOW_END, "misleading"): Scene(
        "heath-flow",
        1,
        "h1",
        W,
        "2025-08-17T00:00",
        24 * 9,
        "A harvest: forty kilograms less, and nothing of forage",
        (("2025-08-22T09:16", "harvest"),),
    ),
    (Kind.DEARTH_ONSET, "typical"): Scene(
        "heath-flow",
        1,
        "h2",
        W,
        "2025-08-10T00:00",
        24 * 12,
        "From a flow into a dearth: a little less every day",
        (("2025-08-17T03:26", "dearth begins"),),
    ),
    (Kind.DEARTH_ONSET, "misleading"): Scene(
        "meadow-quiet",
        1,
        "m3",
        W,
        "2025-07-10T00:00",
        24 * 4,
        "Rain on the lid dries off again: no bee ate that",
    ),
    (Kind.DEARTH_END, "typical"): Scene(
        "careless",
        2,
        "c5",
        W,
        "2024-06-22T00:00",
        24 * 11,
        "A dearth ends",
        (("2024-06-28T02:14", "dearth ends"),),
    ),
    (Kind.DEARTH_END, "misleading"): Scene(
        "careless",
        2,
        "c5",
        W,
        "2024-06-09T00:00",
        24 * 6,
        "In a dearth: a thing laid on the lid is no nectar",
        (("2024-06-10T17:21", "laid on the lid"),),
    ),
    (Kind.BROOD_COLD, "typical"): Scene(
        "snowy-spring",
        1,
        "e3",
        T,
        "2024-04-03T00:00",
        24 * 9,
        "A nest that had brood goes cold",
        (("2024-04-05T23:45", "below the limit"),),
        OUTSIDE,
    ),
    (Kind.BROOD_COLD, "misleading"): Scene(
        "snowy-spring",
        1,
        "e1",
        T,
        "2024-02-20T00:00",
        24 * 9,
        "A winter cluster without brood is not cold brood",
        (),
        OUTSIDE,
    ),
    (Kind.BROOD_HOT, "typical"): Scene(
        "hillside-heat",
        6,
        "s2",
        T,
        "2025-07-11T00:00",
        24 * 9,
        "No water in a heat wave: the nest overheats by day",
        (("2025-07-13T10:05", "above the limit"),),
        OUTSIDE,
    ),
    (Kind.BROOD_HOT, "misleading"): Scene(
        "hillside-heat",
        6,
        "s1",
        T,
        "2025-07-11T00:00",
        24 * 9,
        "Its neighbour in the same heat holds its nest",
        (),
        OUTSIDE,
    ),
    (Kind.BROOD_UNSTABLE, "typical"): Scene(
        "heat-wave-brood",
        2,
        "t3",
        T,
        "2024-07-03T00:00",
        24 * 10,
        "A queenless hive: the last brood emerges",
        (("2024-07-07T21:00", "no longer held"),),
        OUTSIDE,
    ),
    (Kind.BROOD_UNSTABLE, "misleading"): Scene(
        "careless",
        2,
        "c4",
        T,
        "2024-06-10T00:00",
        24 * 10,
        "Two weeks after a swarm: a break that belongs to it",
        (("2024-06-14T08:40", "expected"),),
        OUTSIDE,
    ),
    (Kind.BROOD_RECOVERED, "typical"): Scene(
        "heat-wave-brood",
        2,
        "t1",
        T,
        "2024-07-06T00:00",
        24 * 8,
        "The heat is over and the nest is steady again",
        (("2024-07-10T18:05", "steady again"),),
        OUTSIDE,
    ),
    (Kind.BROOD_RECOVERED, "misleading"): Scene(
        "heat-wave-brood",
        2,
        "t3",
        T,
        "2024-07-14T00:00",
        24 * 5,
        "Warm by the weather alone: it never holds still",
        (),
        OUTSIDE,
    ),
    (Kind.ROBBING, "typical"): Scene(
        "heath-flow",
        1,
        "h3",
        W,
        "2025-08-29T00:00",
        24 * 6,
        "The weak hive is robbed; a neighbour, light, is not",
        (("2025-08-31T09:10", "robbing"), ("2025-09-02T17:35", "over")),
        ("h2", W),
    ),
    (Kind.ROBBING, "misleading"): Scene(
        "orchard-swarm",
        4,
        "o2",
        W,
        "2025-05-12T02:00",
        18,
        "Foragers leave in the morning and come back",
    ),
    (Kind.SENSOR_FAULT, "typical"): Scene(
        "careless",
        2,
        "c4",
        B,
        "2024-06-25T00:00",
        24 * 14,
        "An empty battery",
        (("2024-07-01T04:00", "low"),),
    ),
    (Kind.SENSOR_FAULT, "misleading"): Scene(
        "snowy-spring",
        1,
        "e2",
        W,
        "2024-03-09T00:00",
        24 * 3,
        "A winter hive hardly moves: quiet, not stuck",
    ),
    (Kind.UNLOGGED_STEP, "typical"): Scene(
        "careless",
        2,
        "c2",
        W,
        "2024-05-23T12:00",
        48,
        "A super that nobody wrote down",
        (("2024-05-24T10:33", "super on"),),
    ),
    (Kind.UNLOGGED_STEP, "misleading"): Scene(
        "orchard-swarm",
        4,
        "o1",
        W,
        "2025-05-22T12:00",
        48,
        "The same, but written down",
        (("2025-05-23T10:12", "super on, logged"),),
    ),
    (Kind.OFF_SCALE, "typical"): Scene(
        "careless",
        2,
        "c2",
        W,
        "2024-06-23T00:00",
        24 * 6,
        "The hive stands beside its scale for two days",
        (("2024-06-25T05:14", "off"), ("2024-06-27T05:08", "back")),
    ),
    (Kind.OFF_SCALE, "misleading"): Scene(
        "heath-flow",
        1,
        "h4",
        W,
        "2025-08-22T00:00",
        24,
        "Full supers taken: much less, but still a hive",
        (("2025-08-22T12:24", "harvest"),),
    ),
}


def tables() -> None:
    """Write the thresholds into every page that asks for them."""
    for page in sorted(GUIDE.rglob("*.md")):
        text = page.read_text(encoding="utf-8")
        page.write_text(with_tables(text), encoding="utf-8")


def with_tables(text: str) -> str:
    """Return a page with its tables as the code has them."""
    return TABLE.sub(lambda found: found[1] + _table(found[2].split()) + found[3], text)


def _table(questions: list[str]) -> str:
    lines = ["| key | default | what it is, and where it comes from |", "|---|---|---|"]
    for question in questions:
        rule = getattr(rules.Rules(), question)
        told = _told(type(rule).__name__)
        lines += [
            f"| `rules.{question}.{key}` | {getattr(rule, key):g} | {told.get(key) or told['']} |"
            for key in rule.__struct_fields__
        ]
    return "\n".join([*lines, ""])


def _told(name: str) -> dict[str, str]:
    """Return what hivemon/rules.py says of each threshold of a class, and under '' of the class."""
    tree = ast.parse(Path(rules.__file__).read_text(encoding="utf-8"))
    (found,) = [node for node in tree.body if isinstance(node, ast.ClassDef) and node.name == name]
    told = {"": " ".join((ast.get_docstring(found) or "").split())}
    for node, after in zip(found.body, found.body[1:], strict=False):
        if isinstance(node, ast.AnnAssign) and isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
            told[node.target.id] = " ".join(str(after.value.value).split())
    return told


def pictures() -> None:
    """Draw every scene."""
    with tempfile.TemporaryDirectory() as folder:
        seasons = {}
        for (kind, which), scene in SCENES.items():
            key = (scene.season, scene.seed)
            if key not in seasons:
                seasons[key] = _season(*key, Path(folder) / scene.season)
            _draw(scene, seasons[key], GUIDE / "pictures" / f"{kind.value}-{which}.svg")
            print(kind.value, which)


def _season(name: str, seed: int, folder: Path) -> dict[Stream, tuple[list[int], list[float]]]:
    """Return a season's readings by stream, of the committed recordings or made anew."""
    if name in recordings.ALL:
        folder = recordings.FOLDER / name
    else:
        write(families.ALL[name](seed, None, None), seed, folder)
    found: dict[Stream, tuple[list[int], list[float]]] = {}
    for batch in read_readings(folder / "readings.csv.gz"):
        for streams in batch.values():
            for stream, series in streams.items():
                times, values = found.setdefault(stream, ([], []))
                times += series.time.tolist()
                values += series.value.tolist()
    return found


def _draw(scene: Scene, season: dict[Stream, tuple[list[int], list[float]]], path: Path) -> None:
    import matplotlib as mpl  # noqa: PLC0415 - only who draws the pictures needs it
    from matplotlib import dates  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    mpl.rcParams.update({"svg.fonttype": "none", "svg.hashsalt": path.stem, "font.size": 9, "path.simplify": True})
    figure = Figure(figsize=(6.6, 2.5), layout="constrained")
    axes = figure.subplots()
    start = datetime.fromisoformat(scene.start).replace(tzinfo=UTC)
    if scene.beside is not None:
        hive, quantity = scene.beside
        label = "outside" if hive is None else f"{hive}, beside"
        axes.plot(*_cut(season[Stream(hive, quantity)], start, scene.hours), color="0.7", linewidth=0.9, label=label)
    series = _cut(season[Stream(scene.hive, scene.quantity)], start, scene.hours)
    axes.plot(*series, color="#7a3e00", linewidth=1.1, label=scene.hive)
    for number, (moment, words) in enumerate(scene.marks):
        at = datetime.fromisoformat(moment).replace(tzinfo=UTC)
        axes.axvline(at, color="#1f5c99", linewidth=0.8, linestyle="--")
        axes.annotate(
            words,
            (at, 0.99 - 0.12 * number),
            xycoords=("data", "axes fraction"),
            xytext=(3, 0),
            textcoords="offset points",
            color="#1f5c99",
            va="top",
        )
    if scene.beside is not None:
        axes.legend(loc="lower left", frameon=False, ncols=2)
    axes.set_title(scene.title, loc="left", fontsize=10)
    axes.set_ylabel({W: "kg", T: "°C", B: "V"}[scene.quantity])
    axes.xaxis.set_major_locator(dates.AutoDateLocator(maxticks=6 if 24 < scene.hours <= 48 else 10))
    axes.xaxis.set_major_formatter(
        dates.DateFormatter("%H:%M" if scene.hours <= 24 else "%-d %b %H:%M" if scene.hours <= 48 else "%-d %b")
    )
    axes.spines[["top", "right"]].set_visible(False)
    figure.savefig(path, metadata={"Date": None})
    text = re.sub(r"[ \t]+\n", "\n", path.read_text(encoding="utf-8"))
    path.write_text(text, encoding="utf-8")


def _cut(series: tuple[list[int], list[float]], start: datetime, hours: float) -> tuple[list[datetime], list[float]]:
    """Return a part of a stream with no more points than an eye sees."""
    end = start + timedelta(hours=hours)
    pairs = [(t, v) for t, v in zip(*series, strict=True) if start.timestamp() * 1000 <= t < end.timestamp() * 1000]
    assert pairs, "nothing was recorded there"
    every = -(-len(pairs) // MOST_POINTS)
    kept = pairs[::every]
    return [datetime.fromtimestamp(t / 1000, UTC) for t, _ in kept], [v for _, v in kept]


if __name__ == "__main__":
    tables()
    if "--tables" not in sys.argv:
        pictures()
