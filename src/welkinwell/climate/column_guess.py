"""An unknown table's columns guessed from its heading, as a block of TOML to paste, fill in and check.

Nothing is read by a guess: it is written out for a person, who fills in the place and looks at the first row
that `welkinwell check` then shows. Headings are known in English and in a few words of German, French and
Spanish, with their units in brackets, behind a comma, or in a line of their own.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from welkinwell.climate.column_map import DELIMITERS, DEVICE_VARIABLES, HUMIDITIES
from welkinwell.climate.stamps import parsed_stamp
from welkinwell.climate.weather_file import WeatherText

FILL_IN: Final = "FILL IN"
_LINES: Final = 60  # in which a heading is sought
_MOST_CODES: Final = 6
_MOST_BELOW: Final = 3  # lines of units and the like between a heading and its rows
_SAMPLE: Final = 300  # stamps that a format must read
_NUMBER: Final = re.compile(r"\s*[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?\s*")
_TEMPERATURES: Final = {
    "°c": "degC", "c": "degC", "degc": "degC", "deg c": "degC", "deg_c": "degC", "celsius": "degC",
    "°f": "degF", "f": "degF", "degf": "degF", "deg f": "degF", "fahrenheit": "degF", "k": "K", "kelvin": "K",
}  # fmt: skip
_SHARES: Final = {"%": "%", "%rh": "%", "% rh": "%", "pct": "%", "percent": "%", "% r.h.": "%"}
_PRESSURES: Final = {
    "hpa": "hPa", "mbar": "mbar", "mb": "mbar", "kpa": "kPa", "pa": "Pa", "inhg": "inHg", "in hg": "inHg",
    "mmhg": "mmHg", "mm hg": "mmHg", "bar": "bar",
}  # fmt: skip
_SUNS: Final = {
    "w/m2": "W/m2", "w/m²": "W/m2", "w/m^2": "W/m2", "w m-2": "W/m2", "wm-2": "W/m2", "w·m-2": "W/m2",
    "kw/m2": "kW/m2", "kw/m²": "kW/m2", "kw/m^2": "kW/m2", "j/m2": "J/m2", "kj/m2": "kJ/m2", "kj/m²": "kJ/m2",
    "mj/m2": "MJ/m2", "mj/m²": "MJ/m2", "wh/m2": "Wh/m2", "wh/m²": "Wh/m2", "kwh/m2": "kWh/m2",
    "kwh/m²": "kWh/m2",
}  # fmt: skip
_SPEEDS: Final = {
    "m/s": "m/s", "ms-1": "m/s", "m s-1": "m/s", "meters/second": "m/s", "km/h": "km/h", "kmh": "km/h",
    "kph": "km/h", "mph": "mph", "kt": "knot", "kts": "knot", "kn": "knot", "knots": "knot",
}  # fmt: skip
_RAINS: Final = {"mm": "mm", "mm/h": "mm/h", "mm/hr": "mm/h"}
_WATERS: Final = {
    "l": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L", "ml": "mL", "cl": "cL", "m3": "m3",
    "m³": "m3", "gal": "gal",
}  # fmt: skip
_TEMPERATURE: Final = r"temp|^t(air|[_ ]?a)?\b|\bta\b|airt"
# What a heading says of each variable: words that must be there, words that must not, units, and the unit
# that a column without one is taken to have by the size of its values.
_HUMID: Final = r"\brh\b|^hr\b|humid|feucht|humed|hygro"
_SUN: Final = r"\bghi\b|global|solar|sun\b|irrad|radiation|strahlung|rayonn|pyran|\bsr\b|slr"
_NOT_OUTDOOR: Final = r"dew|soil|water|batt|panel|inside|indoor|internal|logger|board|surface|wet|feel|chill"
_SPOILT: Final = r"\bmax|\bmin\b|minim|std|gust|richt|böe|rafale|racha|count|quality|flag|sigma|volt"
WEATHER_WORDS: Final = {
    "dew_point": (r"dew|taupunkt|ros[ée]e|roc[ií]o|\btd\b", "", _TEMPERATURES),
    "vapour_pressure": (r"vap(ou?r)? ?press|dampfdruck|\bvp\b", "deficit|vpd", _PRESSURES),
    "temperature": (_TEMPERATURE, _NOT_OUTDOOR, _TEMPERATURES),
    "relative_humidity": (_HUMID, "soil|abs|specific|inside|indoor", _SHARES),
    "pressure": (r"press|baro|luftdruck|presi[oó]n|\bbp\b", "vap|dampf|sea|\\bmsl|qnh|reduced", _PRESSURES),
    "dni": (r"\bdni\b|direct|beam|direkt", "wind", _SUNS),
    "dhi": (r"\bdhi\b|diffus|difus", "", _SUNS),
    "ghi": (_SUN, "direct|direkt|diffus|long|net|uv|par\\b|terrest|lw|panel|temp|elev|azim", _SUNS),
    "wind_speed": (r"wind|\bws\b|vent\b|viento|anemo", "chill|run|cool|dir", _SPEEDS),
    "precipitation": (r"rain|precip|niederschl|regen|pluie|lluvia", "rate_max", _RAINS),
}
DEVICE_WORDS: Final = {
    "litres": (
        r"lit(er|re)|water|volum|yield|harvest|collected|condensate|wasser|eau\b|agua|meter", "temp", _WATERS,
    ),
    "bed_temperature": (r"bed|sorb|absorb|adsorb", "", _TEMPERATURES),
    "condenser_temperature": (r"cond|kond", "sate\\b|sat\\b", _TEMPERATURES),
    "glazing_temperature": (r"glass|glaz|cover|pane|scheibe|glas|vitre", "", _TEMPERATURES),
    "relative_humidity": (_HUMID, "abs|specific", _SHARES),
    "sun": (_SUN, "direct|diffus|long|net|uv|par\\b|panel|temp", _SUNS),
    "air_temperature": (
        r"amb|outdoor|outside|\bair|luft|aussen|außen|^t$|^temp", "bed|cond|glas|humid|feucht|press",
        _TEMPERATURES,
    ),
}  # fmt: skip
_DATES: Final = (
    "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%Y/%m/%d", "%Y-%m-%d", "%d.%m.%y", "%d/%m/%y",
    "%m/%d/%y", "%Y%m%d",
)  # fmt: skip
_TIMES: Final = ("%H:%M", "%H:%M:%S", "%H.%M", "%I:%M %p", "%I:%M:%S %p", "%H%M")
_STAMP: Final = re.compile(r"time|date|datum|zeit|fecha|hora|heure|\bts\b|uhr|stamp|\bwhen\b", re.IGNORECASE)


@dataclass(frozen=True)
class Heading:
    """A table's heading: index of its line, what parts it and its cells.

    below: the lines below it that are no rows, such as units; rows: the cells of the rows as written.
    """

    line: int
    delimiter: str
    names: list[str]
    below: list[list[str]]
    rows: list[list[str]]

    def column(self, place: int) -> list[str]:
        """The cells of one column."""
        return [row[place].strip() for row in self.rows]


@dataclass(frozen=True)
class Stamps:
    """How the stamps stand: columns, format (None for ISO 8601), the clock as far as it shows, doubts."""

    time: str
    date: str | None
    time_format: str | None
    clock: str
    doubt: str


@dataclass(frozen=True)
class Guess:
    """What a table's columns were guessed to be: column and unit by variable, units that no heading gives."""

    heading: Heading
    stamps: Stamps
    columns: dict[str, tuple[str, str]]
    by_size: frozenset[str]
    decimal_comma: bool
    missing: tuple[str, ...]


