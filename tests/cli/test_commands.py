import json
import os
import re
import subprocess
import sys
from typing import get_args

import cv2
import numpy as np
import pypdfium2
import pytest
from PIL import Image
from typer.testing import CliRunner

from digitize.cli import app
from digitize.cli.commands import COMMANDS
from digitize.cli.options import radii, stations_in
from digitize.defaults import ROLES
from digitize.record import Role, to_json
from tests.conftest import SAMPLES
from tests.scene import Floor, Shot

runner = CliRunner(env={"COLUMNS": "130"})


def saved(path, pixels, quality=90, taken_px=None):
    exif = Image.Exif()
    if taken_px:
        details = exif.get_ifd(0x8769)
        details[0xA002], details[0xA003] = taken_px
    # To pack noise well takes a PNG a second, and gains nothing.
    Image.fromarray(pixels).save(path, quality=quality, exif=exif, compress_level=1)
    return path


@pytest.fixture(scope="module")
def scenes(tmp_path_factory):
    """Photos that can't be read, each in its own way: name, file, exit code, words."""
    folder = tmp_path_factory.mktemp("photos")
    bare = Floor(500)
    with_card = Floor(500)
    with_card.lay_card(1, -150, 0, 0)
    shot = Shot(eye=(0, -100, 800))
    whole = (SAMPLES / "easy.jpg").read_bytes()
    (folder / "cut.jpg").write_bytes(whole[:400_000])
    (folder / "words.jpg").write_text("these are words")
    Image.new("1", (20000, 10000)).save(folder / "huge.png", compress_level=1)
    pixels = with_card.photograph(shot)
    blurred = cv2.GaussianBlur(pixels, (0, 0), 12)
    return {
        "words": (folder / "words.jpg", 10, "not a picture"),
        "cut": (folder / "cut.jpg", 11, "cut short"),
        "pixel": (saved(folder / "pixel.png", np.zeros((1, 1, 3), np.uint8)), 12, "too small"),
        "huge": (folder / "huge.png", 13, "200 megapixels"),
        "black": (saved(folder / "black.jpg", np.zeros((1512, 2016, 3), np.uint8)), 14, "light"),
        "blurred": (saved(folder / "blurred.jpg", blurred), 15, "blurred"),
        "bare": (saved(folder / "bare.jpg", bare.photograph(shot)), 16, "lay at least one card"),
        "no-paper": (saved(folder / "no-paper.jpg", pixels), 18, "paper"),
        "cropped": (
            saved(folder / "cropped.jpg", pixels[:, :1600], taken_px=(2016, 1512)),
            20,
            "1600 x 1512 px, and EXIF says that it was taken at 2016 x 1512 px",
        ),
    }


NAMES = ["words", "cut", "pixel", "huge", "black", "blurred", "bare", "no-paper", "cropped"]


@pytest.mark.parametrize("name", NAMES)
def test_a_bad_photo_gives_one_line_its_own_exit_code_and_no_file(name, scenes, tmp_path):
    path, code, words = scenes[name]
    out = tmp_path / "out"
    result = runner.invoke(app, ["photo", str(path), "--out", str(out)])
    assert result.exit_code == code
    assert words in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert "Traceback" not in result.output
    assert not out.exists()


def test_a_missing_file_and_a_folder_that_cannot_be_made_are_named(tmp_path):
    result = runner.invoke(app, ["photo", str(tmp_path / "none.jpg"), "--out", str(tmp_path)])
    assert result.exit_code == 3 and "none.jpg" in result.stderr
    (tmp_path / "file").write_text("")
    result = runner.invoke(app, ["card", "--out", str(tmp_path / "file" / "cards.pdf")])
    assert result.exit_code == 4 and "cannot be written" in result.stderr


