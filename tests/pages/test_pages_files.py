"""The pages' files over HTTP: compressed, asked about again, no others than those that are there."""

import gzip

import pytest
from pages_client import csrf

from hivemon.pages.files import Files
from hivemon.pages.static import folder


def test_a_file_comes_compressed_where_the_browser_takes_it_and_plain_where_not(client):
    """RFC 9110, 8.4.1 and 12.5.3."""
    path = folder() / "vendor" / "uplot" / "uPlot.iife.min.js"
    packed = client.get("/vendor/uplot/uPlot.iife.min.js", headers={"accept-encoding": "gzip"})
    plain = client.get("/vendor/uplot/uPlot.iife.min.js")
    assert gzip.decompress(packed.content) == plain.content == path.read_bytes()
    assert packed.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert packed.headers["vary"] == plain.headers["vary"] == "Accept-Encoding"
    assert plain.headers["content-type"].startswith(("text/javascript", "application/javascript"))


def test_what_the_browser_has_is_not_sent_again_until_it_changes(tmp_path):
    """RFC 9110, 13.1.2; a changed file is seen at once."""
    (tmp_path / "a.css").write_text("one")
    files = Files(tmp_path)
    from starlette.datastructures import Headers  # noqa: PLC0415

    first = files.response("/a.css", Headers({}))
    asked = Headers({"if-none-match": first.headers["etag"]})
    assert files.response("/a.css", asked).status_code == 304
    (tmp_path / "a.css").write_text("another")
    assert files.response("/a.css", asked).body == b"another"


@pytest.mark.parametrize(
    "path", ["/../pyproject.toml", "/js/../../pyproject.toml", "/%2e%2e/pyproject.toml", "/js", "//"]
)
def test_no_other_file_can_be_reached(client, path):
    assert client.get(path).status == 404


def test_files_are_only_read(client):
    assert client.post("/js/app.js", headers=csrf(client)).status == 405
    assert client.request("HEAD", "/js/app.js").content == b""


@pytest.mark.parametrize(
    ("path", "first"),
    [
        ("/", "/api/v1/today?page=0"),
        ("/hive/orchard/o1", "/api/v1/yards/orchard/hives/o1"),
        ("/hive/or%3Echard/o%22%0A1", "/api/v1/yards/or%3Echard/hives/o%22%0A1"),
        ("/yard/orchard", "/api/v1/yards/orchard?page=0"),
        ("/logbook", "/api/v1/logbook"),
        ("/sensors", "/api/v1/sensors?page=0"),
    ],
)
def test_a_page_says_what_it_will_ask_first(client, path, first):
    """RFC 8288 and the preload link type: the browser fetches it while it reads the modules."""
    link = client.get(path).headers["link"]
    assert f"<{first}>; rel=preload; as=fetch; crossorigin" in link
    assert "<" not in link.replace("<", "", link.count("; rel=")), "nothing of an address can end its link"
