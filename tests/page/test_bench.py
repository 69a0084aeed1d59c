"""Patterns on the bench: told about from several pages, undone, drawn, kept, taken."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from digitize.jobs.folder import load_pattern
from digitize.page.bench import Bench
from tests.page.serving import put_on, serving

# Drawings of whole patterns, again and again, in a page of its own.
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def bench_folder(tmp_path_factory):
    return tmp_path_factory.mktemp("bench")


@pytest.fixture(scope="module")
def client(bench_folder, corner):
    with serving(bench_folder, bench_folder.with_name("drawer")) as page:
        yield page.entered()


@pytest.fixture
def name(bench_folder, corner, request):
    put_on(bench_folder, request.node.name, corner)
    return request.node.name


def told(client, name, *facts):
    answer = client.post(f"/api/patterns/{name}/facts", json={"facts": facts})
    assert answer.status_code == 200, answer.text
    return answer.json()


def role(name, role):
    return {"kind": "role", "on": name, "role": role}


def line_in(view, name):
    return next(line for line in view["lines"] if line["id"] == name)


def test_a_fact_is_on_the_disk_when_it_is_answered(client, bench_folder, name):
    view = told(client, name, role("L18", "form"), {"kind": "words", "on": "L1", "words": "crown"})
    assert line_in(view, "L18")["role"] == "form" and line_in(view, "L1")["note"] == "crown"
    record = load_pattern(bench_folder / name)
    assert [fact.kind for fact in record.told] == ["role", "words"]
    assert not (bench_folder / name / "bands.svg").exists()  # it would no longer be true


def test_steps_back_and_on_outlast_the_page(client, bench_folder, name, corner):
    for each in ("form", "unknown", "radius-end"):
        told(client, name, role("L18", each))
    roles = []
    for way in ("undo", "undo", "redo", "undo", "undo"):
        view = client.post(f"/api/patterns/{name}/step/{way}").json()
        roles.append(line_in(view, "L18")["role"])
    own = corner.line("L18").role
    assert roles == ["unknown", "form", "unknown", "form", own]
    assert view["undo"] is None and view["redo"] == 1
    answer = client.post(f"/api/patterns/{name}/step/undo")
    assert answer.status_code == 400 and "nothing to undo" in answer.json()["error"]
    # As another page, or this one opened anew, has it: all is in the record.
    again = Bench(bench_folder)
    again.step(name, back=False)
    assert again.pattern(name)[0].line("L18").role == "form"
    view = told(client, name, {"kind": "erase", "on": "L17"})
    assert view["redo"] is None  # something new was told


def test_two_pages_lose_nothing_of_each_other(client, bench_folder, name):
    def tell(number):
        return told(client, name, {"kind": "hole", "at": [100 + number, 200], "diameter": 5})

    with ThreadPoolExecutor(4) as pages:
        list(pages.map(tell, range(8)))
    record = load_pattern(bench_folder / name)
    assert sorted(hole.at[0] for hole in record.holes) == [100.0 + number for number in range(8)]


def test_another_page_hears_of_a_change(client, bench_folder, name):
    known = client.get(f"/api/patterns/{name}").json()["version"]
    with ThreadPoolExecutor(1) as other:
        waits = other.submit(client.get, f"/api/patterns/{name}/change?known={known}")
        view = told(client, name, role("L18", "form"))
        assert waits.result(timeout=10).json()["version"] == view["version"] != known


def test_a_killed_page_loses_no_fact_that_it_has_answered(corner, tmp_path):
    put_on(tmp_path, "corner", corner)
    with serving(tmp_path, tmp_path / "drawer") as page:
        client = page.entered()
        for count in range(1, 4):
            told(client, "corner", {"kind": "hole", "at": [100, 100 * count], "diameter": 5})
        page.process.kill()
        page.process.join()
    assert len(load_pattern(tmp_path / "corner").holes) == 3


def test_lengths_are_read_as_people_write_them(client):
    answer = client.get("/api/length", params={"words": "3 1/4", "unit": "inch"}).json()
    assert answer == {"mm": pytest.approx(82.55), "words": "3 1/4 in (82.5 mm)"}
    assert client.get("/api/length", params={"words": "82"}).json()["mm"] == 82
    wrong = client.get("/api/length", params={"words": "3 1/4"})
    assert wrong.status_code == 400 and "has no unit" in wrong.json()["error"]


def test_sheet_metal_is_read_as_people_write_it_and_written_so(client, name):
    sheet = client.get("/api/sheet", params={"words": "steel 18 ga"}).json()
    view = told(client, name, {"kind": "about", "sheet": sheet, "unit": "inch"})
    assert view["sheet_words"] == "steel 18 ga" and view["unit"] == "inch"
    assert line_in(view, "L18")["length"].split("(")[0].strip().endswith("in")
    sheet = client.get("/api/sheet", params={"words": "aluminium 1.5mm"}).json()
    view = told(client, name, {"kind": "about", "sheet": sheet})
    assert view["sheet_words"] == "aluminium 1.5 mm" and view["unit"] == "inch"
    wrong = client.get("/api/sheet", params={"words": "tin"})
    assert wrong.status_code == 400 and "steel 18 ga" in wrong.json()["error"]


def test_drawings_of_either_side_are_drawn_when_they_are_asked_for(client, name):
    told(client, name, role("L18", "form"))
    for each, start in (("job", b"%PDF"), ("svg", b"<?xml"), ("dxf", b"  0")):
        for side in ("this", "other"):
            answer = client.get(f"/api/patterns/{name}/drawing/{each}", params={"side": side})
            assert answer.status_code == 200 and answer.content.startswith(start)
            assert ("right" if side == "other" else "left") in answer.headers["content-disposition"]


def test_a_pattern_is_kept_found_and_taken_out_again(client, bench_folder, name):
    told(client, name, {"kind": "words", "on": "L1", "words": "two mm proud"})
    kept = client.post(f"/api/patterns/{name}/keep", json={"part": "caravan <b>roof</b>"}).json()
    assert "revision 1" in kept["words"]
    found = client.get("/api/drawer", params={"words": "proud caravan"}).json()["kept"]
    assert [each["part"] for each in found] == ["caravan <b>roof</b>"]
    picture = client.get(f"/api/drawer/{found[0]['pattern']}/picture")
    assert picture.content.startswith(b"\xff\xd8")
    taken = client.post(f"/api/drawer/{found[0]['pattern']}/take").json()["pattern"]
    assert line_in(client.get(f"/api/patterns/{taken}").json(), "L1")["note"] == "two mm proud"
    client.post(f"/api/patterns/{taken}/remove")
    assert client.get(f"/api/patterns/{taken}").status_code == 404
    assert not any(path.name.startswith(".taken") for path in bench_folder.iterdir())


def test_two_programs_on_one_bench_lose_nothing_of_each_other(client, bench_folder, name, tmp_path):
    with serving(bench_folder, tmp_path / "drawer") as other_page:
        clients = [client, other_page.entered()]

        def tell(number):
            hole = {"kind": "hole", "at": [100 + number, 200], "diameter": 5}
            told(clients[number % 2], name, hole)

        with ThreadPoolExecutor(4) as hands:
            list(hands.map(tell, range(8)))
    assert len(load_pattern(bench_folder / name).holes) == 8


def test_what_is_kept_has_its_drawings_though_nothing_was_drawn_since_a_fact(
    client, bench_folder, name
):
    told(client, name, {"kind": "erase", "on": "L18"})
    assert not (bench_folder / name / "pattern.svg").exists()
    client.post(f"/api/patterns/{name}/keep", json={"revise": True})
    assert (bench_folder / name / "pattern.svg").exists()


def test_a_damaged_record_is_named_and_the_others_are_shown(client, bench_folder, name, corner):
    (bench_folder / "damaged").mkdir()
    (bench_folder / "damaged" / "pattern.json").write_text("{")
    put_on(bench_folder, "without-edge", corner.model_copy(update={"outline": ()}))
    rows = {row["id"]: row for row in client.get("/api/patterns").json()}
    assert "outline" in rows["without-edge"]["wrong"]
    assert "wrong" in rows["damaged"] and rows[name]["tucks"] == 7
    assert client.get("/api/patterns/damaged").status_code == 400
