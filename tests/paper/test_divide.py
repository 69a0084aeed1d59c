import cv2
import numpy as np
import pytest

from digitize.paper import divide
from digitize.paper.divide import divided
from digitize.paper.thresholds import DIVIDE_STEPS


@pytest.mark.parametrize(("likely", "kept"), [(2.5, False), (4.5, True)])
def test_a_lone_place_is_overruled_if_its_border_costs_more_than_it_says(likely, kept):
    """Worked by hand: one pixel's border is 2 + sqrt(2) = 3.41 long, as slopes are taken."""
    floor_like = np.full((21, 21), 5.0, np.float32)
    floor_like[10, 10] = -likely
    found = divided(floor_like, np.ones((21, 21), np.float32), np.zeros((21, 21), bool))
    assert found[10, 10] == kept
    assert found.sum() == kept


def test_a_border_runs_where_it_is_cheap():
    """Nothing is known of the middle; the border is cheap in column 12."""
    floor_like = np.zeros((20, 20), np.float32)
    floor_like[:, :4], floor_like[:, 16:] = -5, 5
    costs = np.ones((20, 20), np.float32)
    costs[:, 12] = 0.1
    found = divided(floor_like, costs, np.zeros((20, 20), bool))
    assert found[:, :13].all()
    assert not found[:, 13:].any()


def test_what_can_be_no_paper_is_none():
    never = np.zeros((20, 20), bool)
    never[5:9] = True
    found = divided(np.full((20, 20), -5, np.float32), np.ones((20, 20), np.float32), never)
    assert np.array_equal(found, ~never)


def test_places_left_alone_would_not_have_changed(monkeypatch):
    """In as many steps at once as there are, every place near a border is worked out each time."""
    rng = np.random.default_rng(1)
    floor_like = cv2.GaussianBlur(rng.normal(0, 3, (60, 50)).astype(np.float32), (0, 0), 2)
    costs = rng.uniform(0.05, 1.2, (60, 50)).astype(np.float32)
    never = rng.random((60, 50)) < 0.1
    found = []
    for steps in (1, 7, DIVIDE_STEPS):
        monkeypatch.setattr("digitize.paper.divide.STEPS_AT_ONCE", steps)
        found.append(divided(floor_like, costs, never))
    assert 0.1 < found[0].mean() < 0.9
    assert all(np.array_equal(each, found[-1]) for each in found)


def test_most_places_are_left_alone(monkeypatch):
    """Of a plain sheet on a plain floor only those by its border are worked out."""
    worked_out = []
    stepped = divide._stepped

    def counted(state, *others):
        worked_out.append(state.shape[1])
        return stepped(state, *others)

    monkeypatch.setattr(divide, "_stepped", counted)
    floor_like = np.full((300, 300), 5, np.float32)
    floor_like[100:200, 100:200] = -5
    divided(floor_like, np.ones((300, 300), np.float32), np.zeros((300, 300), bool))
    assert 0 < max(worked_out) < 0.07 * floor_like.size
