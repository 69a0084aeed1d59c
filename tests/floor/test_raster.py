"""Photos put together: a drawn floor, seen by two cameras of different exposure."""

import cv2
import numpy as np
import pytest
from skimage.segmentation import watershed

from digitize import workers
from digitize.floor.camera import Camera, project_with_slopes
from digitize.floor.frame import Frame, Surface
from digitize.floor.raster import (
    LOG_LIGHT,
    Choice,
    Raster,
    choose_photos,
    lattice_of,
    pixel_size_mm,
    pixels_per_mm,
    put_together,
    rectify,
    rectify_chosen,
    resolution,
    shrunk,
    upright_frame,
    values_at,
    view_bounds,
)
from digitize.floor.solve import solve_floor
from tests.floor.by_hand import SIZE, camera_over
from tests.floor.test_solve import view
from tests.scene import Floor, Shot

SHOTS = [Shot(eye=(-260, -60, 700), aim=(-240, 0)), Shot(eye=(270, 40, 720), aim=(240, 0))]
BOUNDS = (-300.0, -180.0, 300.0, 180.0)


@pytest.fixture(scope="module")
def seen():
    """Two photos, their cameras, the frame, and which photo was chosen where."""
    floor = Floor(340)
    edge = np.array([[-320, -200], [320, -200], [320, 200], [-320, 200]], float)
    floor.lay_sheet(edge, (190, 160, 120))
    floor.draw(np.array([[-290, 0], [290, 0]], float), 2.0, (60, 60, 60))
    photos = [floor.photograph(shot, noise=1.0) for shot in SHOTS]
    photos[1] = np.clip(photos[1] * 0.8, 0, 255).astype(np.uint8)
    # The cards are not drawn: where they would be seen is known.
    solution = solve_floor([view(shot, [1, 2, 3, 4], 1500.0) for shot in SHOTS])
    x, y, turn = -350.0, 60.0, np.radians(10.0)
    cos, sin = np.cos(turn), np.sin(turn)
    origin = -np.array([x, y]) @ np.array([[cos, -sin], [sin, cos]])
    assert solution.cards[0].number == 1
    frame = Frame(*origin.tolist(), -turn)
    choice, _ = choose_photos(photos, solution.cameras, frame, BOUNDS)
    return photos, solution.cameras, frame, choice


@pytest.fixture(scope="module")
def together(seen):
    photos, cameras, frame, choice = seen
    return choice, rectify_chosen(photos, cameras, frame, BOUNDS, 0.4, choice)


def test_borders_are_sought_only_where_they_may_lie_and_lie_where_they_would(seen, monkeypatch):
    shares = []

    def compared(image, markers, mask):
        found, whole = (
            watershed(image, markers, mask=some) for some in (mask, mask | (markers > 0))
        )
        assert np.array_equal(np.where(mask, found, markers), whole)
        shares.append(mask.mean())
        return found

    monkeypatch.setattr("digitize.floor.raster.watershed", compared)
    photos, cameras, frame, choice = seen
    again, _ = choose_photos(photos, cameras, frame, BOUNDS)
    assert np.array_equal(again.seen_by, choice.seen_by)
    assert 0.0 < shares[0] < 0.9


def test_places_are_the_same_however_many_are_had_at_once(seen, monkeypatch):
    photos, cameras, frame, _ = seen
    found = []
    for nodes in (1, 7, 1000):
        monkeypatch.setattr("digitize.floor.raster.BAND_NODES", nodes)
        found.append(rectify(photos[0], cameras[0], frame, BOUNDS, 0.4).pixels)
    assert found[0].max() > 100
    assert np.array_equal(found[0], found[1]) and np.array_equal(found[0], found[2])


@pytest.mark.parametrize("count", [1, 2, 5])
def test_however_many_work_each_place_is_as_its_photo_shows_it(seen, together, count, monkeypatch):
    photos, cameras, frame, choice = seen
    workers._pool.cache_clear()
    monkeypatch.setattr(workers, "worker_count", lambda: count)
    monkeypatch.setattr("digitize.floor.raster.STRIP_ROWS", 128)
    found = rectify_chosen(photos, cameras, frame, BOUNDS, 0.4, choice)
    rasters = [
        rectify(photo, camera, frame, BOUNDS, 0.4)
        for photo, camera in zip(photos, cameras, strict=True)
    ]
    workers._pool.cache_clear()
    assert np.array_equal(found.pixels, put_together(rasters, choice).pixels)
    # Rows of another strip are placed between other nodes of the lattice, to 0.01 px.
    assert np.abs(found.pixels.astype(int) - together[1].pixels).max() <= 3