def guessed(
    text: WeatherText, words: dict[str, tuple[str, str, dict[str, str]]] = WEATHER_WORDS
) -> Guess | None:
    """Guess the columns of a table; None where the text is no table with a column of times.

    text: the file; words: what headings say of each variable.
    """
    heading = _heading(text.lines)
    stamps = None if heading is None else _stamps(heading)
    if heading is None or stamps is None:
        return None
    columns: dict[str, tuple[str, str]] = {}
    by_size = set()
    taken = {stamps.time, stamps.date}
    for variable, (wanted, unwanted, units) in words.items():
        for place, name in enumerate(heading.names):
            plain = _plain(name)
            if name in taken or not name or heading.names.count(name) > 1:
                continue
            if not re.search(wanted, plain) or re.search(_SPOILT, plain):
                continue
            if unwanted and re.search(unwanted, plain):
                continue
            numbers = _numbers(heading.column(place))
            if numbers is None:
                continue
            unit = _unit(name, [row[place] for row in heading.below], units)
            if unit is None:
                unit = _unit_by_size(variable, numbers, units)
                by_size.add(variable)
            columns[variable] = (name, unit)
            taken.add(name)
            break
    if not columns:
        return None
    comma = any(re.fullmatch(r"\s*[+-]?\d+,\d+\s*", cell) for row in heading.rows[:_SAMPLE] for cell in row)
    codes = _codes(heading, [name for name, _ in columns.values()])
    return Guess(heading, stamps, columns, frozenset(by_size & set(columns)), comma, codes)


