"""Back-test of the advice on seasons made by the sample-stream families: `python tests/bench/bench_advice.py --help`.

The beekeeper of the bench knows what his empty hives weigh and what his supers hold (--defaults: he does not). Judged
is the date in force when it fell due, or when the need came before that. Causal: advice is decided scene by scene, as
the fold asked for it.
"""

from __future__ import annotations

import argparse
import pickle
import statistics
import sys
import tempfile
from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from advice_truth import SUPER_KG, Stretch, day_of, food_days, scenario, stretches, true_yard

from hivemon import config, fold, turn
from hivemon.advice.boxes import boxes
from hivemon.advice.decide import advise
from hivemon.advice.larder import larder
from hivemon.advice.lifecycle import reconcile
from hivemon.advice.scene import condition_of
from hivemon.advice.season import northern_week
from hivemon.intake.files import read_logbook, read_readings
from hivemon.model import Advisory, Urgency
from sample_streams.colony import RIPE
from sample_streams.writer import write

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from sample_streams.yard import Yard

FED, FOOD = ("feed",), ("feed", "look-for-food", "keep-honey")
SEASONS = (
    "long-season", "flow-dearth-robbing", "nothing-happens", "spring-swarms", "heat-wave-brood", "single-hive",
    "southern", "snowy-spring",
)  # fmt: skip
QUIET = ("nothing-happens",)
SEASON_DAYS = 180


@dataclass
class Season:
    """One season: its truth, the scenes on which advice was asked, and every version of every advisory."""

    name: str
    yard: Yard
    scenes: list[Scene]
    versions: list[Advisory] = field(default_factory=list)


@dataclass
class Figures:
    """What the back-test counts."""

    off: list[int] = field(default_factory=list)
    first_off: list[int] = field(default_factory=list)
    missed: int = 0
    too_late: int = 0
    needs: int = 0
    needless: int = 0
    misled: int = 0
    first_supers: Counter[str] = field(default_factory=Counter)
    stores: list[float] = field(default_factory=list)
    fed_wrongly: int = 0
    emergencies: int = 0
    announced: int = 0
    robbed_empty: int = 0
    weak: int = 0
    weak_found: int = 0
    weak_called: int = 0
    weak_false: int = 0
    now: int = 0
    raised: int = 0
    hive_days: float = 0.0
    by_topic: Counter[str] = field(default_factory=Counter)
    notes: list[str] = field(default_factory=list)


def scenes_of(folder: Path) -> list[Scene]:
    """Return every scene on which the fold asks for advice, in order."""
    settings, logbook, seen = config.load(folder / "hivemon.toml"), read_logbook(folder / "logbook.csv"), []

    def watch(scene: Scene) -> list[Advisory]:
        bare = msgspec.structs.replace(scene.yard, advice=None)  # thresholds change, made seasons stay
        seen.append(replace(scene, yard=bare, days=dict(scene.days), open=()))
        return []

    turn.advise, kept = watch, turn.advise
    try:
        states = {}
        for batch in read_readings(folder / "readings.csv.gz"):
            for yard, streams in batch.items():
                state = states.get(yard) or fold.begin(
                    settings.find_yard(yard), settings.hives_of(yard), settings.rules, settings.units,
                )  # fmt: skip
                states[yard], _ = fold.advance(state, streams, logbook)
    finally:
        turn.advise = kept
    return seen


def season(name: str, seed: int, store: Path, *, habit: str, defaults: bool) -> Season:
    """Make (or take from `store`) a season, decide on every scene, and return it."""
    plan = scenario(name, seed, habit)
    folder = store / f"{name}-{seed}-{habit}"
    if not (folder / "scenes").exists():
        write(plan, seed, folder)
        (folder / "scenes").write_bytes(pickle.dumps(scenes_of(folder)))
    made = Season(folder.name, true_yard(plan, seed), pickle.loads((folder / "scenes").read_bytes()))
    (yard,) = config.load(folder / "hivemon.toml").yard
    made.scenes = [replace(s if defaults else _known(s), yard=yard) for s in made.scenes]
    standing: dict[str, Advisory] = {}
    for scene in made.scenes:
        open_ = list(standing.values())
        for change in reconcile(open_, advise(replace(scene, open=open_)), scene.now):
            made.versions.append(change)
            standing.pop(change.id, None)
            if change.closed is None:
                standing[change.id] = change
    return made


def _known(scene: Scene) -> Scene:
    """The same with tares and supers known to the beekeeper: floor and lids 6.5 kg, a box 10 kg, as in the model."""
    hives = [
        msgspec.structs.replace(h, tare_kg=6.5 + 10.0 * h.brood_boxes, super_kg=SUPER_KG) for h in scene.hives
    ]  # fmt: skip
    return replace(scene, hives=hives)