@pytest.mark.slow
def test_the_whole_command(tmp_path):
    profile = tmp_path / "printer.json"
    profile.write_text('{"measured_x": 150.0, "measured_y": 150.0}')
    out = tmp_path / "out"
    result = runner.invoke(
        app,
        [
            "photo",
            str(SAMPLES / "easy.jpg"),
            "--out",
            str(out),
            "--mirror",
            "--side",
            "left",
            "--name",
            "corner",
            "--print-profile",
            str(profile),
            "--check",
            "1:2=1199",
            "--check",
            "1:2=47in",
        ],
    )
    assert result.exit_code == 0, result.output
    assert sorted(path.name for path in out.iterdir()) == [
        "bands.svg",
        "closed.svg",
        "overlay.jpg",
        "pattern.json",
        "pattern.mirrored.json",
        "pattern.mirrored.svg",
        "pattern.svg",
        "reading.json",
        "rectified.jpg",
        "shrink.svg",
    ]
    record = json.loads((out / "pattern.json").read_text())
    assert (record["schema"], record["side"], record["name"]) == (1, "left", "corner")
    assert json.loads((out / "pattern.mirrored.json").read_text())["side"] == "right"
    right, wrong = record["scale"]["checks"]
    assert abs(right["read_mm"] - right["taped_mm"]) < right["limit_mm"]
    assert wrong["taped_mm"] == pytest.approx(47 * 25.4)
    for words in ("points within", "trim-edge", "peak", "T7", "card 1 to card 2", "tape it"):
        assert words in result.output


@pytest.mark.slow
@pytest.mark.usefixtures("photos_seen_once")
def test_what_was_told_is_kept_by_a_new_reading(tmp_path):
    out = str(tmp_path / "out")
    read = ["photo", str(SAMPLES / "easy.jpg"), "--out", out, "--side", "left", "--name", "corner"]
    assert runner.invoke(app, read).exit_code == 0
    record = json.loads((tmp_path / "out" / "pattern.json").read_text())
    start = next(line["id"] for line in record["lines"] if line["role"] == "radius-start")
    form = next(line["id"] for line in record["lines"] if line["role"] == "form")
    told = runner.invoke(
        app,
        [
            *("label", out, "--radius", f"{start}=2-3/8in@0%,100mm@100%"),
            *("--role", f"{form}=unknown", "--note", f"{form}=crown"),
        ],
    )
    assert told.exit_code == 0, told.output
    assert "not told" not in told.output
    assert runner.invoke(app, read).exit_code == 0
    again = json.loads((tmp_path / "out" / "pattern.json").read_text())
    lines = {line["id"]: line for line in again["lines"]}
    radii = [line["radii"] for line in lines.values() if line["radii"]]
    assert [s["radius"] for s in radii[0]] == pytest.approx([60.325, 100])
    crown = next(line for line in lines.values() if line["note"] == "crown")
    assert (crown["role"], crown["role_by"]) == ("unknown", "told")
    assert again["bands"][0]["stations"][0]["turned_deg"] is not None


@pytest.mark.slow
@pytest.mark.usefixtures("photos_seen_once")
def test_a_spread_and_a_sheet_are_told_and_kept_by_a_new_reading(tmp_path):
    out = str(tmp_path / "out")
    read = ["photo", str(SAMPLES / "easy.jpg"), "--out", out, "--side", "left"]
    assert runner.invoke(app, read).exit_code == 0
    told = runner.invoke(app, ["tuck", out, "T7", "--spread", "1/8in@60mm,1/4in"])
    assert told.exit_code == 0 and "stretch" in told.output
    told = runner.invoke(app, ["shrink", out, "--sheet", "steel 18 ga"])
    assert told.exit_code == 0, told.output
    for words in ("take out", "let in", "fades", "1.21", "Gloves"):
        assert words in told.output
    assert "(1/2)" in told.output and "…" not in told.output  # no digit is lost to the width
    assert runner.invoke(app, read).exit_code == 0
    again = json.loads((tmp_path / "out" / "pattern.json").read_text())
    assert again["tucks"][6]["kind"] == "spread" and again["sheet"]["gauge"] == 18
    assert [zone["kind"] for zone in again["zones"]] == ["shrink", "stretch"]
    shown = runner.invoke(app, ["shrink", out])
    assert shown.exit_code == 0 and "written" not in shown.output


