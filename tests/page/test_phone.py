"""A phone is let in by a code that it scans, once, and by nothing else."""

import re
import subprocess
import sys
from urllib.parse import unquote

import cv2
import httpx
import numpy as np
import pytest
import resvg_py

from digitize.page.serve import _own_address, code_picture, code_words
from tests.page.serving import put_on, serving


def test_the_picture_of_a_code_is_read_by_opencvs_decoder():
    """Against another implementation of ISO/IEC 18004 than the one that draws it."""
    url = "http://192.0.2.7:8417/enter?code=3cv9SmtwxIM_4Fhr66IWiWCVdWVLG6Qx"
    svg = unquote(code_picture(url).partition(",")[2])
    png = np.frombuffer(bytes(resvg_py.svg_to_bytes(svg_string=svg)), np.uint8)
    read, _, _ = cv2.QRCodeDetector().detectAndDecode(cv2.imdecode(png, cv2.IMREAD_GRAYSCALE))
    assert read == url
    assert len({len(line) for line in code_words(url).splitlines() if line}) == 1


@pytest.mark.skipif(_own_address() is None, reason="this computer is on no network")
def test_a_phone_comes_in_by_its_own_code_and_another_by_a_new_one(corner, tmp_path):
    put_on(tmp_path, "corner", corner)
    with serving(tmp_path, tmp_path / "drawer", "--phone") as page:
        here, there = page.ways_in
        assert "127.0.0.1" in here and "127.0.0.1" not in there
        phone = page.entered(there)
        assert phone.get("/api/patterns").json()[0]["id"] == "corner"
        new = phone.post("/api/phone").json()["url"]
        assert new.split("?")[0] == there.split("?")[0] and new != there
        assert page.entered(new).get("/api/patterns").status_code == 200
        with page.client(there) as late:
            assert late.get(there).status_code == 401


def test_without_a_phone_there_is_no_code_for_one(corner, tmp_path):
    put_on(tmp_path, "corner", corner)
    with serving(tmp_path, tmp_path / "drawer") as page:
        answer = page.entered().post("/api/phone")
        assert answer.status_code == 400 and "--phone" in answer.json()["error"]


@pytest.mark.slow
def test_the_command_itself_opens_the_page_and_says_where(corner, tmp_path):
    put_on(tmp_path, "corner", corner)
    given = ["page", str(tmp_path), "--no-browser", "--drawer", str(tmp_path / "drawer")]
    with subprocess.Popen(
        [sys.executable, "-m", "digitize", *given], stdout=subprocess.PIPE, text=True
    ) as page:
        ways_in = []
        for line in page.stdout:
            ways_in += re.findall(r"http://\S+", line)
            if "Ctrl-C" in line:
                break
        (way_in,) = ways_in
        with httpx.Client(timeout=60) as client:
            assert client.get(way_in).status_code == 303
            listed = client.get(f"{way_in.split('/enter')[0]}/api/patterns").json()
        page.terminate()
    assert [each["id"] for each in listed] == ["corner"]