def test_a_raster_is_lifted_as_its_surface_is():
    """A sheet 40 mm up, seen as if it stood 60 mm up, is as one that does."""
    camera = camera_over((20.0, -10.0, 1000.0), 1000.0, (241, 201))
    low, high = (
        Surface(np.full((12, 14), h), np.zeros((12, 14, 2)), np.zeros((12, 14)), -90.0, 90.0, 20.0)
        for h in (40.0, 60.0)
    )
    frame, bounds = Frame(0.0, 0.0, 0.0), (-60.0, -60.0, 100.0, 50.0)
    view = shrunk(numbered(241, 201), camera, frame, bounds, 1.0)
    lifted = lattice_of(frame, bounds, 1.0, low).raster_of(view, 20.0)
    assert np.array_equal(
        lifted.pixels, rectify(view.pixels, camera, frame, bounds, 1.0, high).pixels
    )


@pytest.mark.slow
def test_each_place_is_taken_from_the_photo_that_sees_it_best(together):
    choice, _ = together
    ends = choice.at(np.array([[-250.0, 100.0], [250.0, 100.0]]))
    assert ends.tolist() == [0, 1]


def test_a_line_goes_straight_on_over_the_seam(together):
    _, raster = together
    grey = cv2.cvtColor(raster.pixels, cv2.COLOR_RGB2GRAY).astype(float)
    x = np.arange(-280, 280, 4.0)
    at = raster.to_px(np.stack([x, np.zeros_like(x)], axis=1)).round().astype(int)
    middles = []
    for column, row in at:
        dark = 160 - grey[row - 8 : row + 9, column].clip(0, 150)
        dark -= dark.min()
        middles.append(float((dark * np.arange(-8, 9)).sum() / dark.sum() * raster.mm_per_px))
    assert np.abs(middles - np.median(middles)).max() < 0.25


def test_brightness_is_matched(together):
    _, raster = together
    rows = raster.to_px(np.array([[-200.0, 90.0], [200.0, 90.0]])).round().astype(int)
    tones = [raster.pixels[y - 20 : y + 20, x - 20 : x + 20].mean() for x, y in rows]
    assert tones[0] / tones[1] == pytest.approx(1.0, abs=0.05)


def test_a_frame_runs_along_the_photos_rows():
    camera = camera_over((300.0, -200.0, 1000.0), turn_deg=30.0)
    assert np.degrees(upright_frame(camera).turn) == pytest.approx(30.0)


def test_the_floor_in_view_lies_round_the_cameras_foot():
    # 1008 and 756 pixels to either side at 1.5 px to a mm.
    (camera,) = [camera_over((5000.0, -300.0, 1000.0))]
    bounds = view_bounds([camera], Frame(0.0, 0.0, 0.0))
    assert bounds == pytest.approx((5000 - 672, -300 - 504, 5000 + 672, -300 + 504))


def test_what_lies_too_far_off_to_be_seen_well_is_left_out():
    # A camera 1000 high that looks along the floor's y at 45 degrees, over a wide picture.
    ahead = np.array([0.0, 1.0, -1.0]) / np.sqrt(2)
    matrix = np.stack([[1.0, 0, 0], np.cross(ahead, [1.0, 0, 0]), ahead])
    pose = np.concatenate([cv2.Rodrigues(matrix)[0].ravel(), -matrix @ [0, 4000.0, 1000]])
    camera = Camera(np.array([800.0, *[0] * 7]), pose, SIZE)
    _, low, _, high = view_bounds([camera], Frame(0.0, 0.0, 0.0))
    # The lowest row looks down at 45 + atan(756 / 800) degrees; 2.5 heights are the limit, and the
    # first of 45 rows that is looked at beyond it is left out.
    assert low == pytest.approx(4000 + 1000 / np.tan(np.pi / 4 + np.arctan(756 / 800)), abs=1)
    assert 4000 + 2000 < high < 4000 + 2500