# -- supers ------------------------------------------------------------------------------------------------------------


def judge_supers(made: Season, figures: Figures) -> None:
    """Hold the dates given against the days on which room and combs truly ran out.

    Stretches in which the logbook has another number of supers than the hive, or the scale was made to drift, are
    counted apart: nobody could know.
    """
    for hive in made.yard.colonies:
        for stretch in stretches(made.yard, hive):
            if _misled(made, stretch):
                figures.misled += stretch.need is not None
                continue
            asked = [
                a for a in made.versions
                if a.hive == hive and a.id.startswith("super:") and condition_of(a.id).endswith(f":{stretch.supers}")
                and stretch.first <= day_of(made.yard, a.updated) < stretch.last
            ]  # fmt: skip
            flows: dict[str, list[Advisory]] = defaultdict(list)
            for advisory in asked:
                flows[condition_of(advisory.id)].append(advisory)
            needed = None if stretch.need is None else _of_the_need(flows, made, stretch.need)
            idle = [found for name, found in flows.items() if name != needed]
            figures.needless += sum(_fell_due(found, made) for found in idle) if stretch.supers else 0
            if stretch.supers == 0:
                _first_super(stretch, asked, made, figures)
            elif stretch.need is not None and stretch.first < stretch.need < stretch.last:
                _next_super(stretch, flows.get(needed or "", []), made, figures)


def _of_the_need(flows: dict[str, list[Advisory]], made: Season, need: int) -> str | None:
    """Return the condition told when room ran out, or else the first told after; those before were of another flow."""
    told = {name: day_of(made.yard, found[0].updated) for name, found in flows.items()}
    standing = [name for name, found in flows.items() if told[name] <= need and _in_force(found, made, need)]
    return (standing[-1:] or [name for name in flows if told[name] > need] or [None])[0]


def _misled(made: Season, stretch: Stretch) -> bool:
    if any(f.fault == "drift" and f.quantity == "weight" for f in made.yard.colonies[stretch.hive].plan.faults):
        return True
    at = min(stretch.need or stretch.last, stretch.last - 1)
    scene = next((s for s in reversed(made.scenes) if day_of(made.yard, s.now) <= at), made.scenes[0])
    hive = next((h for h in scene.hives if h.id == stretch.hive), None)
    return hive is None or boxes(scene, hive).supers != stretch.supers


def _first_super(stretch: Stretch, asked: list[Advisory], made: Season, figures: Figures) -> None:
    """A first super is judged by its being there in time alone: the bees are glad of the room."""
    if stretch.full is None or stretch.full <= stretch.first or not _flowing(made, stretch.hive, stretch.full):
        return
    in_force = _in_force(asked, made, stretch.full)
    verdict = "missed" if in_force is None else "late" if _due(in_force, made) > stretch.full else "in time"
    figures.first_supers[verdict] += 1
    if verdict != "in time":
        figures.notes.append(f"{made.name} {stretch.hive} first super {verdict}: {stretch}")


def _flowing(made: Season, hive: str, day: int) -> bool:
    """Whether nectar came in on the days up to one: 0.3 kg a day and more."""
    life = made.yard.colonies[hive].life
    return float((life.gross * life.sugar / RIPE - life.eaten)[max(day - 2, 0) : day + 1].mean()) >= 0.3


def _next_super(stretch: Stretch, asked: list[Advisory], made: Season, figures: Figures) -> None:
    assert stretch.need is not None
    figures.needs += 1
    acted = _acted(asked, made, stretch.last)
    late = stretch.full is not None and (acted is None or acted > stretch.full)
    figures.too_late += late
    if acted is None:
        figures.missed += 1
        figures.notes.append(f"{made.name} {stretch.hive} missed {stretch}")
        return
    off = acted - stretch.need
    figures.off.append(off)
    figures.first_off.append(_due(asked[0], made) - stretch.need)
    if abs(off) > 2 or late:
        figures.notes.append(f"{made.name} {stretch.hive} off by {off}{' LATE' if late else ''} {stretch}")


def _fell_due(asked: list[Advisory], made: Season) -> bool:
    """Whether a date came while it stood."""
    last = asked[-1]
    return (last.closed is None or last.closed > (last.do_by or last.closed)) and _due(last, made) < made.yard.grid.days


def _acted(asked: list[Advisory], made: Season, until: int) -> int | None:
    """Return the day acted on by who reads the note every morning: the first on which a date in force has come."""
    for day in range(min((day_of(made.yard, a.updated) for a in asked), default=until), until):
        in_force = _in_force(asked, made, day)
        if in_force is not None and _due(in_force, made) <= day:
            return day
    return None