@pytest.mark.parametrize(
    "name", ["[bold]x.jpg", "a\x1b[31mb.jpg", "a\nb.jpg", "n" * 240 + ".jpg", "b\udcff.jpg"]
)
def test_a_files_name_is_shown_and_never_acts(tmp_path, name):
    photo = tmp_path / name
    photo.write_bytes(b"no picture")
    result = runner.invoke(app, ["photo", str(photo), "--out", str(tmp_path / "out")])
    assert result.exit_code == 10 and "\x1b" not in result.output
    assert "not a picture" in result.output and not (tmp_path / "out").exists()
    if name.startswith("["):
        assert name in result.output


def test_the_users_unit_is_kept_with_the_record_and_bare_numbers_are_in_it(corner, tmp_path):
    record = tmp_path / "pattern.json"
    record.write_text(to_json(corner))
    start = next(line.id for line in corner.lines if line.role == "radius-start")
    asked = ["label", str(record), "--units", "inch", "--radius", f"{start}=3 1/4"]
    result = runner.invoke(app, asked)
    assert result.exit_code == 0, result.output
    kept = json.loads(record.read_text())
    assert kept["unit"] == "inch"
    assert next(line for line in kept["lines"] if line["id"] == start)["radius"] == 82.55


@pytest.mark.slow
def test_drawings_come_from_the_record_alone_and_are_the_same_again(corner, tmp_path):
    record = tmp_path / "pattern.json"
    record.write_text(to_json(corner))
    drawn = []
    for folder in ("one", "two"):
        result = runner.invoke(app, ["draw", str(record), "--out", str(tmp_path / folder)])
        assert result.exit_code == 0, result.output
        drawn.append({p.name: p.read_bytes() for p in (tmp_path / folder).iterdir()})
    assert drawn[0] == drawn[1]
    assert sorted(drawn[0]) == [
        "easy-left-a4.pdf",
        "easy-left-job-letter.pdf",
        "easy-left-job.pdf",
        "easy-left-letter.pdf",
        "easy-left.dxf",
        "easy-left.pdf",
        "easy-left.svg",
    ]
    other = ["draw", str(record), "--out", str(tmp_path / "three"), "--mirror", "--format", "svg"]
    assert runner.invoke(app, other).exit_code == 0
    text = (tmp_path / "three" / "easy-right.svg").read_text()
    assert "marked face down" in text and "punch points" in text and "blank" in text


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--format", "png"], 2, "formats are svg, dxf"),
        (["--allowance", "wide"], 2, "write it like 25mm"),
        (["--allow", "L99=40mm"], 23, "no such line"),
        (["--allow", "L18=40mm"], 25, "no line of the trim edge"),
        (["--stock", "1250"], 2, "write it like 1250x2500"),
    ],
)
def test_what_cannot_be_drawn_is_explained(corner, tmp_path, arguments, code, words):
    record = tmp_path / "pattern.json"
    record.write_text(to_json(corner))
    out = tmp_path / "out"
    result = runner.invoke(app, ["draw", str(record), "--out", str(out), *arguments])
    assert result.exit_code == code and words in result.stderr
    assert not out.exists()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["tuck", "T1", "--spread", "wide"], 2, "write it like 6mm"),
        (["tuck", "T99", "--spread", "6mm"], 23, "no such tuck"),
        (["tuck", "T1", "--spread", "6mm@900mm"], 23, "lies beyond it"),
        (["shrink", "--sheet", "steel 17 ga"], 2, "gauges of steel here are"),
    ],
)
def test_what_cannot_be_told_of_a_tuck_or_sheet_is_explained(
    corner, tmp_path, arguments, code, words
):
    path = tmp_path / "pattern.json"
    path.write_text(to_json(corner))
    before = path.read_bytes()
    result = runner.invoke(app, [arguments[0], str(path), *arguments[1:]])
    assert result.exit_code == code and words in result.stderr
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--role", "L1=edge"], 2, "roles are trim-edge"),
        (["--role", "L1"], 2, "write it like L3=radius-end"),
        (["--radius", "L1=3on"], 2, "write it like L8=3-1/4in"),
        (["--radius", "L1=0in"], 2, "more than nothing"),
        (["--radius", "L1=3in@9000mm"], 23, "lies beyond it"),
        (["--note", "L99=x"], 23, "no such line"),
    ],
)
def test_wrong_labels_are_explained_and_change_nothing(corner, tmp_path, arguments, code, words):
    path = tmp_path / "pattern.json"
    path.write_text(to_json(corner))
    before = path.read_bytes()
    result = runner.invoke(app, ["label", str(path), *arguments])
    assert result.exit_code == code and words in result.stderr
    assert path.read_bytes() == before and len(list(tmp_path.iterdir())) == 1


