"""Who gets in: names, passwords, sessions, guests, other sites, too many questions. Asked over real sockets."""

import os
import socket
import stat
import subprocess
from pathlib import Path

import pytest
import trustme
from pages_client import NOW, Client, csrf, free_port, with_pages

from hivemon.config import load
from hivemon.errors import ConfigError, LinkError, UsageError
from hivemon.pages import PagesServer, passwords, serving
from hivemon.pages.limits import Bucket
from hivemon.pages.sessions import LASTS, MOST, Role, Sessions

PASSWORD = "propolis and patience"
ENTRY = {"yard": "orchard", "hive": "o1", "entry": "inspect"}


@pytest.fixture
def locked(settings, folder):
    """Settings with a password."""
    passwords.keep(folder / "pages-password", PASSWORD)
    return with_pages(settings, port=free_port(), password_file=str(folder / "pages-password"))


@pytest.fixture
def guarded(locked):
    with PagesServer(locked, clock=lambda: NOW) as server:
        yield Client(server.port)


def log_in(client, password=PASSWORD):
    return client.post("/api/v1/session", json={"password": password})


def test_every_answer_carries_the_policy_and_nothing_about_the_server(client):
    """Content Security Policy level 3: no inline script or style, nothing from elsewhere, no framing."""
    for path in ("/", "/api/v1/today", "/js/app.js", "/nowhere", "/api/v1/nowhere"):
        headers = client.get(path).headers
        policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
        assert policy["default-src"] == "'none'"
        assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
        assert policy["frame-ancestors"] == "'none'"
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert "server" not in headers


def test_no_page_file_holds_inline_script_or_style():
    """What the policy would refuse, nobody may write."""
    from hivemon.pages.static import folder  # noqa: PLC0415

    text = (folder() / "index.html").read_text()
    assert " style=" not in text
    assert " on" + "click=" not in text
    assert text.count("<script") == text.count("<script defer src=") + text.count('<script type="module" src=')
    for path in (folder() / "js").glob("*.js"):
        for word in ("innerHTML", "insertAdjacentHTML", "outerHTML", "document.write", "eval(", "new Function"):
            assert word not in path.read_text(), f"{path.name}: {word}"


def test_another_name_is_refused(client):
    """DNS rebinding: a stranger's name that points here must not read the pages."""
    client.host = "bees.example"
    assert client.get("/api/v1/today").status == 421
    assert client.get("/").status == 421