def test_a_slanting_view_has_fewest_pixels_along_its_slant():
    # 600 beside and 800 above the place: 1000 away, and foreshortened by 0.8 along the slant.
    shot = Shot(eye=(0.0, -600.0, 800.0), focal_px=1500, radial=(0, 0), offset=(0, 0))
    pose = np.concatenate([cv2.Rodrigues(shot.rotation)[0][:, 0], -shot.rotation @ shot.eye])
    camera = Camera(np.array([1500.0, *[0] * 7]), pose, shot.size)
    assert resolution(camera, np.zeros((1, 2))) == pytest.approx([1.2])
    # 1.5 px across the slant and 1.2 along it: 1.8 px to the mm squared, whose root is 1.3416.
    here = (-1e-3, -1e-3, 1e-3, 1e-3)
    assert pixels_per_mm([camera], Frame(0.0, 0.0, 0.0), here) == pytest.approx(1.34164, abs=1e-4)
    points = np.array([[-250.0, 180.0], [300.0, -150.0]])
    slopes = project_with_slopes(camera, np.pad(points, ((0, 0), (0, 1))))[3][:, :, :2]
    smaller = np.linalg.svd(slopes, compute_uv=False)[:, 1]
    assert resolution(camera, points) == pytest.approx(smaller)


def test_a_pixel_covers_the_more_floor_the_higher_the_camera():
    camera = camera_over((0.0, 0.0, 1200.0))
    bounds = (-300.0, -200.0, 300.0, 200.0)
    assert pixel_size_mm([camera], Frame(0.0, 0.0, 0.0), bounds) == pytest.approx(0.8)


def numbered(width, height):
    """A picture whose pixels say where they are: column, row and nothing."""
    columns, rows = np.meshgrid(np.arange(width), np.arange(height))
    return np.stack([columns, rows, 1 + 0 * rows], axis=-1).astype(np.uint8)


@pytest.mark.parametrize("mm_per_px", [1.0, 2.5, 6.5])
def test_a_raster_shows_each_place_where_the_photo_has_it(mm_per_px):
    # One pixel to a mm. The picture's sides are no multiples of two or six pixels, which are
    # averaged for the coarser rasters.
    width, height = 241, 201
    camera = camera_over((20.0, -10.0, 1000.0), 1000.0, (width, height))
    bounds = (-80.0, -90.0, 120.0, 70.0)
    raster = rectify(numbered(width, height), camera, Frame(0.0, 0.0, 0.0), bounds, mm_per_px)
    rows, columns = np.indices(raster.pixels.shape[:2])
    place = raster.to_mm(np.stack([columns.ravel(), rows.ravel()], axis=1))
    expected = camera.to_pixels(place)
    away = raster.pixels.reshape(-1, 3)[:, :2] - expected
    assert np.abs(away.mean(axis=0)).max() < 0.1
    assert np.abs(away).max() < 0.6


@pytest.mark.parametrize("mm_per_px", [0.5, 1.0, 2.5])
def test_a_raster_is_black_only_where_the_photo_shows_nothing(mm_per_px):
    # White paper on a black floor: where pixels are taken between those of the photo, the floor
    # would come out blacker than black along the edge.
    width, height = 240, 200
    photo = np.zeros((height, width, 3), np.uint8)
    photo[60:140, 60:160] = 255
    camera = camera_over((0.0, 0.0, 1000.0), 1000.0, (width, height))
    bounds = (-150.0, -130.0, 150.0, 130.0)
    raster = rectify(photo, camera, Frame(0.0, 0.0, 0.0), bounds, mm_per_px)
    rows, columns = np.indices(raster.pixels.shape[:2])
    at = camera.to_pixels(raster.to_mm(np.stack([columns.ravel(), rows.ravel()], axis=1)))
    within = ((at > mm_per_px) & (at < [width - 1 - mm_per_px, height - 1 - mm_per_px])).all(axis=1)
    beyond = ((at < -1 - mm_per_px) | (at > [width + mm_per_px, height + mm_per_px])).any(axis=1)
    pixels = raster.pixels.reshape(-1, 3)
    assert within.sum() > 5000 and beyond.sum() > 2000
    assert pixels[within].min() == 1
    assert not pixels[beyond].any()
    whole_within = rectify(
        photo, camera, Frame(0.0, 0.0, 0.0), (-90.0, -70.0, 90.0, 70.0), mm_per_px
    )
    assert (whole_within.pixels.min(), whole_within.pixels.max()) == (1, 255)