def _codes(heading: Heading, names: list[str]) -> tuple[str, ...]:
    """Codes for no value: words among the numbers, and numbers below anything that such a column holds."""
    cells = {cell for name in names for cell in set(heading.column(heading.names.index(name)))}
    words = sorted(cell for cell in cells if cell and not _NUMBER.fullmatch(cell))
    low = sorted(cell for cell in cells if _NUMBER.fullmatch(cell) and float(cell.replace(",", ".")) <= -99.0)
    return tuple((low + words)[:_MOST_CODES])


def weather_block(text: WeatherText) -> tuple[str, str]:
    """Propose how a plain table of weather, or a log of air, is described.

    text: the file. Returns a sentence on what to do and the block; both empty where it is no such table.
    """
    guess = guessed(text)
    if guess is None or not {"temperature", *HUMIDITIES} & set(guess.columns):
        return "", ""
    lacking = [name.replace("_", " ") for name in ("temperature", "wind_speed") if name not in guess.columns]
    lacking += [] if set(HUMIDITIES) & set(guess.columns) else ["humidity"]
    lacking += [] if {"ghi"} & set(guess.columns) or {"dni", "dhi"} <= set(guess.columns) else ["sun"]
    if {"sun", "wind speed"} <= set(lacking):
        return (
            "It looks like a log of temperature and humidity without sun and wind: it cannot be the weather "
            "of a year, but can correct a weather file of the place. Paste this into the case below [site], "
            "look through it, and name a weather file as weather:",
            _correction_lines(text, guess),
        )
    told = (
        "It looks like a table of your own. Paste this into the case below [site] (or into a file of its "
        f"own, given with --columns), put the place where it says {FILL_IN}, and look through the rest:"
    )
    if lacking:
        told = told.replace("Paste", f"No column of it was known as {' or '.join(lacking)}. Paste")
    return told, _weather_lines(guess, lacking)


def device_block(text: WeatherText) -> str:
    """Propose how the log of a built device is described; empty where it is no table of times."""
    guess = guessed(text, DEVICE_WORDS)
    if guess is None:
        return ""
    lines = ["[device_log]", *_form_lines(guess)]
    if "litres" in guess.columns:
        numbers = _numbers(guess.heading.column(guess.heading.names.index(guess.columns["litres"][0])))
        if numbers is not None and _is_running_total(numbers):
            note = "the column never falls: a meter's running total"
            lines.append(_entry("running_total", "true", note))
    else:
        example = json.dumps("COLUMN [L]")
        lines.append(f"# litres = {example}".ljust(38) + " # needed: water that all modules gave")
    return "\n".join([*lines, *_column_lines(guess, DEVICE_VARIABLES)])


