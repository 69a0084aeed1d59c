"""Photos that come in: looked at, read aside, stopped; never more than there is room for."""

import tempfile
import time
from pathlib import Path

import pytest

from digitize.errors import DigitizeError
from digitize.jobs.folder import load_pattern
from digitize.page.worker import Stopped, Worker
from tests.conftest import SAMPLES
from tests.page.serving import serving

# A page whose worker loads the whole program, and reads photos.
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def bench_folder(tmp_path_factory):
    return tmp_path_factory.mktemp("bench")


@pytest.fixture(scope="module")
def client(bench_folder):
    with serving(bench_folder, bench_folder / "drawer") as page:
        yield page.entered()


@pytest.fixture
def shoot(client):
    return f"/api/shoots/{client.post('/api/shoots', json={'anew': True}).json()['shoot']}"


def until(client, shoot, wanted, seconds=120):
    """The shoot once it is as wanted."""
    known, end = "", time.monotonic() + seconds
    while time.monotonic() < end:
        view = client.get(f"{shoot}?known={known}").json()
        if wanted(view):
            return view
        known = view["version"]
    raise AssertionError(view)


def test_what_is_no_photo_is_said_and_can_be_left_out(client, shoot, bench_folder):
    number = client.post(f"{shoot}/photos", content=b"GIF89a, says its name").json()["photo"]
    view = until(client, shoot, lambda view: view["photos"][0]["looked_at"])
    wrong = view["photos"][0]["wrong"]
    assert wrong and str(bench_folder) not in wrong
    assert client.get(f"{shoot}/photos/{number}").status_code == 404
    client.post(f"{shoot}/photos/{number}/drop")
    assert client.get(shoot).json()["photos"] == []
    assert client.post(f"{shoot}/read").json()["error"] == "take a photo first"


def test_only_so_many_photos_of_so_many_bytes_come_in(client, shoot):
    answer = client.post(f"{shoot}/photos", content=bytes(64_000_001))
    assert answer.status_code == 400 and "MB" in answer.json()["error"]
    for _ in range(12):
        assert client.post(f"{shoot}/photos", content=b"x").status_code == 200
    assert "12 photos" in client.post(f"{shoot}/photos", content=b"x").json()["error"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"side": "up"}, "side"),
        ({"name": "x" * 81}, "name"),
        ({"name": 7}, "name"),
        ({"measured_x": "15"}, "150 mm rule"),
        ({"measured_x": "a foot"}, "150 mm rule"),
        ({"paper_px": [[1, 2], [3]]}, "places"),
        ({"paper_px": [[1, 2], [3, "nan"]]}, "places"),
    ],
)
def test_what_is_asked_wrong_is_said(client, shoot, asked, words):
    answer = client.post(f"{shoot}/read", json=asked)
    assert answer.status_code == 400 and words in answer.json()["error"]


def test_a_photo_is_looked_at_read_and_read_again_with_what_was_told(client, shoot, bench_folder):
    client.post(f"{shoot}/photos", content=(SAMPLES / "easy.jpg").read_bytes())
    view = until(client, shoot, lambda view: view["photos"][0]["looked_at"])
    shows = view["photos"][0]["shows"]
    assert [card["number"] for card in shows["cards"]] == [1, 2, 3, 4] and shows["paper"]
    assert shows["faults"] == [] and shows["size"] == [4032, 3024]
    assert client.get(f"{shoot}/photos/1").content.startswith(b"\xff\xd8")
    asked = {"name": "../roof <corner>", "side": "left", "held_flat": True, "measured_x": "150"}
    client.post(f"{shoot}/read", json=asked)
    # Stopped, it leaves nothing, and can be begun again.
    until(client, shoot, lambda view: view["stage"] not in ("", "waiting"))
    client.post(f"{shoot}/stop")
    assert until(client, shoot, lambda view: not view["reading"])["wrong"] == "stopped"
    assert client.get("/api/patterns").json() == []
    client.post(f"{shoot}/read", json=asked)
    name = until(client, shoot, lambda view: view["pattern"])["pattern"]
    assert (bench_folder / name).parent == bench_folder and "/" not in name
    record = load_pattern(bench_folder / name)
    assert record.side == "left" and record.scale.held_flat and len(record.tucks) == 7
    form = next(line.id for line in record.lines if line.role == "form")
    told = {"kind": "words", "on": form, "words": "crown"}
    client.post(f"/api/patterns/{name}/facts", json={"facts": [told]})
    again = f"/api/shoots/{client.post(f'/api/patterns/{name}/again').json()['shoot']}"
    asked = client.get(again).json()["asked"]
    assert asked == {
        "name": record.name,
        "side": "left",
        "held_flat": True,
        "measured_x": "150",
        "measured_y": "150",
    }
    client.post(f"{again}/read", json={"name": "roof corner", "side": "left"})
    assert until(client, again, lambda view: view["pattern"])["pattern"] == name
    record = load_pattern(bench_folder / name)
    assert not record.scale.held_flat and record.name == "roof corner"
    assert [line.note for line in record.lines if line.note] == ["crown"]
    assert (bench_folder / name / "photos" / "photo-1.jpg").exists()


def test_a_reading_that_waits_is_stopped_without_the_one_that_runs(client, bench_folder):
    lots = [
        f"/api/shoots/{client.post('/api/shoots', json={'anew': True}).json()['shoot']}"
        for _ in range(2)
    ]
    for lot in lots:
        client.post(f"{lot}/photos", content=(SAMPLES / "easy.jpg").read_bytes())
        client.post(f"{lot}/read", json={"name": "one of two"})
    first, second = lots
    client.post(f"{second}/stop")
    until(client, first, lambda view: view["pattern"])
    assert until(client, second, lambda view: not view["reading"])["wrong"] == "stopped"


def test_photos_are_found_again_by_another_page(tmp_path):
    with serving(tmp_path / "bench", tmp_path / "drawer") as page:
        client = page.entered()
        shoot = client.post("/api/shoots").json()["shoot"]
        client.post(f"/api/shoots/{shoot}/photos", content=b"x")
        assert client.post("/api/shoots").json()["shoot"] == shoot
        assert client.post("/api/shoots", json={"anew": True}).json()["shoot"] != shoot
    with serving(tmp_path / "bench", tmp_path / "drawer") as page:
        client = page.entered()
        assert client.post("/api/shoots").json()["shoot"] == shoot
        assert len(client.get(f"/api/shoots/{shoot}").json()["photos"]) == 1


def test_a_worker_that_dies_says_so_and_the_next_job_finds_another():
    worker = Worker()
    who = object()

    def kill(value):
        worker._process.kill()

    with pytest.raises(DigitizeError, match="memory"):
        worker.run("glance", given(SAMPLES / "easy.jpg"), kill, who)
    with pytest.raises(DigitizeError, match="cannot be read"):
        worker.run("glance", given(SAMPLES / "nothing.jpg"), kill, who)
    worker.stop(who)
    with pytest.raises(Stopped):
        worker.run("glance", given(SAMPLES / "easy.jpg"), kill, who)
    with pytest.raises(DigitizeError, match="cannot be read"):
        worker.run("glance", given(SAMPLES / "nothing.jpg"), kill, who)
    worker.close()


def given(photo):
    return {"photo": photo, "shown": Path(tempfile.mkdtemp()) / "shown.jpg"}