def test_a_file_of_inks_is_checked(tmp_path):
    inks = tmp_path / "inks.json"
    for text, words in (
        ("no", "not a file of inks"),
        ('{"pink": "lap"}', "inks are black"),
        ('{"red": "edge"}', "roles are trim-edge"),
    ):
        inks.write_text(text)
        result = runner.invoke(
            app, ["photo", str(SAMPLES / "easy.jpg"), "--out", "o", "--inks", str(inks)]
        )
        assert result.exit_code == 2 and words in result.stderr


def test_cards_print_at_true_size_and_make_up_for_a_printer(tmp_path):
    out = tmp_path / "cards.pdf"
    assert (
        runner.invoke(app, ["card", "--count", "3", "--first", "7", "--out", str(out)]).exit_code
        == 0
    )
    pdf = pypdfium2.PdfDocument(out)
    assert len(pdf) == 3
    assert np.array(pdf[0].get_size()) / 72 * 25.4 == pytest.approx([210, 297], abs=0.01)
    runner.invoke(app, ["card", "--count", "1", "--measured-x", "148.5", "--out", str(out)])
    page = pypdfium2.PdfDocument(out)[0].render(scale=10 * 25.4 / 72).to_numpy()[..., 0]
    columns = np.flatnonzero((page < 128).any(axis=0))
    assert (columns[-1] - columns[0] + 1) / 10 == pytest.approx(192 * 150 / 148.5, abs=0.2)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["card", "--sheet", "a5"], "a4 or letter"),
        (["card", "--first", "60", "--count", "9"], "end at 62"),
        (["photo", "x.jpg", "--out", "o", "--side", "up"], "left, right or unknown"),
        (["photo", "x.jpg", "--out", "o", "--check", "1:2"], "write it like 1:3=1204.5"),
        (["photo", "x.jpg", "--out", "o", "--check", "1:2=0"], "more than nothing"),
        (["photo", "x.jpg", "--out", "o", "--use-check"], "with --check too"),
    ],
)
def test_wrong_options_are_explained(arguments, words):
    result = runner.invoke(app, arguments)
    assert result.exit_code == 2 and words in result.stderr


def test_a_bad_print_profile_is_explained(tmp_path):
    profile = tmp_path / "p.json"
    for text in ("[]", '{"measured_x": 150}', '{"measured_x": 15, "measured_y": 150}'):
        profile.write_text(text)
        result = runner.invoke(
            app, ["photo", str(SAMPLES / "easy.jpg"), "--out", "o", "--print-profile", str(profile)]
        )
        assert result.exit_code == 2 and "p.json" in result.stderr