def test_photos_made_darker_to_match_leave_no_black(seen):
    photos, cameras, frame, choice = seen
    black = [np.ones_like(photo) for photo in photos]
    darker = Choice(choice.seen_by, choice.gains - 1.0, choice.left, choice.top, choice.mm_per_px)
    raster = rectify_chosen(black, cameras, frame, BOUNDS, 2.0, darker)
    assert (raster.pixels[20:-20, 20:-20] == 1).all()


def test_paper_that_stands_up_is_looked_for_where_it_is_seen():
    width, height = 241, 201
    camera = camera_over((20.0, -10.0, 1000.0), 1000.0, (width, height))
    high = np.full((12, 14), 100.0)
    aside = np.tile([3.0, -5.0], (12, 14, 1))
    surface = Surface(high, aside, np.zeros((12, 14)), -90.0, 90.0, 20.0)
    bounds = (-60.0, -60.0, 100.0, 50.0)
    frame = Frame(0.0, 0.0, 0.0)
    raster = rectify(numbered(width, height), camera, frame, bounds, 1.0, surface)
    # (70, 30) lies over (73, 25): 53 and 35 from the foot, seen 10 / 9 as far from the middle.
    place = np.array([[70.0, 30.0]])
    assert raster.colours_at(place)[0, :2] == pytest.approx([120 + 58.9, 100 - 38.9], abs=0.6)


def test_a_choice_of_photos_stays_where_it_is_when_the_frame_shifts():
    seen_by = np.zeros((60, 80), int)
    seen_by[:20, 50:] = 1
    gains = np.array([[[0.1], [0.2], [-0.3], [0.4], [0.5], [-0.6]], [[0.0]] * 6]) * [1.0, 0.5, 2.0]
    choice = Choice(seen_by, gains, left=-100.0, top=80.0, mm_per_px=2.0)
    origin = np.array([30.0, -20.0])
    shifted = choice.shifted(origin)
    points = np.array([[10.0, 60.0], [40.0, 60.0], [40.0, 30.0], [-60.0, -30.0]])
    assert choice.at(points).tolist() == [1, 1, 0, 0]
    assert shifted.at(points - origin).tolist() == choice.at(points).tolist()
    # The first photo is brightened by exp of a quadratic in metres.
    grey = np.full((60, 80, 3), 100, np.uint8)
    pictures = [
        [Raster(left, top, 2.0, grey)] * 2 for left, top in ((-100.0, 80.0), (-130.0, 100.0))
    ]
    before = put_together(pictures[0], choice).pixels
    after = put_together(pictures[1], shifted).pixels
    assert np.abs(before.astype(int) - after).max() <= 1
    # At (40, -20): 0.1 + 0.2 x - 0.3 y + 0.4 xx + 0.5 xy - 0.6 yy for red.
    terms = 0.1 + 0.2 * 0.04 + 0.3 * 0.02 + 0.4 * 0.04**2 - 0.5 * 0.04 * 0.02 - 0.6 * 0.02**2
    assert before[50, 70, 0] == pytest.approx(100 * np.exp(terms), abs=1)


def test_light_goes_with_the_level_to_the_power_of_the_gamma():
    # (128 / 255) ** 2.2 is 0.2195, and the log of 0.2235 is -1.498.
    assert LOG_LIGHT[[0, 128, 255]] == pytest.approx((np.log(0.004), -1.498, 0.004), abs=1e-3)


def test_values_are_taken_between_pixels_at_as_many_places_as_there_are():
    # More than OpenCV takes in a row, or below each other.
    count = 40_000
    picture = np.array([[0.0, 1.0], [4.0, 9.0]], np.float32)
    half, low = np.full(count, 0.5, np.float32), np.full((1, count), 7.0, np.float32)
    low[0, 1] = 0.0
    assert (values_at(picture, half, half) == 3.5).all()
    # In the lower left corner 4, in the upper left one 0, beyond the lower edge its own.
    found = values_at(picture, np.zeros((1, count), np.float32), low)
    assert found.shape == (1, count) and found[0, :3].tolist() == [4.0, 0.0, 4.0]
    assert values_at(picture, half[:0], half[:0]).shape == (0,)