def test_names_that_are_configured_are_answered(settings):
    with PagesServer(with_pages(settings, port=free_port(), names=["Beeshed.local"])) as server:
        client = Client(server.port, host=f"beeshed.local:{server.port}")
        assert client.get("/api/v1/today").status == 200


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"x-hivemon-csrf": "wrong"},
        {"origin": "http://bees.example"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_another_site_cannot_write(client, headers):
    """OWASP cross-site request forgery: a token a stranger cannot read, and the browser's own word on the origin."""
    token = {} if "x-hivemon-csrf" in headers or not headers else csrf(client)
    answer = client.post("/api/v1/logbook", json=ENTRY, headers={**token, **headers})
    assert answer.status == 403
    assert client.get("/api/v1/logbook").json()["total"] == 15


def test_too_much_is_refused_before_it_is_read(client):
    answer = client.post("/api/v1/logbook", json={**ENTRY, "note": "x" * 20_000}, headers=csrf(client))
    assert answer.status == 413
    chunked = {**csrf(client), "transfer-encoding": "chunked"}
    assert client.request("POST", "/api/v1/logbook", headers=chunked, body=b"0\r\n\r\n").status == 413


def test_without_the_password_nothing_is_told(guarded):
    """Every address but the ones that log in."""
    for path in ("today", "yards/orchard", "yards/orchard/hives/o1", "sensors", "logbook", "changes"):
        assert guarded.get(f"/api/v1/{path}").status == 401, path
    assert guarded.post("/api/v1/logbook", json=ENTRY).status == 401
    assert guarded.post("/api/v1/guest-link", json={}).status == 401
    assert guarded.get("/api/v1/session").json()["role"] is None
    assert b"o1" not in guarded.get("/").content


def test_the_password_opens_and_logging_out_closes(guarded):
    assert log_in(guarded, "not the password").status == 403
    answer = log_in(guarded)
    assert answer.status == 200
    (cookie,) = answer.cookies
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert guarded.get("/api/v1/today").status == 200
    assert guarded.post("/api/v1/logbook", json=ENTRY, headers=csrf(guarded)).status == 201
    kept = guarded.cookie
    assert guarded.delete("/api/v1/session", headers=csrf(guarded)).status == 200
    guarded.cookie = kept
    assert guarded.get("/api/v1/today").status == 401, "a stolen cookie is worth nothing after logging out"


def test_guessing_is_slowed_down(guarded):
    """Five tries at once, then one every half minute; the right one has to wait as well."""
    answers = [log_in(guarded, f"guess {n} guess").status for n in range(7)]
    assert answers == [403] * 5 + [429] * 2
    assert log_in(guarded).status == 429


def test_a_guest_may_look_and_change_nothing(guarded):
    log_in(guarded)
    path = guarded.post("/api/v1/guest-link", json={}, headers=csrf(guarded)).json()["path"]
    guest = Client(guarded.port)
    entered = guest.get(path)
    assert entered.status == 303
    assert guest.get("/api/v1/today").status == 200
    assert guest.get("/api/v1/session").json()["role"] == "guest"
    assert guest.post("/api/v1/logbook", json=ENTRY, headers=csrf(guest)).status == 403
    assert guest.post("/api/v1/guest-link", json={}, headers=csrf(guest)).status == 403
    assert guarded.delete("/api/v1/guest-link", headers=csrf(guarded)).status == 200
    assert guest.get("/api/v1/today").status == 401
    assert guest.get(path).status == 404


def test_a_restart_logs_nobody_out_and_no_token_stands_in_the_store(locked):
    with PagesServer(locked, clock=lambda: NOW) as server:
        client = Client(server.port)
        log_in(client)
    with PagesServer(locked, clock=lambda: NOW) as server:
        again = Client(server.port)
        again.cookie = client.cookie
        assert again.get("/api/v1/today").status == 200
    token = client.cookie.partition("=")[2].encode()
    stored = b"".join(path.read_bytes() for path in Path(locked.store.path).parent.glob("hivemon.db*"))
    assert token not in stored
    assert PASSWORD.encode() not in stored


def test_sessions_end_with_time_and_do_not_pile_up():
    sessions = Sessions()
    token = sessions.begin(Role.OWNER, 0)
    assert sessions.find(token, LASTS - 1) is not None
    assert sessions.find(token, LASTS) is None
    tokens = [sessions.begin(Role.OWNER, n) for n in range(1, MOST + 1)]
    assert sessions.find(token, 10) is None
    assert all(sessions.find(other, MOST) for other in tokens)


def test_the_password_is_kept_as_an_argon2id_hash_for_its_owner_alone(folder):
    """RFC 9106 recommends Argon2id; its second recommended option is 64 MiB, t=3, p=4."""
    path = folder / "pages-password"
    passwords.keep(path, PASSWORD)
    text = path.read_text()
    assert text.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    with pytest.raises(UsageError, match="9 characters"):
        passwords.keep(path, "too short")
    assert path.read_text() == text


def test_a_password_file_that_is_none_is_said_at_the_start(settings, folder):
    (folder / "clear").write_text("open sesame\n")
    for name, said in (("clear", "holds no password hash"), ("missing", "cannot read")):
        with pytest.raises(ConfigError, match=said) as caught:
            PagesServer(with_pages(settings, password_file=str(folder / name)))
        assert "hivemon password" in caught.value.hint


def test_the_command_sets_the_password(folder):
    """As a person would, through a pipe."""
    with (folder / "hivemon.toml").open("a") as file:
        file.write('\n[pages]\npassword_file = "secret"\n')
    command = ["hivemon", "password", "--config", str(folder / "hivemon.toml")]
    environment = {**os.environ, "PATH": f"{Path(os.sys.executable).parent}:{os.environ['PATH']}"}
    done = subprocess.run(command, input=f"{PASSWORD}\n", capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    assert PASSWORD not in done.stdout + done.stderr
    kept = passwords.read(load(folder / "hivemon.toml").pages)
    assert passwords.matches(kept, PASSWORD)
    assert not passwords.matches(kept, PASSWORD.upper())


def test_with_a_certificate_everything_is_encrypted_and_the_cookie_says_so(locked, folder):
    authority = trustme.CA()
    issued = authority.issue_cert("127.0.0.1")
    issued.private_key_pem.write_to_path(folder / "key.pem")
    issued.cert_chain_pems[0].write_to_path(folder / "cert.pem")
    named = with_pages(locked, port=free_port(), certificate=str(folder / "cert.pem"), key=str(folder / "key.pem"))
    with PagesServer(named, clock=lambda: NOW) as server:
        assert server.url.startswith("https://")
        client = Client(server.port, tls=True)
        assert "Secure" in log_in(client).cookies[0]


def test_many_questions_are_slowed_down(client):
    """A burst passes, a flood does not."""
    answers = [client.get("/api/v1/session").status for _ in range(260)]
    assert answers[:150] == [200] * 150
    assert 429 in answers


def test_a_bucket_fills_again_and_forgets():
    bucket = Bucket(1.0, 2.0, most_keys=3)
    assert [bucket.allow("a", 0.0) for _ in range(3)] == [True, True, False]
    assert bucket.allow("a", 1.0)
    for key in "bcdefg":
        assert bucket.allow(key, 100.0)
    assert len(bucket._levels) <= 4


def test_a_taken_port_leaves_the_daemon_alone(settings, caplog):
    """The pages are missing and the log says why; the block goes on."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = with_pages(settings, port=other.getsockname()[1])
        with serving(taken) as server:
            assert server is None
        with pytest.raises(LinkError, match="cannot listen"), PagesServer(taken):
            pass
    assert "no pages" in caplog.text
