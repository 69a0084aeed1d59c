import numpy as np

from digitize.record import mirrored


def test_the_other_side_is_the_exact_reflection(corner):
    other = mirrored(corner)
    width = max(x for x, _ in corner.outline)
    assert (corner.side, other.side) == ("left", "right")
    for line, twin in zip(corner.lines, other.lines, strict=True):
        assert line.id == twin.id and line.role == twin.role
        assert np.allclose(np.array(line.points) * [-1, 1] + [width, 0], twin.points, atol=1e-5)
    assert [t.lap_at_trim for t in other.tucks] == [t.lap_at_trim for t in corner.tucks]


def test_mirrored_twice_is_the_same(corner):
    as_it_was = corner.model_copy(update={"rectified": None})
    assert mirrored(mirrored(corner)) == as_it_was
