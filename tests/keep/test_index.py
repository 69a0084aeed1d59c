import os
import shutil

import pytest

from digitize.keep.drawer import put
from digitize.keep.index import INDEX, Wanted, find
from digitize.keep.slip import SLIP, Slip, slip_in, slip_text

LONG_AGO_S = 1_700_000_000


def keep(drawer, name, after=0, **said):
    values = {"side": "left", "kept": "2026-11-25T09:00:00+00:00", "width_mm": 900.0}
    slip = Slip(name=name, **{**values, "height_mm": 600.0, **said})
    return put(drawer, name, after, {SLIP: slip_text(slip).encode()})


def settle(drawer):
    """Make the folders old enough for the index to go by their times."""
    for folder in drawer.iterdir():
        if folder.is_dir():
            os.utime(folder, (LONG_AGO_S, LONG_AGO_S))


@pytest.fixture
def drawer(tmp_path):
    keep(tmp_path, "roof-corner", reference="K-12", part="Caravan, rear")
    keep(tmp_path, "wing", side="right", kept="2025-03-01T08:00:00+00:00", notes=("crown proud",))
    keep(tmp_path, "sill", width_mm=300.0, height_mm=1500.0)
    return tmp_path


def names(drawer, **wanted):
    return [each.pattern for each in find(drawer, Wanted(**wanted)).kept]


@pytest.mark.parametrize(
    ("wanted", "fits"),
    [
        ({}, ["roof-corner", "sill", "wing"]),
        ({"words": ("CARAVAN", "k-12")}, ["roof-corner"]),
        ({"words": ("proud",)}, ["wing"]),
        ({"words": ("proud", "corner")}, []),
        ({"side": "right"}, ["wing"]),
        ({"since": "2026"}, ["roof-corner", "sill"]),
        ({"until": "2025"}, ["wing"]),
        ({"until": "2026-11-25"}, ["roof-corner", "sill", "wing"]),
        ({"size_mm": (1460.0, 310.0)}, ["sill"]),
        ({"size_mm": (1400.0, 300.0)}, []),
    ],
)
def test_finding(drawer, wanted, fits):
    assert names(drawer, **wanted) == fits
    settle(drawer)
    assert names(drawer, **wanted) == fits
    assert names(drawer, **wanted) == fits  # from the index


def test_the_index_follows_what_others_keep_copy_and_remove(drawer):
    settle(drawer)
    assert len(names(drawer)) == 3
    keep(drawer, "roof-corner", after=1, reference="K-99")
    shutil.rmtree(drawer / "sill")
    shutil.copytree(drawer / "wing", drawer / "door")
    assert names(drawer, words=("k-99",)) == ["roof-corner"]
    assert names(drawer) == ["door", "roof-corner", "wing"]


@pytest.mark.parametrize(
    "harm",
    [
        lambda path: path.unlink(),
        lambda path: path.write_bytes(path.read_bytes()[:300]),
        lambda path: path.write_bytes(path.read_bytes().replace(b"K-12", b"K-13")),
    ],
)
def test_an_index_that_is_gone_or_harmed_is_made_again(drawer, harm):
    settle(drawer)
    names(drawer)
    harm(drawer / INDEX)
    assert names(drawer, words=("k-12",)) == ["roof-corner"]


def test_damage_is_named_and_an_earlier_revision_found_instead(drawer):
    later = keep(drawer, "wing", after=1, reference="later")
    (later.folder / SLIP).write_text("{}")
    (drawer / "empty").mkdir()
    found = find(drawer, Wanted(words=("wing",)))
    assert [(each.pattern, each.revision) for each in found.kept] == [("wing", 1)]
    assert found.damages == ("wing, revision 2: slip.json has changed since it was kept",)


def test_a_pattern_with_no_sound_slip_is_named(drawer):
    (drawer / "sill" / "revision-1" / SLIP).unlink()
    found = find(drawer, Wanted())
    assert "sill" not in [each.pattern for each in found.kept]
    assert len(found.damages) == 1 and "sill, revision 1" in found.damages[0]


def test_there_is_nothing_in_a_drawer_that_is_not_there(tmp_path):
    assert find(tmp_path / "none", Wanted()).kept == ()


def test_a_later_version_s_slip_can_be_read():
    text = slip_text(Slip("a", "left", "2026", 1.0, 2.0)).replace("{", '{"colour": "blue",', 1)
    assert slip_in(text) == Slip("a", "left", "2026", 1.0, 2.0, more={"colour": "blue"})


def test_a_folder_that_is_no_drawer_is_left_as_it_is(tmp_path):
    (tmp_path / "mine").mkdir()
    find(tmp_path, Wanted())
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]