def _weather_lines(guess: Guess, lacking: Sequence[str]) -> str:
    place = [
        _entry(
            "latitude",
            f'"{FILL_IN} deg"',
            "of the station, north positive; leave the line out if [site] has it",
        ),
        _entry("longitude", f'"{FILL_IN} deg"', "east positive; leave the line out if [site] has it"),
        _entry("elevation", f'"{FILL_IN} m"', "above the sea; leave the line out if [site] has it"),
        _entry("utc_offset", f'"{FILL_IN} h"', "standard time of the place, without summer time"),
        _entry("wind_height", '"10 m"', "of the wind instrument above ground"),
        _entry("stamp", '"end"', 'a row speaks for the time before its stamp; or "start", "middle"'),
    ]
    known_as = {"sun": "ghi", "humidity": "relative_humidity", "wind speed": "wind_speed"}
    missing = [
        f"# {known_as.get(name, name)} = ".ljust(38) + " # needed: the column, with its unit in brackets"
        for name in lacking
    ]
    return "\n".join(
        ["[site.columns]", *place, *_form_lines(guess), *_column_lines(guess, WEATHER_WORDS), *missing]
    )


def _correction_lines(text: WeatherText, guess: Guess) -> str:
    kept = ["temperature", *HUMIDITIES]
    log = _entry("log", json.dumps(text.path.name, ensure_ascii=False), "its path relative to the case file")
    return "\n".join(["[site.correction]", log, *_form_lines(guess), *_column_lines(guess, kept)])


def _form_lines(guess: Guess) -> list[str]:
    """How the table is written."""
    stamps, heading = guess.stamps, guess.heading
    found = [_entry("time", json.dumps(stamps.time, ensure_ascii=False))]
    if stamps.date is not None:
        found.append(_entry("date", json.dumps(stamps.date, ensure_ascii=False)))
    if stamps.time_format is not None:
        found.append(_entry("time_format", json.dumps(stamps.time_format), stamps.doubt))
    zones = 'standard time; or "UTC", "UTC+02:00", or a zone with summer time as "Europe/Madrid"'
    if stamps.clock == FILL_IN:
        zones = 'an hour comes twice: name the zone whose summer time they follow, as "Europe/Madrid"'
    found.append(_entry("clock", json.dumps(stamps.clock), zones))
    marks = {character: name for name, character in DELIMITERS.items()}
    found.append(_entry("delimiter", json.dumps(marks[heading.delimiter])))
    if guess.decimal_comma:
        found.append(_entry("decimal", '"comma"'))
    if guess.missing:
        found.append(_entry("missing", json.dumps(guess.missing, ensure_ascii=False), "codes for no value"))
    if heading.below:
        found.append(
            _entry("skip_lines", str(len(heading.below)), "lines below the heading that are no rows")
        )
    return found


def _column_lines(guess: Guess, order: Iterable[str]) -> list[str]:
    return [
        _entry(
            variable,
            json.dumps(f"{guess.columns[variable][0]} [{guess.columns[variable][1]}]", ensure_ascii=False),
            "no unit in the heading: guessed from the size of the values"
            if variable in guess.by_size
            else "",
        )
        for variable in order
        if variable in guess.columns
    ]


def _entry(key: str, value: str, note: str = "") -> str:
    line = f"{key} = {value}"
    return f"{line:<38} # {note}" if note else line


def _heading(lines: Sequence[str]) -> Heading | None:
    """Find the heading: names above rows of as many cells, with a stamp and numbers in them."""
    found = [one for mark in (";", "\t", "|", ",") if (one := _heading_by(lines, mark)) is not None]
    return max(found, key=lambda one: len(one.names), default=None)