def _in_force(asked: list[Advisory], made: Season, day: int) -> Advisory | None:
    """Return what stood at noon of a day."""
    known = [a for a in asked if day_of(made.yard, a.updated) <= day]
    return known[-1] if known and known[-1].closed is None else None


def _due(advisory: Advisory, made: Season) -> int:
    return day_of(made.yard, advisory.do_by or advisory.updated)


# -- food --------------------------------------------------------------------------------------------------------------


def judge_food(made: Season, figures: Figures) -> None:
    """Hold estimates of stores against the truth, and look for feeding where there must be none."""
    seen: set[int] = set()
    for scene in made.scenes:
        day = day_of(made.yard, scene.now) - 1
        if day in seen or day < 1:
            continue
        seen.add(day)
        for hive in scene.hives:
            found = larder(scene, hive)
            if found is not None and hive.id in made.yard.colonies and not _troubled(made, scene, hive.id):
                true = float(made.yard.colonies[hive.id].life.stores[day])
                figures.stores.append(found.food.mean - true)
    figures.fed_wrongly += sum(_wrongly(made, a) for a in made.versions if a.id.split(":")[0] in FED and not a.closed)
    for hive in made.yard.colonies:
        _emergencies(made, hive, figures)


def _troubled(made: Season, scene: Scene, hive: str) -> bool:
    """Whether the scale of a hive, or what stands on it, is not the hive's own: swaps, re-zeroed scales, faults."""
    colony = made.yard.colonies[hive]
    swapped = any(hive in (a, b) for _, a, b in made.yard.scenario.swaps)
    zeroed = any(a.action in ("scale-reset", "relevel", "lid-load") for a in colony.life.acts)
    logged = boxes(scene, next(h for h in scene.hives if h.id == hive)).supers
    wrong_boxes = logged != _true_supers(made, hive, scene.now)
    return swapped or zeroed or wrong_boxes or bool(colony.plan.faults)


def _true_supers(made: Season, hive: str, now: int) -> int:
    supers = made.yard.colonies[hive].plan.supers
    for act in made.yard.colonies[hive].life.acts:
        if act.end * 1000 <= now:
            if act.action == "super-on":
                supers += 1
            elif act.action == "harvest":
                supers = 0
            elif act.action == "super-off":
                supers = max(supers - 1, 0)
    return supers


def _wrongly(made: Season, advisory: Advisory) -> bool:
    """Whether feeding was asked for with supers truly on and logged, or while nectar truly came in."""
    hive, day = advisory.hive or "", day_of(made.yard, advisory.updated)
    scene = next(s for s in made.scenes if s.now == advisory.updated)
    logged = boxes(scene, next(h for h in scene.hives if h.id == hive)).supers > 0
    return logged or _flowing(made, hive, max(day - 1, 0))


def _emergencies(made: Season, hive: str, figures: Figures) -> None:
    """Look for each first day with food for less than five days, and for word of it a week before.

    Food that robbers took within that week is counted apart: nobody knew of them then.
    """
    life, short = made.yard.colonies[hive].life, False
    for day in range(14, len(life.stores) - 6):  # a fortnight to learn what a hive uses, and a week ahead
        now_short = food_days(made.yard, hive, day) < 5
        if now_short and not short and _robbed_empty(made, hive, day):
            figures.robbed_empty += 1
        elif now_short and not short:
            figures.emergencies += 1
            told = [
                a for a in made.versions
                if a.hive == hive and a.id.split(":")[0] in FOOD and day_of(made.yard, a.updated) <= day - 7
            ]  # fmt: skip
            last = told[-1] if told else None
            standing = last is not None and (last.closed is None or day_of(made.yard, last.closed) > day - 7)
            figures.announced += standing
            if not standing:
                figures.notes.append(f"{made.name} {hive} day {day}: {life.stores[day]:.1f} kg, no word a week ahead")
        short = food_days(made.yard, hive, day) < (8 if short else 5)


def _robbed_empty(made: Season, hive: str, day: int) -> bool:
    life = made.yard.colonies[hive].life
    taken = float(life.robbed[day - 6 : day + 1].sum())
    eaten = float(life.eaten[day - 6 : day + 1].mean())
    return float(life.stores[day]) + taken >= 5 * eaten


# -- load --------------------------------------------------------------------------------------------------------------


def judge_load(made: Season, figures: Figures) -> None:
    """Count what was raised, and what was raised as `now`."""
    figures.hive_days += len(made.yard.colonies) * made.yard.grid.days
    ids = {a.id for a in made.versions}
    figures.raised += len(ids)
    urgent = {a.id for a in made.versions if a.urgency is Urgency.NOW and a.closed is None}
    figures.now += len(urgent)
    figures.by_topic.update(f"{i.split(':')[0]}{' NOW' if i in urgent else ''}" for i in ids)
    if made.name.split("-1")[0] in QUIET:
        figures.notes += [f"{made.name} now: {i}" for i in sorted(urgent)]


