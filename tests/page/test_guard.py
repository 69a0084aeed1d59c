"""Who may ask the page: a browser let in by a code, from the page itself, by the page's name."""

import contextlib
import socket
import time

import pytest

from digitize.page.guard import Doors
from tests.page.serving import put_on, serving


@pytest.fixture(scope="module")
def served(corner, tmp_path_factory):
    bench = tmp_path_factory.mktemp("bench")
    put_on(bench, "corner", corner)
    with serving(bench, bench / "drawer") as page:
        yield page


@pytest.fixture(scope="module")
def client(served):
    return served.entered()


def test_nobody_is_let_in_without_a_code(served):
    with served.client() as stranger:
        for path in ("/", "/start.js", "/api/patterns", "/api/patterns/corner", "/nothing"):
            answer = stranger.get(path)
            assert answer.status_code == 401 and "corner" not in answer.text
        assert stranger.get("/enter?code=guess").status_code == 401
        assert stranger.get("/enter").status_code == 401
        stranger.cookies.set(f"pattern-page-{stranger.base_url.port}", "guess")
        assert stranger.get("/api/patterns").status_code == 401


def test_a_code_lets_in_one_browser_once(served, client):
    assert client.get("/api/patterns").json()[0]["id"] == "corner"
    with served.client() as second:
        answer = second.get(served.way_in)
        assert answer.status_code == 401 and "used already" in answer.text


def test_what_changes_something_has_to_come_from_the_page_itself(client):
    told = {"facts": [{"kind": "words", "on": "L1", "words": "by another site"}]}
    for headers in (
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ):
        answer = client.post("/api/patterns/corner/facts", json=told, headers=headers)
        assert answer.status_code == 403
    del client.headers["origin"]
    try:
        assert client.post("/api/patterns/corner/facts", json=told).status_code == 403
    finally:
        client.headers["origin"] = str(client.base_url).rstrip("/")
    assert client.get("/api/patterns/corner").json()["facts"] == []


def test_the_page_answers_to_its_own_names_alone(client):
    for host in ("evil.example", "evil.example:8417", "127.0.0.1", "0.0.0.0:8417", ""):
        assert client.get("/api/patterns", headers={"host": host}).status_code == 421
    port = client.base_url.port
    named = {"host": f"localhost:{port}", "origin": f"http://localhost:{port}"}
    assert client.get("/api/patterns", headers=named).status_code == 200


def test_the_browser_is_told_to_run_nothing_but_the_pages_own_scripts(client):
    for path in ("/", "/api/patterns", "/enter?code=none"):
        rules = client.get(path).headers["content-security-policy"]
        assert "default-src 'none'" in rules and "script-src 'self'" in rules
        assert "unsafe" not in rules and "http" not in rules
    page = client.get("/").text
    assert "<script>" not in page and "style=" not in page and "onclick" not in page
    assert client.get("/").headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "path",
    [
        "/../pyproject.toml",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/..%2f..%2fapp.py",
        "/api/patterns/..%2f..%2f",
        "/api/patterns/%2e%2e",
        "/api/patterns/corner%00",
        "/api/drawer/..%2f..%2fetc/picture",
        "/api/shoots/..%2f..%2f",
        f"/api/shoots/0/photos/{'9' * 5000}",
        f"/api/patterns/corner/picture?most={'9' * 5000}",
        "/api/patterns/corner/drawing/..%2fpattern.json",
    ],
)
def test_no_path_from_a_request_reaches_the_disk(client, path):
    answer = client.get(path)
    assert answer.status_code in (400, 404) and "Traceback" not in answer.text


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"no json", "no JSON"),
        (b"[" * 100_000, "no JSON"),
        (b"[1]", "no JSON object"),
        (b'{"facts": {"kind": "words"}}', "facts are a list"),
        (b'{"facts": [{"kind": "words", "on": "L99", "words": "x"}]}', "L99"),
        (b'{"facts": [{"kind": "hole", "at": [1, NaN], "diameter": 6}]}', ""),
        (b'{"facts": [{"kind": "follow", "points": [[1, 2]]}]}', ""),
        (b'{"facts": [{"kind": "follow", "points": []}]}', ""),
        (b'{"facts": [{"kind": "follow", "points": [[1, 2], [3, 4]], "role": "x"}]}', ""),
        (b'{"facts": [{"kind": "words", "on": "L1", "words": "\\ud800"}]}', "no JSON"),
        (b" " * 2_100_000, "too much"),
    ],
)
def test_what_is_sent_wrong_is_answered_in_words(client, content, words):
    answer = client.post("/api/patterns/corner/facts", content=content)
    assert answer.status_code == 400 and words in answer.json()["error"]
    assert client.get("/api/patterns/corner").json()["facts"] == []


def test_other_cookies_of_this_computer_do_not_lock_anybody_out(client):
    cookies = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
    odd = f'a={{"b":1}}; foo=bar baz; x[1]=2; {cookies}'
    assert client.get("/api/patterns", headers={"cookie": odd}).status_code == 200


def test_what_a_stranger_sends_is_not_read_to_its_end(served):
    with socket.create_connection(("127.0.0.1", int(served.url.rsplit(":")[-1])), 5) as line:
        host = served.url.removeprefix("http://")
        head = f"POST /api/shoots HTTP/1.1\r\nhost: {host}\r\norigin: {served.url}\r\n"
        line.sendall(f"{head}transfer-encoding: chunked\r\n\r\n".encode())
        sent = 0
        with contextlib.suppress(OSError):
            while sent < 200_000_000:
                line.sendall(b"f4240\r\n" + bytes(1_000_000) + b"\r\n")
                sent += 1_000_000
        assert sent < 200_000_000


def test_old_codes_and_sessions_lapse(monkeypatch):
    doors = Doors(frozenset())
    code = doors.new_code()
    now = time.monotonic()
    monkeypatch.setattr("digitize.page.guard.time.monotonic", lambda: now + 3600)
    assert doors.let_in(code) is None
    first = doors.new_code()
    for _ in range(20):
        last = doors.new_code()
    assert doors.let_in(first) is None
    session = doors.let_in(last)
    assert session and doors.knows(session) and not doors.knows(session + "x")
    for _ in range(70):
        doors.let_in(doors.new_code())
    assert not doors.knows(session)
