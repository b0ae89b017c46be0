"""Millions of random and mutated messages and configurations, and a search for new ways through the program (atheris).

    python tests/bench/bench_fuzz.py [SECONDS] [PROCESSES]     mutations, with so many processes for each kind
    python tests/bench/bench_fuzz.py --atheris [SECONDS]       coverage-guided (pip install atheris)

Prints how many were tried. A crash prints the input and ends it.
"""

import multiprocessing
import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "intake"))
from mutating import MESSAGES, Configurations, Payloads, known_configurations

Job = tuple[str, int, float]


def mutate(job: Job) -> tuple[str, Counter]:
    """Try one kind for so many seconds."""
    kind, seed, seconds = job
    tried = Payloads() if kind == "messages" else Configurations(known_configurations())
    chance, end = random.Random(seed), time.monotonic() + seconds
    while time.monotonic() < end:
        for _ in range(100):
            state = chance.getstate()
            try:
                tried.try_random(chance)
            except Exception:
                print(f"{kind}, seed {seed}, state {hash(state)}: a crash", flush=True)
                raise
    return kind, tried.counts


def search(seconds: int) -> None:
    """Have atheris look for inputs that reach new code; it ends with the first crash."""
    import atheris  # noqa: PLC0415 - for development alone

    with atheris.instrument_imports(include=["hivemon"]):
        for name in [name for name in sys.modules if name.startswith(("hivemon", "mutating"))]:
            del sys.modules[name]
        from mutating import Payloads  # noqa: PLC0415 - once more, now watched

    payloads, topics = Payloads(), sorted({topic for topic, _ in MESSAGES})

    def one(data: bytes) -> None:
        if data:
            payloads.try_one(topics[data[0] % len(topics)], data[1:], retained=data[0] > 250)

    corpus = Path(tempfile.mkdtemp(prefix="fuzz-"))
    for number, (topic, payload) in enumerate(MESSAGES):
        (corpus / str(number)).write_bytes(bytes([topics.index(topic)]) + payload)
    atheris.Setup([sys.argv[0], str(corpus), f"-max_total_time={seconds}", "-max_len=400", "-print_final_stats=1"], one)
    atheris.Fuzz()


def main() -> None:
    if "--atheris" in sys.argv:
        search(int(sys.argv[2]) if len(sys.argv) > 2 else 60)
        return
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    jobs: list[Job] = [
        (kind, time.time_ns() + n, seconds) for kind in ("messages", "configurations") for n in range(processes)
    ]
    totals: dict[str, Counter] = {}
    with multiprocessing.Pool(len(jobs)) as pool:
        for kind, counts in pool.imap_unordered(mutate, jobs, chunksize=1):
            totals.setdefault(kind, Counter()).update(counts)
    for kind, counts in totals.items():
        told = ", ".join(f"{count:,} {what}" for what, count in sorted(counts.items()))
        print(f"{kind}: {counts.total():,} tried without a crash ({told})")


if __name__ == "__main__":
    main()
