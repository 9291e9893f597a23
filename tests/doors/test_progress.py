"""Progress where stderr is no terminal: a line every half minute with the time that is left."""

from welkinwell.cli.progress import _lines


def test_lines_come_every_half_minute_and_say_what_is_left(capsys):
    clock = iter([0.0, 10.0, 60.0, 70.0, 120.0])
    tell = _lines(lambda: next(clock))
    for share in (0.05, 0.25, 0.3, 0.5):
        tell("Drawing", share)
    said = capsys.readouterr().err.splitlines()
    assert said == [
        "Drawing: 25 % of all, about 3.0 minutes left",
        "Drawing: 50 % of all, about 2.0 minutes left",
    ]
