"""The bundling of the pages' modules, the data inside, and curves of a time whose readings have been thinned out."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from pages_client import NOW

from hivemon.cli import main
from hivemon.model import DAY, HOUR, MINUTE, Quantity, Series, Stream
from hivemon.pages.bundle import bundle
from hivemon.pages.single import season
from hivemon.pages.static import folder
from hivemon.pages.story import curve, nights
from hivemon.store import Store


def test_every_module_of_the_pages_is_written_in_the_forms_the_bundle_understands():
    """Named imports from a neighbour, exports where they are declared, nothing else: else the file would lack them."""
    for path in (folder() / "js").glob("*.js"):
        text = path.read_text()
        understood = re.findall(r'^import \{[^}]*\} from "\./\w+\.js";$', text, re.MULTILINE)
        assert len(understood) == len(re.findall(r"^import\b|\bimport\(", text, re.MULTILINE)), path.name
        given = re.findall(r"^export (?:async function|function|const|class) \w+", text, re.MULTILINE)
        assert len(given) == len(re.findall(r"^export\b", text, re.MULTILINE)), path.name


def test_the_bundle_has_each_module_once_before_it_is_used(tmp_path):
    (tmp_path / "a.js").write_text('import { two as second } from "./b.js";\nimport { three } from "./c.js";\nuse();\n')
    (tmp_path / "b.js").write_text('import { three } from "./c.js";\nexport const two = three + 1;\n')
    (tmp_path / "c.js").write_text("export const three = 3;\n")
    text = bundle(tmp_path, "a")
    assert text.index("module_c =") < text.index("module_b =") < text.index("module_a =")
    assert text.count("module_c = (") == 1
    assert "const { two: second } = module_b;" in text
    assert "import" not in text
    assert "export" not in text


def test_the_service_worker_keeps_every_file_of_the_pages():
    """A file it forgets would be missing without a connection: what the page itself asks for, all modules inside."""
    page, kept = (folder() / "index.html").read_text(), (folder() / "sw.js").read_text()
    wanted = re.findall(r'(?:href|src)="(/[^"]+)"', page)
    assert {"/app.js", "/look.css"} <= set(wanted)
    assert [path for path in wanted if f'"{path}"' not in kept] == []
    script = bundle(folder() / "js", "app")
    modules = {path.stem for path in (folder() / "js").glob("*.js")} - {"season"}
    assert {name for name in modules if f"const module_{name} =" not in script} == set()


def test_names_and_notes_cannot_end_the_data(settings):
    with Store.open(Path(settings.store.path), read_only=True) as store:
        text = season(settings, store, "orchard", "o1", clock=NOW)
    inside = re.search(r'id="kept-season">(.*?)</script>', text, re.DOTALL)[1]
    assert not set("<>&") & set(inside)
    assert json.loads(inside)["story"]["hive"] == "o1"


def test_the_command_writes_the_file_and_asks_which_hive(folder_with_store, capsys):
    config = str(folder_with_store / "hivemon.toml")
    target = folder_with_store / "o2.html"
    assert main(["export", "--config", config, "--page", str(target)]) == 2
    assert "name it with --hive: o1, o2, o3" in capsys.readouterr().err
    assert main(["export", "--config", config, "--page", str(target), "--hive", "o9"]) == 2
    assert "there is no hive 'o9'" in capsys.readouterr().err
    assert not target.exists()
    assert main(["export", "--config", config, "--page", str(target), "--hive", "o2"]) == 0
    assert target.read_text().startswith("<!doctype html>")


@pytest.fixture
def folder_with_store(settings):
    return Path(settings.store.path).parent


def test_where_readings_were_thinned_out_the_lows_and_highs_stand_in(settings):
    """A spike in a quarter of an hour whose readings are gone still shows; raw readings follow without a break."""
    time = np.arange(NOW - 60 * DAY, NOW, MINUTE, dtype=np.int64)
    value = np.full(len(time), 40.0)
    value[5000] = 12.0
    stream = Stream("o1", Quantity.BATTERY)
    with Store.open(Path(settings.store.path)) as store:
        store.add_series("orchard", {stream: Series(time, value)})
        before = curve(settings, store, ("orchard", "o1"), "battery", (NOW - 60 * DAY, NOW), 400)
        store.retain(NOW, 30)
        assert len(store.series("orchard", streams={stream})[stream].time) < len(time)
        after = curve(settings, store, ("orchard", "o1"), "battery", (NOW - 60 * DAY, NOW), 400)
    for found in (before, after):
        assert min(v for v in found["value"] if v is not None) == 12.0
        assert None not in found["value"]
        assert found["time"][0] < NOW - 59 * DAY
        assert found["time"][-1] > NOW - HOUR


def test_nights_are_those_between_dusk_and_dawn_and_none_when_too_many(settings):
    """The last night before: dusk 22:31, dawn 04:54 local. The times are `signals.sun`'s own, tested there."""
    found = nights(settings, "orchard", NOW - DAY, NOW)
    dusk, dawn = found[-1]
    assert abs(dusk - 1_748_377_860_000) < 3 * MINUTE
    assert abs(dawn - 1_748_400_840_000) < 3 * MINUTE
    assert nights(settings, "orchard", NOW - 100 * DAY, NOW) == []