@pytest.mark.slow
def test_a_camera_is_kept_and_read_again(tmp_path):
    floor = Floor(500)
    places = ((-250, 140, 5), (250, 150, 172), (-240, -170, 80), (260, -160, 95))
    for number, (x, y, turn) in enumerate(places, start=1):
        floor.lay_card(number, x, y, turn)
    eyes = ((60, -480, 780), (-480, 50, 760), (430, 260, 800), (10, 20, 950))
    shots = [
        saved(tmp_path / f"{n}.png", floor.photograph(Shot(eye=eye))) for n, eye in enumerate(eyes)
    ]
    out = tmp_path / "camera.json"
    result = runner.invoke(app, ["camera", *map(str, shots), "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert json.loads(out.read_text())["terms"][0] == pytest.approx(1500, abs=3)
    bare = Floor(500)
    bare.lay_card(1, 0, 0, 0)
    above = saved(tmp_path / "above.png", bare.photograph(Shot(eye=(0, 1, 1200)), noise=12.0))
    one = runner.invoke(app, ["camera", str(above), "--out", str(tmp_path / "one.json")])
    assert one.exit_code == 20 and "tilted" in one.stderr and not (tmp_path / "one.json").exists()
    easy = str(SAMPLES / "easy.jpg")
    for file, code, words in ((out, 20, "contradict"), (shots[0], 20, "not a camera file")):
        folder = str(tmp_path / "out")
        result = runner.invoke(app, ["photo", easy, "--out", folder, "--camera", str(file)])
        assert result.exit_code == code and words in result.stderr


@pytest.mark.slow
def test_a_check_on_a_card_that_is_not_there_is_explained(tmp_path):
    easy = str(SAMPLES / "easy.jpg")
    result = runner.invoke(app, ["photo", easy, "--out", str(tmp_path), "--check", "1:9=500"])
    assert result.exit_code == 21 and "card 9" in result.stderr


def test_the_list_of_commands_loads_none_of_them_and_says_what_each_does():
    script = (
        "import sys; from digitize.cli import app; "
        "app(['--help'], standalone_mode=False); "
        "heavy = {'numpy', 'pydantic', 'cv2', 'digitize.jobs'}; "
        "print('loaded:', *heavy & sys.modules.keys())"
    )
    found = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, check=True, text=True
    )
    assert found.stdout.endswith("\nloaded:\n")
    for name in COMMANDS:
        assert re.search(rf" {name} +[A-Z]", found.stdout), name


def test_a_commands_help_loads_nothing_of_what_it_does():
    script = (
        "import sys; from digitize.cli import app\n"
        f"for name in {COMMANDS}: app([name, '--help'], standalone_mode=False)\n"
        "heavy = {'numpy', 'pydantic', 'cv2', 'shapely', 'starlette', 'dateparser', 'filelock', "
        "'digitize.record', 'digitize.keep', 'digitize.jobs.disk'}; "
        "print('loaded:', *heavy & sys.modules.keys())"
    )
    found = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, check=True, text=True
    )
    assert found.stdout.endswith("\nloaded:\n")
    assert found.stdout.count("Usage: ") == len(COMMANDS)
    for role in get_args(Role):
        assert role in found.stdout


def test_roles_that_options_name_are_the_records():
    assert get_args(Role) == ROLES


def test_looking_into_the_drawer_loads_no_more_than_it_needs():
    script = (
        "import digitize.cli.find, digitize.cli.take, digitize.cli.check, sys; "
        "print(*(name in sys.modules for name in ('numpy', 'pydantic', 'cv2')))"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True)
    assert found.stdout.split() == [b"False"] * 3


def test_what_a_reading_writes_and_shows_loads_no_writer_of_other_files(corner, tmp_path):
    script = (
        "import sys; from pathlib import Path; import digitize.jobs.read; "
        "from digitize.cli.photo import show_written; from digitize.cli.screen import screen; "
        "from digitize.cli.tables import show_pattern; "
        "from digitize.jobs.folder import drawings_beside, load_pattern; "
        "folder = Path(sys.argv[1]); record = load_pattern(folder); "
        "files = drawings_beside(record, folder); show_pattern(screen, record); "
        "heavy = {'ezdxf', 'trimesh', 'networkx', 'svglib', 'lxml', 'digitize.form', "
        "'digitize.draw.job', 'digitize.draw.pdf'}; "
        "print('drawn:', *sorted(path.suffix for path in files)); "
        "print('loaded:', *heavy & sys.modules.keys())"
    )
    (tmp_path / "pattern.json").write_text(to_json(corner))
    Image.new("RGB", (1600, 1200)).save(tmp_path / "rectified.jpg")
    found = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)], capture_output=True, check=True, text=True
    )
    *_, drawn, loaded = found.stdout.splitlines()
    assert drawn == "drawn: .jpg .json .svg .svg .svg .svg"
    assert loaded == "loaded:"