def judge_weak_hives(made: Season, figures: Figures) -> None:
    """Hold the hives called weak against their true bees and brood.

    A hive with less than 70 % of the yard's median bees three weeks after midsummer should be called weak. One is
    called so rightly when it then has less than 85 % of the median bees, or less than half the brood.
    """
    later = [s for s in made.scenes if northern_week(s) == s.limits.strength.midsummer_week + 3]
    if not later or len(made.yard.colonies) < 3:
        return
    called = {a.hive: a for a in made.versions if a.id.startswith("weak:")}
    weak = {h for h in made.yard.colonies if _share(made, h, day_of(made.yard, later[0].now), "bees") < 0.7}
    figures.weak += len(weak)
    figures.weak_found += len(weak & set(called))
    for hive, advisory in called.items():
        day = day_of(made.yard, advisory.raised)
        few = _share(made, hive or "", day, "bees") < 0.85 or _share(made, hive or "", day, "brood") < 0.5
        figures.weak_called += 1
        figures.weak_false += not few


def _share(made: Season, hive: str, day: int, what: str) -> float:
    """Return a hive's bees or brood against the yard's median."""
    counts = {h: float(getattr(c.life, what)[day]) for h, c in made.yard.colonies.items()}
    return counts[hive] / max(statistics.median(counts.values()), 1.0)


def show(title: str, f: Figures, *, notes: bool) -> None:
    """Print one set of figures."""
    print(f"\n{title}: {f.hive_days:.0f} hive-days")
    if f.needs:
        near = sum(abs(o) <= 2 for o in f.off)
        print(
            f"  next super: {f.needs} needs, within 2 days {near / f.needs:.0%}, missed {f.missed},"
            f" after full {f.too_late}, due without need {f.needless}, logbook or scale wrong {f.misled};"
            f" median {statistics.median(f.off or [0]):+.0f} days,"
            f" first date given {statistics.median(f.first_off or [0]):+.0f}; {dict(sorted(Counter(f.off).items()))}"
        )
    print(f"  first super: {dict(f.first_supers)}")
    if f.stores:
        within = sum(abs(e) <= 2 for e in f.stores) / len(f.stores)
        spread = statistics.quantiles(f.stores, n=20)
        print(f"  stores: within 2 kg {within:.0%} of {len(f.stores)}; 5-95 % {spread[0]:+.1f} to {spread[-1]:+.1f} kg")
    print(
        f"  fed wrongly {f.fed_wrongly}; emergencies {f.emergencies}, announced a week ahead {f.announced},"
        f" robbed empty {f.robbed_empty}"
    )
    weeks, seasons = f.hive_days / 7, f.hive_days / SEASON_DAYS
    print(f"  weak hives {f.weak}, told {f.weak_found}; called weak in all {f.weak_called}, wrongly {f.weak_false}")
    print(f"  now {f.now / seasons:.2f} a hive-season; {f.raised / weeks:.2f} advisories a hive-week")
    print(f"  {dict(f.by_topic.most_common())}")
    if notes:
        print("\n".join(f"    {note}" for note in f.notes))


def figures_of(made: Season) -> Figures:
    """Return one season's figures."""
    figures = Figures()
    for judge in (judge_supers, judge_food, judge_load, judge_weak_hives):
        judge(made, figures)
    return figures


def add(total: Figures, one: Figures) -> None:
    """Add one season's figures to a total."""
    for name, value in vars(one).items():
        mine = getattr(total, name)
        if isinstance(mine, list):
            mine += value
        elif isinstance(mine, Counter):
            mine.update(value)
        else:
            setattr(total, name, mine + value)


def run() -> None:
    """Parse arguments, back-test, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("families", nargs="*", default=list(SEASONS))
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--first", type=int, default=200)
    parser.add_argument("--habit", choices=("usual", "unfed", "rare", "quiet"), default="usual", help="see scenario()")
    parser.add_argument("--defaults", action="store_true", help="tare and capacity of supers are not known")
    parser.add_argument("--notes", action="store_true", help="print every miss")
    parser.add_argument("--keep", type=Path, help="folder to keep made seasons in")
    args = parser.parse_args()
    store = args.keep or Path(tempfile.mkdtemp(prefix="seasons"))
    total = Figures()
    for name in args.families:
        family = Figures()
        for seed in range(args.first, args.first + args.seeds):
            add(family, figures_of(season(name, seed, store, habit=args.habit, defaults=args.defaults)))
        show(name, family, notes=args.notes)
        add(total, family)
    show("ALL", total, notes=False)


if __name__ == "__main__":
    run()
