"""One declaration gives the check, the conversion and the words."""

import dataclasses
import math
from dataclasses import dataclass

import pytest

from welkinwell.declare import (
    build,
    check,
    choice,
    count,
    declared_fields,
    flag,
    quantity,
    read_fields,
    words,
)
from welkinwell.errors import InputError, Problem


@dataclass(frozen=True)
class Bucket:
    area: float = quantity("m2", "Open area", low=0.01, high=100.0)
    wall: float = quantity("mm", "Wall thickness", default=3.2, low=0.0, low_open=True, high=50.0)
    tilt: float = quantity("deg", "Slope", default=30.0, low=0.0, high=90.0)
    warmth: float = quantity("degC", "Temperature", default=20.0, low=-40.0, high=90.0)
    share: float = quantity("1", "Share", default=0.5, low=0.0, high=1.0)
    spare: float | None = quantity("m", "Spare length", default=None, low=0.0)
    side: str = choice(("front", "rear"), "Side", default="rear")
    holes: int = count("Holes", default=2, low=0, high=9)
    lid: bool = flag("Whether it has a lid", default=True)
    label: str = words("Label", default="bucket")

    def cross_checks(self):
        if 2.0 * self.wall < self.area**0.5:
            return []
        return [Problem("wall", f"{self.wall:.3g} m", "walls that leave room between them")]


def test_defaults_are_in_si():
    bucket = Bucket(area=1.0)
    assert bucket.wall == 3.2e-3
    assert bucket.tilt == pytest.approx(math.pi / 6, rel=1e-15)
    assert bucket.warmth == pytest.approx(293.15, rel=1e-15)
    assert bucket.spare is None


def test_build_reads_units():
    bucket = build(
        Bucket, {"area": "2500 cm2", "wall": "0.5 cm", "share": "20 %", "holes": 3, "lid": False}, "x"
    )
    assert (bucket.area, bucket.wall, bucket.share) == pytest.approx((0.25, 0.005, 0.2), rel=1e-14)
    assert (bucket.holes, bucket.lid) == (3, False)


def test_the_ends_of_a_range_belong_to_it_in_any_unit():
    assert build(Bucket, {"area": "100 cm2", "tilt": "90 deg"}, "x").area == pytest.approx(0.01)
    assert build(Bucket, {"area": "1 m2", "wall": "5 cm"}, "x").wall == pytest.approx(0.05)


def test_every_problem_is_reported_at_once():
    bad = {
        "wall": "0 mm",
        "tilt": "2 rad",
        "warmth": "20 m",
        "share": 1.5,
        "side": "reer",
        "holes": 2.5,
        "lid": 1,
        "label": " ",
        "wal": "3 mm",
    }
    with pytest.raises(InputError) as caught:
        build(Bucket, bad, "case.toml, [bucket]")
    text = str(caught.value).splitlines()
    expected = [
        "case.toml, [bucket]: got the key 'wal'; expected one of area, wall, ",
        "case.toml, [bucket], area: got nothing; expected a number with its unit",
        "case.toml, [bucket], wall: got '0 mm'; expected a number with its unit, as in \"3.2 mm\", above 0",
        "case.toml, [bucket], tilt: got '2 rad'; expected a number with its unit",
        "case.toml, [bucket], warmth: got '20 m'; expected a number with its unit, as in \"20 degC\"",
        'case.toml, [bucket], share: got 1.5; expected a plain number, as in 0.5 or "50 %", from 0 to 1',
        "case.toml, [bucket], side: got 'reer'; expected one of 'front', 'rear'. Did you mean 'rear'?",
        "case.toml, [bucket], holes: got 2.5; expected a whole number, from 0 to 9",
        "case.toml, [bucket], lid: got 1; expected true or false",
        "case.toml, [bucket], label: got ' '; expected text",
    ]
    assert len(text) == len(expected)
    for start in expected:
        assert sum(line.startswith(start) for line in text) == 1, start
    assert "Did you mean 'wall'?" in text[0]


def test_rules_between_fields_say_where():
    """They run only once each field is sound by itself."""
    found, problems = read_fields(Bucket, {"area": "0.0121 m2", "wall": "5 cm"}, "case.toml, [bucket]")
    assert problems == [] and found is not None
    _, problems = read_fields(Bucket, {"area": "0.01 m2", "wall": "5 cm"}, "case.toml, [bucket]")
    assert [str(p) for p in problems] == [
        "case.toml, [bucket], wall: got 0.05 m; expected walls that leave room between them"
    ]
    with pytest.raises(InputError, match=r"^Bucket, wall: got 0.05 m; expected walls that leave room"):
        check(Bucket(area=0.01, wall=0.05))
    _, problems = read_fields(Bucket, {"area": "0.01 m2", "wall": "5 cm", "holes": 99}, "x")
    assert [p.where for p in problems] == ["x, holes"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"area": -1.0}, "Bucket, area: got -1 m2"),
        ({"area": math.nan}, "Bucket, area: got nan"),
        ({"area": "2 m2"}, "Bucket, area: got '2 m2'"),
        ({"wall": 0.0}, "above 0 mm"),
        ({"side": "up"}, "one of 'front', 'rear'"),
        ({"holes": 10}, "from 0 to 9"),
    ],
)
def test_an_instance_made_in_python_is_checked(change, words):
    sound = Bucket(area=1.0)
    check(sound)
    with pytest.raises(InputError, match=words):
        check(dataclasses.replace(sound, **change))


def test_declared_fields_carry_everything_a_form_needs():
    fields = declared_fields(Bucket)
    assert list(fields) == [entry.name for entry in dataclasses.fields(Bucket)]
    assert fields["area"].required and not fields["wall"].required
    assert fields["wall"].sentence == "Wall thickness"
    assert fields["wall"].high == pytest.approx(0.05)
    assert fields["side"].options == ("front", "rear")


def test_a_range_is_said_without_powers_of_ten_and_with_an_everyday_example():
    """A tank "as in 1e+08 L" helps nobody; an example is allowed itself, whatever the range."""

    @dataclass(frozen=True)
    class Wide:
        volume: float | None = quantity("L", "Volume", default=None, low=1.0, high=1e8)
        litres: float | None = quantity("L/day", "Litres", default=None, low=0.0, low_open=True, high=1e9)
        grain: float | None = quantity("m2", "Area", default=None, low=1e-6, high=1e9)
        warmth: float | None = quantity("degC", "Temperature", default=None, low=-30.0, high=60.0)
        narrow: float | None = quantity("m", "Length", default=None, low=1.06, high=1.14)
        share: float | None = quantity("1", "Share", default=None, low=0.01, high=1.0)
        count: float | None = quantity("1", "Ratio", default=None, low=0.01, high=1e4)

    said = {name: entry.range_text() for name, entry in declared_fields(Wide).items()}
    assert said["volume"] == 'a number with its unit, as in "10000 L", from 1 L to 100,000,000 L'
    assert said["litres"].endswith('as in "1 L/day", above 0 L/day to 1,000,000,000 L/day')
    assert said["grain"].endswith("from 0.000001 m2 to 1,000,000,000 m2")
    assert said["share"] == 'a plain number, as in 0.1 or "10 %", from 0.01 to 1'
    assert said["count"] == "a plain number, from 0.01 to 10000"
    for name, entry in declared_fields(Wide).items():
        example = entry.example()
        given = float(example) if entry.unit == "1" else example
        value, problems = read_fields(Wide, {name: given}, "x")
        assert problems == [] and value is not None, (name, example)
