"""What is said of a record: of what, where, with which figures, and once."""

import pytest

from digitize.record import Area, Band, BandStation, Curvature, Pattern, Remark, Station, Tuck, Zone
from digitize.remarks import with_remarks
from tests.mend.test_carry import line

OUTLINE = ((0, 0), (400, 0), (400, 200), (0, 300))
TRIM = line("L1", [(10, 10), (390, 20)], "trim-edge")
# Bent at (50, 80), so that 90 mm along it are (90, 80): 50 up, then 40 to the right.
BENT = line("L2", [(50, 30), (350, 80)], "radius-start", [(50, 30), (50, 80), (350, 80)])


def said_of(kind, **parts):
    """The remarks of a kind about a record of some parts."""
    record = Pattern(name="p", outline=OUTLINE, **{"lines": (TRIM, BENT), **parts})
    return [each for each in with_remarks(record).remarks if each.kind == kind]


def tuck(identifier, tip, stations=(), kind="slit"):
    return Tuck(id=identifier, kind=kind, tip=tip, slit="L3", lap_line=None, stations=stations)


def test_a_missing_trim_edge_stops_the_job():
    assert not said_of("trim-edge-missing")
    (remark,) = said_of("trim-edge-missing", lines=(BENT,))
    assert remark.severity == "stop"


def test_lines_struck_out_and_hatched_areas_are_named_with_their_place():
    struck = BENT.model_copy(update={"withdrawn": True, "role": "unknown"})
    (remark,) = said_of("line-struck-out", lines=(TRIM, struck))
    assert (remark.about, remark.at, remark.severity) == (("L2",), (50, 80), "warning")
    assert "left out of all that is measured" in remark.words
    assert not said_of("line-struck-out")
    ring = ((5, 6), (50, 6), (50, 60))
    hatched = Area(id="A-1", use="hatched", boundary=ring)
    told = Area(id="A3", use="stretch", boundary=ring)
    (note,) = said_of("area-hatched", areas=(told, hatched))
    assert (note.about, note.at, note.severity) == (("A-1",), (5, 6), "note")
    assert not said_of("area-hatched", areas=(told,))


def test_an_area_free_of_shrinking_that_a_lap_lies_in_is_named():
    slit = line("L3", [(200, 250), (200, 50)], "slit", [(200, 250), (200, 50)])
    stations = tuple(
        Station(depth=depth, lap=lap, sigma=0.2, evidence="lap-line")
        for depth, lap in ((10, 0.5), (60, 3.0), (100, 5.0), (180, 9.0))
    )
    parts = {"lines": (TRIM, slit), "tucks": (tuck("T1", (200, 250), stations),)}
    # Depths of 40 to 110 mm are at y 210 to 140.
    area = Area(id="A3", use="no-shrink", boundary=((150, 140), (250, 140), (250, 210), (150, 210)))
    (remark,) = said_of("area-spared", areas=(area,), **parts)
    assert remark.about == ("A3", "T1") and remark.at == (200, 150)
    assert "T1 laps by 5.0 mm in it" in remark.words
    # Where the lap may be none, and where the area is for another use, there is nothing to say.
    near = area.model_copy(update={"boundary": ((150, 230), (250, 230), (250, 245), (150, 245))})
    assert not said_of("area-spared", areas=(near,), **parts)
    stretched = area.model_copy(update={"use": "stretch"})
    assert not said_of("area-spared", areas=(stretched,), **parts)


def test_tucks_without_a_lap_are_named_with_the_first_ones_tip():
    read = Station(depth=30, lap=2, sigma=0.2, evidence="line-break")
    tucks = (
        tuck("T1", (20, 30), (read,)),
        tuck("T2", (120, 35)),
        tuck("T3", (220, 38), (read,)),
        tuck("T4", (320, 41)),
    )
    (remark,) = said_of("lap-unread", tucks=tucks)
    assert remark.about == ("T2", "T4") and remark.at == (120, 35)
    assert "at T2, T4: " in remark.words
    assert not said_of("lap-unread", tucks=tucks[::2])


def test_tucks_that_are_unsure_are_named_with_the_first_ones_tip():
    sure, unsure = tuck("T1", (20, 30)), tuck("T2", (120, 35)).model_copy(update={"unsure": True})
    (remark,) = said_of("tuck-unsure", tucks=(sure, unsure))
    assert remark.about == ("T2",) and remark.at == (120, 35)
    assert "at T2: no zone counts its lap; " in remark.words
    assert not said_of("tuck-unsure", tucks=(sure,))
    fold = unsure.model_copy(update={"kind": "fold"})
    (remark,) = said_of("tuck-unsure", tucks=(sure, fold))
    assert remark.words.startswith("on which side of the bare paper the crease lies cannot be told")
    assert "go over the crease in a colour" in remark.words


