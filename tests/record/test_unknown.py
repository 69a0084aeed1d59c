"""Keys of a later version, kept when a part of the record is worked out anew."""

from digitize.record import (
    Band,
    BandStation,
    LapShape,
    Pattern,
    Tuck,
    Zone,
    with_unknown_keys,
)


def zone(identifier, tucks, **more):
    return Zone(
        id=identifier,
        kind="shrink",
        boundary=(),
        tucks=tucks,
        stations=(),
        peak_shrink=0.1,
        **more,
    )


def band(identifier, start, alongs=(), **more):
    stations = tuple(BandStation(along=along, width=9.0, **more) for along in alongs)
    return Band(id=identifier, start=start, ends=(), stations=stations, **more)


def pattern(**parts):
    return Pattern(name="p", outline=((0.0, 0.0),), **parts)


def later_of(parts):
    return [(part.model_extra or {}).get("later") for part in parts]


def test_a_zone_keeps_its_own_by_its_tucks_whatever_it_is_called_now():
    old = pattern(zones=(zone("Z1", ("T1", "T2"), later="a"), zone("Z2", ("T3",), later="b")))
    new = pattern(zones=(zone("Z1", ("T3",)), zone("Z2", ("T4",)), zone("Z3", ("T1", "T2"))))
    kept = with_unknown_keys(new, old)
    assert later_of(kept.zones) == ["b", None, "a"]
    assert [each.id for each in kept.zones] == ["Z1", "Z2", "Z3"]


def test_a_band_keeps_its_own_by_its_start_and_stations_by_their_place_among_as_many():
    old = pattern(bands=(band("B1", "L1", (10.0, 30.0), later="a"), band("B2", "L2", later="b")))
    new = pattern(bands=(band("B1", "L2"), band("B2", "L1", (12.0, 32.0))))
    kept = with_unknown_keys(new, old)
    assert later_of(kept.bands) == ["b", "a"]
    assert later_of(kept.bands[1].stations) == ["a", "a"]
    assert [station.along for station in kept.bands[1].stations] == [12.0, 32.0]
    fewer = pattern(bands=(band("B1", "L1", (12.0,)),))
    assert later_of(with_unknown_keys(fewer, old).bands[0].stations) == [None]


def test_a_part_of_a_part_keeps_its_own():
    def tuck(**more):
        return Tuck(
            id="T1",
            kind="slit",
            tip=(0.0, 0.0),
            slit="L1",
            lap_line=None,
            stations=(),
            shape=LapShape(tip="sharp", **more),
        )

    kept = with_unknown_keys(pattern(tucks=(tuck(),)), pattern(tucks=(tuck(later="a"),)))
    assert kept.tucks[0].shape.model_extra == {"later": "a"}


def test_what_is_worked_out_anew_goes_before_what_was():
    old, new = pattern(later="old", other=1), pattern(later="new")
    assert with_unknown_keys(new, old).model_extra == {"later": "new", "other": 1}
