"""What holds for every record."""

from hypothesis import HealthCheck, Phase, given, settings

from digitize import __version__
from digitize.record import Pattern, mirrored, to_json
from tests.record.any import any_pattern

FEW = settings(
    max_examples=12,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],  # such records are too large to be made smaller
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


@FEW
@given(any_pattern())
def test_the_file_gives_back_all_that_is_written(pattern):
    # Their parts do not hang together, which is asked of files alone.
    read = Pattern.model_validate_json(to_json(pattern))
    assert read == pattern.model_copy(update={"written_by": __version__})


@FEW
@given(any_pattern())
def test_mirrored_twice_is_nothing_but_for_what_is_this_sides_alone(pattern):
    own = {"given": None, "rectified": None, "told": ()}
    assert mirrored(mirrored(pattern)) == pattern.model_copy(update=own)
    other = mirrored(pattern)
    for line, twin in zip(pattern.lines, other.lines, strict=True):
        assert abs(line.length - twin.length) < 1e-4 and twin.model_extra == line.model_extra