def _heading_by(lines: Sequence[str], delimiter: str) -> Heading | None:
    """The same where that delimiter parts the columns."""

    def split(line: str) -> list[str]:
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
        except csv.Error:
            return []

    head = [split(line) for line in lines[:_LINES]]
    first = next((i for i, row in enumerate(head) if _is_row(row) and i > 0), None)
    if first is None:
        return None
    while not head[first][-1]:  # a closing delimiter leaves a blank
        head[first] = head[first][:-1]
    width = len(head[first])
    above = [i for i in range(max(0, first - 1 - _MOST_BELOW), first) if _names(head[i], width)]
    if not above:
        return None
    line = max(above, key=lambda i: (len(set(_names(head[i], width)) - {""}), -i))
    names = _names(head[line], width)
    below = [_names(head[i], width) or [""] * width for i in range(line + 1, first)]
    rows = [_trimmed(split(one), width) for one in lines[first:] if one.strip()]
    return Heading(line, delimiter, names, below, [row for row in rows if len(row) == width])


def _is_row(row: list[str]) -> bool:
    """Whether cells look like a row: a number and something like a date or a time."""
    return any(_NUMBER.fullmatch(cell) for cell in row) and any(
        re.search(r"\d\D\d", cell) and not _NUMBER.fullmatch(cell) for cell in row
    )


def _names(row: list[str], width: int) -> list[str]:
    """The cells of a line above the rows; none where it cannot be a heading."""
    row = _trimmed(row, width)
    return row if len(row) == width and not any(_NUMBER.fullmatch(cell) for cell in row) else []


def _trimmed(row: list[str], width: int) -> list[str]:
    """A row without the blanks that a closing delimiter leaves."""
    return row if any(row[width:]) else row[:width]


def _stamps(heading: Heading) -> Stamps | None:
    """Find the column or columns of the stamps and their format."""
    places = sorted(range(len(heading.names)), key=lambda k: (not _STAMP.search(heading.names[k]), k))
    for place in places:
        found = _format_of(heading.column(place), with_time=True)
        if found is not None:
            return _as_stamps(heading, heading.column(place), heading.names[place], None, *found)
    for day in places:
        for hour in places:
            if day == hour or not _STAMP.search(heading.names[hour]):
                continue
            if _format_of(heading.column(day)[:20], with_time=False) is None:
                continue
            pairs = zip(heading.column(day), heading.column(hour), strict=True)
            cells = [f"{one} {other}" for one, other in pairs]
            found = _format_of(cells, with_time=True)
            if found is not None:
                return _as_stamps(heading, cells, heading.names[hour], heading.names[day], *found)
    for place in places:  # a date alone, as daily logs have it
        found = _format_of(heading.column(place), with_time=False)
        if found is not None and _STAMP.search(heading.names[place]):
            return _as_stamps(heading, heading.column(place), heading.names[place], None, *found)
    return None