def test_a_jump_of_a_band_is_told_where_it_is():
    # Even but for one step, of 90 mm along the start line to 110: 40 to 57 degrees.
    turned = [38, 38, 39, 40, 40, 57, 57, 58, 58]
    stations = tuple(
        BandStation(along=20 * index - 10, width=30, radius=40, turned_deg=each)
        for index, each in enumerate(turned, start=1)
    )
    band = Band(id="B3", start="L2", ends=("L1",), stations=stations)
    (remark,) = said_of("band-jump", bands=(band,))
    assert remark.about == ("B3", "L2")
    assert remark.at == (90, 80)
    assert "band B3: its turned angle jumps from 40 to 57 degrees about 90 mm along L2" in (
        remark.words
    )


@pytest.mark.parametrize(
    ("kind", "evidence", "marks"),
    [("slit", "lap-line", "lap line says"), ("fold", "crease", "creases say")],
)
def test_witnesses_that_disagree_are_told_with_both_figures(kind, evidence, marks):
    # Half way between the marks' laps of 2 and 6 mm is 4; the broken line says 7.
    stations = (
        Station(depth=40, lap=2, sigma=0.2, evidence=evidence),
        Station(depth=60, lap=7, sigma=0.3, evidence="line-break"),
        Station(depth=80, lap=6, sigma=0.2, evidence=evidence),
    )
    cut = line("L3", [(200, 100), (200, 250)], "slit")
    (remark,) = said_of(
        "laps-disagree",
        lines=(TRIM, cut),
        tucks=(tuck("T2", (200, 100), stations, kind),),
    )
    assert remark.about == ("T2", "L3")
    assert remark.at == (200, 160)
    assert "60 mm from its tip a line breaks by 7.0 mm" in remark.words
    assert f"but its {marks} 4.0 mm" in remark.words


@pytest.mark.parametrize(("rms", "count"), [(None, 0), (0.3, 0), (1.4, 0), (1.7, 1)])
def test_lines_that_stay_more_than_a_mm_and_a_half_apart_are_told(rms, count):
    found = said_of("closure", closure_rms=rms)
    assert len(found) == count
    assert all("1.7 mm" in each.words for each in found)


def zones(radii_deg):
    # Both sigmas together are 5 degrees, so they should agree to 1.96 * 5 = 9.8.
    curvature = Curvature(laps_deg=42, laps_sigma_deg=3, radii_deg=radii_deg, radii_sigma_deg=4)
    boundary = ((10, 20), (120, 20), (130, 90), (15, 80))
    stations = {"stations": (), "peak_shrink": 0.05}
    return (
        Zone(id="Z1", kind="shrink", boundary=boundary, tucks=("T9",), **stations),
        Zone(
            id="Z2",
            kind="shrink",
            boundary=boundary,
            tucks=("T1", "T2"),
            curvature=curvature,
            **stations,
        ),
    )


def test_laps_and_radii_that_contradict_each_other_are_told_of_their_zone():
    (remark,) = said_of("curvature", zones=zones(57))
    assert remark.about == ("Z2", "T1", "T2")
    assert remark.at == (130, 90)
    assert "zone Z2" in remark.words
    assert "of 42 degrees" in remark.words and "beside it to 57;" in remark.words
    assert "should agree to 10:" in remark.words
    assert not said_of("curvature", zones=zones(51))


def test_a_bend_that_asks_for_a_tuck_where_none_was_read_is_named_with_its_place():
    stations = tuple(BandStation(along=a, width=40, turned_deg=60) for a in (0, 350))
    # Turning right by about 80 degrees in the open, bent to the left, out of the turn.
    end = line("L4", [(10, 30), (350, 120)], "radius-end", [(10, 30), (10, 120), (350, 120)])
    band = Band(id="B1", start="L2", ends=("L4",), stations=stations)
    (remark,) = said_of("bend-untucked", lines=(TRIM, BENT, end), bands=(band,))
    assert remark.about == ("B1", "L2") and remark.severity == "warning"
    # 90 * (1 - cos 60) = 45.
    assert "ask for a tuck of 45 degrees" in remark.words
    assert not said_of("bend-untucked", lines=(TRIM, BENT, end))


def test_what_follows_from_a_record_is_said_anew_and_once():
    photo = Remark(kind="card-fault", words="card 2 is not flat")
    record = Pattern(
        name="p",
        outline=OUTLINE,
        lines=(TRIM,),
        closure_rms=1.7,
        remarks=(
            photo,
            # Said when the tucks closed worse, and of laps that have been told since.
            Remark(kind="closure", words="closing the tucks leaves the broken lines 9.9 mm apart"),
            Remark(kind="lap-unread", words="no lap could be read at T1"),
        ),
    )
    once = with_remarks(record)
    assert once.remarks[0] == photo
    assert [each.kind for each in once.remarks] == ["card-fault", "closure"]
    assert "1.7 mm apart" in once.remarks[1].words
    assert with_remarks(once) == once


def test_words_of_an_earlier_version_that_are_said_anew_are_not_said_twice():
    words = "no line could be told for the trim edge"
    earlier = (
        Remark(kind="earlier", words=words),
        Remark(kind="earlier", words="card 2 is not flat"),
    )
    record = with_remarks(Pattern(name="p", outline=OUTLINE, remarks=earlier))
    assert record.warnings == ("card 2 is not flat", words)
    assert record.remarks[1].kind == "trim-edge-missing"
