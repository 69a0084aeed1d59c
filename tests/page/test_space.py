"""A panel in space on the page: solved in the worker, turned by finger and keys, either side."""

import re
import time

import pytest
import trimesh
from playwright.sync_api import expect

from digitize.jobs.formats import FORM_FILES
from digitize.jobs.tell import tell
from tests.form.bent import straight_bend
from tests.page.browsing import CHROMIUM, SIZES, WHY_NOT, browser, opened, refuse_barriers
from tests.page.serving import put_on, serving
from tests.page.test_browser import refuse_small

pytestmark = pytest.mark.slow
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason=WHY_NOT)
LONGEST_S = 120


@pytest.fixture(scope="module")
def bend():
    return straight_bend(60.0, 50.0).model_copy(update={"name": "bend", "side": "left"})


def ended(client, name):
    """How a form is once nothing more is done about it."""
    end = time.monotonic() + LONGEST_S
    while time.monotonic() < end:
        form = client.get(f"/api/patterns/{name}/form").json()
        if not form["solving"]:
            return form
        time.sleep(0.3)
    raise AssertionError("not solved")


def test_a_form_is_solved_once_asked_for_and_taken_away_once_untrue(bend, tmp_path):
    put_on(tmp_path, "bend", bend)
    with serving(tmp_path, tmp_path / "drawer") as page:
        client = page.entered()
        form = client.get("/api/patterns/bend/form").json()
        assert not form["there"] and not form["solving"] and form["wrong"] is None
        assert client.get("/api/patterns/bend/form/form.glb").status_code == 404
        assert client.get("/api/patterns/bend/form/pattern.json").status_code == 400
        assert client.post("/api/patterns/bend/form").status_code == 200
        assert ended(client, "bend")["there"]
        assert {each.name for each in (tmp_path / "bend").iterdir()} >= set(FORM_FILES)
        assert not list(tmp_path.glob(".form-*"))
        answer = client.get("/api/patterns/bend/form/form.glb")
        assert answer.headers["content-type"] == "model/gltf-binary"
        read = trimesh.load(trimesh.util.wrap_as_stream(answer.content), file_type="glb")
        assert read.geometry["panel"].area > 0.03
        assert "Over all (95 %)" in read.metadata["words"][0]
        fact = {"kind": "radius", "on": "L2", "radii": [{"radius": 61.0}]}
        assert client.post("/api/patterns/bend/facts", json={"facts": [fact]}).status_code == 200
        assert not client.get("/api/patterns/bend/form").json()["there"]


def test_why_a_form_cannot_be_solved_is_said_in_the_pages_words(tmp_path):
    put_on(tmp_path, "untold", straight_bend(60.0, None))
    with serving(tmp_path, tmp_path / "drawer") as page:
        client = page.entered()
        client.post("/api/patterns/untold/form")
        form = ended(client, "untold")
        assert not form["there"] and "no radius is told" in form["wrong"]
        assert "tap the line or tuck" in form["wrong"] and "digitize label" not in form["wrong"]


def test_a_form_of_what_was_changed_meanwhile_is_not_kept(bend, tmp_path):
    put_on(tmp_path, "bend", bend)
    with serving(tmp_path, tmp_path / "drawer") as page:
        client = page.entered()
        client.post("/api/patterns/bend/form")
        tell(tmp_path / "bend", radii={"L2": 55.0}, draw=False)
        form = ended(client, "bend")
        assert not form["there"] and "was changed" in form["wrong"]
        assert not (tmp_path / "bend" / "form.glb").exists()


def test_solving_can_be_stopped(bend, tmp_path):
    put_on(tmp_path, "bend", bend)
    with serving(tmp_path, tmp_path / "drawer") as page:
        client = page.entered()
        client.post("/api/patterns/bend/form")
        assert client.post("/api/patterns/bend/form/stop").status_code == 200
        assert ended(client, "bend")["wrong"] == "stopped"
        assert client.post("/api/patterns/bend/form/stop").status_code == 404


@pytest.fixture(scope="module")
def chromium():
    with browser() as opened_browser:
        yield opened_browser


def picture(page):
    """How many of the canvas's pixels are painted, and the sum of all its colours."""
    page.wait_for_timeout(150)  # for the frame in which it is painted
    return page.evaluate(
        """() => {
          const canvas = document.querySelector("canvas.space");
          const all = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
          let painted = 0, left = 0;
          for (let k = 0; k < all.length; k += 4)
            if (all[k + 3]) {
              painted += 1;
              left += (k / 4) % canvas.width < canvas.width / 2;
            }
          return [painted / (all.length / 4), left / painted];
        }"""
    )


@needs_chromium
@pytest.mark.parametrize("size", SIZES)
def test_the_panel_is_turned_by_finger_and_keys_on_either_side(chromium, bend, tmp_path, size):
    put_on(tmp_path, "bend", bend)
    with (
        serving(tmp_path, tmp_path / "drawer") as served,
        opened(chromium, size, served.way_in) as page,
    ):
        page.goto(f"{served.url}/#/take/bend")
        page.get_by_role("link", name="See the panel in space").click()
        page.get_by_role("button", name="Solve").click()
        canvas = page.locator("canvas.space")
        expect(canvas).to_have_attribute("data-side", "this", timeout=LONGEST_S * 1000)
        refuse_barriers(page)
        refuse_small(page)
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        expect(page.locator(".words")).to_contain_text("within")
        assert picture(page)[0] > 0.05

        # By keys: from above it is as large as it gets, from the side all but gone.
        page.get_by_role("button", name="From above").click()
        above = picture(page)[0]
        canvas.focus()
        before = canvas.get_attribute("data-turn")
        page.keyboard.press("ArrowRight")
        expect(canvas).not_to_have_attribute("data-turn", before)
        for _ in range(16):
            page.keyboard.press("ArrowUp")
        assert picture(page)[0] < 0.75 * above
        scale = float(canvas.get_attribute("data-scale"))
        page.keyboard.press("+")
        expect(canvas).not_to_have_attribute("data-scale", f"{scale:.1f}")
        page.keyboard.press("0")
        expect(canvas).to_have_attribute("data-scale", f"{scale:.1f}")

        # By hand.
        box = canvas.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        was = float(canvas.get_attribute("data-turn"))
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 50, y, steps=4)
        page.mouse.up()
        page.wait_for_timeout(150)
        assert float(canvas.get_attribute("data-turn")) == pytest.approx(was + 0.4, abs=0.02)

        # The other side is left for right, with files of its own.
        page.get_by_role("button", name="From above").click()
        left = picture(page)[1]
        page.get_by_label("Side").select_option(".mirrored")
        expect(canvas).to_have_attribute("data-side", ".mirrored")
        page.get_by_role("button", name="From above").click()
        assert picture(page)[1] == pytest.approx(1 - left, abs=0.02)
        href = page.get_by_role("link", name="Gauges", exact=True).get_attribute("href")
        assert re.search(r"gauges\.mirrored\.pdf$", href)
        assert page.request.get(served.url + href).body().startswith(b"%PDF")