def test_what_looks_at_photos_loads_nothing_that_prints():
    script = (
        "import sys, digitize.reading; "
        "print(*{'reportlab', 'svgwrite', 'ezdxf', 'digitize.draw'} & sys.modules.keys())"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True)
    assert found.stdout.split() == []


@pytest.mark.parametrize(("asked", "used"), [(None, "1"), ("2", "2")])
def test_a_command_has_solvers_keep_to_one_core_unless_the_user_gives_them_more(asked, used):
    script = (
        "import os, sys; from digitize.cli import main; sys.argv[1:] = ['--version']; "
        "print('numpy' in sys.modules)\n"
        "try: main()\n"
        "finally: print(os.environ['OPENBLAS_NUM_THREADS'])"
    )
    named = {key: value for key, value in os.environ.items() if key != "OPENBLAS_NUM_THREADS"}
    named |= {"OPENBLAS_NUM_THREADS": asked} if asked else {}
    found = subprocess.run(
        [sys.executable, "-c", script], env=named, capture_output=True, text=True
    )
    before, _, after = found.stdout.split("\n")[:3]
    assert (before, after) == ("False", used)


@pytest.mark.parametrize(
    ("words", "stations"),
    [
        ("6,5mm", ["6,5mm"]),
        ("3,25 in", ["3,25 in"]),
        ("2mm@40mm,6mm@90mm", ["2mm@40mm", "6mm@90mm"]),
        ("3in@0%, 3 1/4in@50%", ["3in@0%", "3 1/4in@50%"]),
        ("3,25in@50%,4in@100%", ["3,25in@50%", "4in@100%"]),
        ("6mm@40,5mm", ["6mm@40,5mm"]),
        ("100@640,5", ["100@640,5"]),
        ("3in@12,5%; 4in@50,5%", ["3in@12,5%", "4in@50,5%"]),
        ("3in@10%,4in@12,5%", ["3in@10%", "4in@12,5%"]),
        ("1/8in@60mm,1/4in", ["1/8in@60mm", "1/4in"]),
        ("2mm@40mm;6,5mm", ["2mm@40mm", "6,5mm"]),
    ],
)
def test_stations_are_read_whatever_the_comma_is(words, stations):
    assert stations_in(words) == stations


@pytest.mark.parametrize("words", ["6@40,3,5@60", "3in@", "1,2,3@4,5@6"])
def test_stations_that_can_be_read_either_way_are_refused(words):
    with pytest.raises(ValueError):
        stations_in(words)


def test_radii_along_a_line_need_a_place_each():
    with pytest.raises(ValueError):
        radii("3in@10%;4in")


def test_a_lines_first_point_may_have_a_unit():
    first, last = radii("3in@0mm,4in@100%")
    assert first == (0.0, False, pytest.approx(76.2), None) and last == (1.0, True, 101.6, None)


def test_places_along_a_line_may_count_from_a_named_end():
    assert radii("80@40mm from left, 90@10% from Top") == (
        (40.0, False, 80.0, "left"),
        (0.1, True, 90.0, "top"),
    )
    with pytest.raises(ValueError):
        radii("80@40mm from behind")


def test_a_radius_told_on_a_bends_end_is_said_to_stand_on_its_start(corner, tmp_path):
    path = tmp_path / "pattern.json"
    path.write_text(to_json(corner))
    end, start = corner.bands[0].ends[0], corner.bands[0].start
    result = runner.invoke(app, ["label", str(path), "--radius", f"{end.lower()}=3in"])
    assert result.exit_code == 0
    assert (
        f"{end.lower()} is a bend's end: its radius stands on its start, {start}" in result.stdout
    )
