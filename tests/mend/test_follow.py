"""The pencil followed again: on drawn paper, and on the easy rendered photo."""

import numpy as np
import pytest
from shapely import LineString, Point

from digitize.errors import ToldError
from digitize.jobs.folder import as_kept
from digitize.mend import picture_of
from digitize.mend.follow import follow_pencil
from digitize.mend.picture import Picture
from digitize.record import FollowPencil
from tests.pencil.test_pencil import arc, paper_with
from tests.told import with_facts

POINTED_MM = 3.0


@pytest.fixture(scope="module")
def paper():
    """An arc of 80 mm radius, and a straight line that crosses it."""
    raster, outline = paper_with([arc(80, 20, 100, (60, 20)), [[20, 30], [140, 90]]])
    return Picture(raster, outline)


def beside(points, seed=0):
    """Places up to 3 mm off points, as a finger points."""
    rng = np.random.default_rng(seed)
    way = rng.uniform(0, 2 * np.pi, len(points))
    off = POINTED_MM * np.sqrt(rng.uniform(size=len(points)))
    return np.asarray(points) + off[:, None] * np.stack([np.cos(way), np.sin(way)], axis=1)


@pytest.mark.parametrize("seed", range(4))
def test_the_line_pointed_at_is_followed_past_one_that_crosses_it(paper, seed):
    true = arc(80, 20, 100, (60, 20))
    line = follow_pencil(beside(true[[0, 150, -1]], seed), paper, "M1", "form")
    assert (line.id, line.role, line.role_by) == ("M1", "form", "told")
    path = LineString(true)
    assert max(path.distance(Point(p)) for p in line.points[2:-2]) < 0.3
    assert line.length == pytest.approx(path.length, abs=1.5)
    assert Point(line.points[0]).distance(Point(true[0])) < 1.0  # it runs as it was pointed at


def test_bare_paper_has_nothing_to_follow(paper):
    with pytest.raises(ToldError, match="no pencil shows within 4 mm of 120, 20"):
        follow_pencil(np.array([[120.0, 20.0], [140.0, 20.0]]), paper, "M1", "form")


def test_a_place_off_the_picture_is_said_to_be(paper):
    with pytest.raises(ToldError, match="off the picture"):
        follow_pencil(np.array([[900.0, 20.0], [140.0, 20.0]]), paper, "M1", "form")


@pytest.mark.parametrize("name", ["L4", "L8", "L12", "L17", "L18"])
def test_what_was_read_in_a_photo_is_followed_again(easy, name):
    picture = picture_of(easy.pattern, as_kept(easy.raster))
    read = LineString(easy.pattern.line(name).path)
    count = int(read.length / 150) + 2
    places = [read.interpolate(at).coords[0] for at in np.linspace(0, read.length, count)]
    fact = FollowPencil(points=tuple(map(tuple, beside(places).tolist())), role="form")
    record = easy.pattern.model_copy(
        update={"lines": tuple(each for each in easy.pattern.lines if each.id != name)}
    )
    told = with_facts(record, fact, picture=lambda: picture).line("M1")
    inner = told.points[4:-4]
    assert max(read.distance(Point(p)) for p in inner) < 0.3
    assert told.length == pytest.approx(read.length, abs=4)


def test_ridges_of_the_whole_paper_are_found_once_and_give_the_same_line(paper):
    alone = Picture(paper.raster, paper.outline)
    true = arc(80, 20, 100, (60, 20))
    ends = beside(true[[0, 150, -1]])
    near = LineString(follow_pencil(ends, paper, "M1", "form").points)
    line = follow_pencil(ends, alone, "M1", "form", whole=True)
    assert near.hausdorff_distance(LineString(line.points)) < 0.1
    assert len(alone.seen) == 1
    follow_pencil(beside([[20, 30], [140, 90]]), alone, "M2", "form", whole=True)
    assert len(alone.seen) == 1