def _format_of(cells: list[str], with_time: bool) -> tuple[str | None, str] | None:
    """Find the format that reads a spread of stamps, and what is in doubt about it."""
    chosen = cells[:30] + cells[:: max(1, len(cells) // _SAMPLE)]
    if not chosen or not all(re.search(r"\d", cell) for cell in chosen):
        return None
    long_enough = all(len(cell) > len("2024-01-31") for cell in chosen)
    if long_enough == with_time and all(re.match(r"\d{4}-\d", c) and parsed_stamp(c, None) for c in chosen):
        return None, ""
    times = [f"{gap}{clock}" for clock in _TIMES for gap in (" ", "  ", ", ", "T")] if with_time else [""]
    fitting = [
        date + clock
        for date in _DATES
        for clock in times
        if parsed_stamp(chosen[0], date + clock) and all(parsed_stamp(cell, date + clock) for cell in chosen)
    ]
    if not fitting:
        return None
    fitting.sort(key=lambda one: _unevenness(cells[:200], one))
    other = [one for one in fitting[1:] if one[:2] != fitting[0][:2]]
    return fitting[0], "check: day and month could be the other way round" if other else ""


def _unevenness(cells: list[str], time_format: str) -> float:
    """How uneven the steps between stamps are, by the share that are not the usual one."""
    stamps = [stamp for cell in cells if (stamp := parsed_stamp(cell, time_format)) is not None]
    steps = np.diff([stamp.replace(tzinfo=None).timestamp() for stamp in stamps])
    return 0.0 if steps.size == 0 else float(np.mean(np.abs(steps - np.median(steps)) > 1.0))


def _as_stamps(
    heading: Heading, cells: list[str], time: str, date: str | None, time_format: str | None, doubt: str
) -> Stamps:
    """Add the clock, as far as heading and stamps show it."""
    title = f"{time} {date or ''}"
    ahead = re.search(r"(?:UTC|GMT)\s*([+-])\s*(\d{1,2}):?(\d{2})?", title, re.IGNORECASE)
    clock = "local"
    if ahead is not None:
        hours, minutes = int(ahead.group(2)), ahead.group(3) or "00"
        clock = "UTC" if hours == 0 else f"UTC{ahead.group(1)}{hours:02d}:{minutes}"
    elif re.search(r"\b(utc|gmt)\b", title, re.IGNORECASE):
        clock = "UTC"
    elif len(set(cells)) < len(cells):
        clock = FILL_IN
    return Stamps(time, date, time_format, clock, doubt)


def _plain(name: str) -> str:
    return re.sub(r"[_\-.]+", " ", name).strip().lower()


def _numbers(cells: list[str]) -> np.ndarray | None:
    """A column as numbers, nan where a cell is none; None where most are none."""
    found = np.array([float(cell.replace(",", ".")) if _NUMBER.fullmatch(cell) else np.nan for cell in cells])
    return None if np.isnan(found).mean() > 0.5 else found


def _unit(name: str, below: list[str], units: dict[str, str]) -> str | None:
    """The unit that a heading gives: in brackets, behind a comma, as its last word, or in a line below."""
    parts = re.findall(r"[\[(]([^\[\]()]*)[\])]", name)
    parts += [part for part in re.split(r",", name)[1:]] + re.split(r"[\s_]+", name)[:0:-1] + below
    for part in parts:
        plain = part.strip().lower().strip(".").replace("º", "°")
        first = re.split(r"\s*[(\[]", plain)[0]
        for one in (plain, first):
            if one in units:
                return units[one]
    return None


def _unit_by_size(variable: str, numbers: np.ndarray, units: dict[str, str]) -> str:
    """The unit that a column without one is likely to have."""
    middle, top = float(np.nanmedian(numbers)), float(np.nanmax(numbers))
    if units is _TEMPERATURES:
        return "K" if middle > 200.0 else "degF" if middle > 50.0 and "bed" not in variable else "degC"
    if units is _SHARES:
        return "1" if top <= 1.2 else "%"
    if variable == "vapour_pressure":
        return "Pa" if middle > 200.0 else "hPa" if middle > 5.0 else "kPa"
    if units is _PRESSURES:
        return "Pa" if middle > 20000.0 else "hPa" if middle > 300.0 else "kPa" if middle > 33.0 else "inHg"
    if units is _WATERS:
        return "mL" if middle > 200.0 else "L"
    return {id(_SUNS): "W/m2", id(_SPEEDS): "m/s", id(_RAINS): "mm"}[id(units)]


def _is_running_total(numbers: np.ndarray) -> bool:
    known = numbers[~np.isnan(numbers)]
    steps = np.diff(known)
    return bool(
        known.size > 20 and (steps >= 0.0).all() and (steps > 0.0).any() and known[-1] > 2.0 * known[0]
    )
