"""A case file (TOML, units in the values) to checked objects; every problem is reported at once.

schema_version = 1
name, note
[site]         name, weather, further years of it, overrides of the weather file's position, albedo;
               [site.columns] which column of a plain table is what, [site.correction] a log that corrects it
[demand]       residents, visitors and their litres, or litres_per_day, or [[demand.use]]; seasons and hours
[collection]   what is lost between gutter and treatment
[treatment]    what treatment, tests and outages take
[tank]         volume
[field]        rows, spacing and failures
[sound]        how far the nearest bed is, and how loud it may be there
[cost]         the user's own prices, over the library's
[alternatives] what other water costs there, or "none"
[power]        electricity from the plant's own solar modules and battery
[power_cuts]   hours without electricity
[device_log]   which column of the built device's log is what, for `welkinwell monitor`
[[harvester]]  name, kind, sorbent, modules and the fields of its kind
"""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, field, replace
from importlib import resources
from pathlib import Path
from typing import Any, Final

from welkinwell.climate.column_map import (
    DeviceColumns,
    LogCorrection,
    WeatherColumns,
    read_form,
    site_forms,
)
from welkinwell.declare import (
    Declared,
    declared_fields,
    flag,
    quantity,
    read_fields,
    read_value,
    texts,
    unknown_keys,
    words,
)
from welkinwell.errors import CaseError, FileError, InputError, Problem, nearest_file, nearest_name
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.layer_density import layer_notes, layer_of, layer_problems, plain_problems
from welkinwell.harvesters.layer_depth import depth_notes
from welkinwell.harvesters.power_cuts import PowerCuts, read_power_cuts
from welkinwell.quantities import amount, as_text, from_si, plain
from welkinwell.supply.cost import (
    Alternative,
    CostChoices,
    default_cost,
    one_price_for_many,
    read_money_tables,
)
from welkinwell.supply.demand import Demand, demand_lines, demand_warnings, read_demand
from welkinwell.supply.field import Field
from welkinwell.supply.net_water import Collection, Treatment
from welkinwell.supply.power import PowerChoices, read_power
from welkinwell.supply.sound_level import SoundPlace, read_sound
from welkinwell.supply.tank import tank_below_a_day
from welkinwell.text_file import names_in, parse_toml, read_toml_text, why_no_file
from welkinwell.writing import make_folder, together, write_bytes, write_text

SCHEMA_VERSION: Final = 1
LONGEST_NAME: Final = 255  # characters of a file's name that a message repeats
STARTER_WEATHER: Final = "coast_western_australia_2020.csv.gz"


@dataclass(frozen=True)
class Site:
    """Where the devices stand. latitude and longitude in radians."""

    name: str = words("Name of the place")
    weather: str = words("Hourly weather file, relative to the case file")
    latitude: float | None = quantity(
        "deg", "Latitude, north positive; the weather file's own if not given", default=None, low=-90, high=90
    )
    longitude: float | None = quantity(
        "deg",
        "Longitude, east positive; the weather file's own if not given",
        default=None,
        low=-180,
        high=180,
    )
    elevation: float | None = quantity(
        "m",
        "Height above the sea, to which the air of the weather file is moved; its own if not given",
        default=None,
        low=-430,
        high=6000,
    )
    albedo: float | None = quantity(
        "1",
        "Share of the sun that the ground reflects; the weather file's own or 0.2 if not given",
        default=None,
        low=0,
        high=0.95,
    )
    further_years: tuple[str, ...] = texts(
        "Hourly weather files of further years of the same place, relative to the case file; the tank is "
        "followed through all years in this order"
    )
    columns: WeatherColumns | None = None
    correction: LogCorrection | None = None


@dataclass(frozen=True)
class Tank:
    """The store between the devices and the people. volume in m3."""

    volume: float = quantity("L", "Water that the tank holds when full", low=1, high=1e8)
    shaded: bool = flag("Whether the tank stands in the shade", default=True)
    dead_share: float = quantity(
        "1", "Share of the volume below the tap, never drawn", default=0.05, low=0, high=0.9
    )

    @property
    def usable(self) -> float:
        """Volume above the tap [m3]."""
        return self.volume * (1.0 - self.dead_share)


@dataclass(frozen=True)
class HarvesterCase:
    """One harvester of the case: its design (SI) and its sorbent, loaded from sorbent_name.

    Kinds that take no sorbent have None and an empty name.
    """

    name: str
    kind: str
    sorbent_name: str
    modules: int
    design: Any
    sorbent: Any
    given: tuple[str, ...] = ()  # the keys that the case file sets; the others are defaults


@dataclass(frozen=True)
class Case:
    """A whole case, checked; text is the file as written."""

    name: str
    note: str
    site: Site
    demand: Demand
    tank: Tank | None
    harvesters: tuple[HarvesterCase, ...]
    text: str = field(repr=False)
    path: Path
    collection: Collection = field(default_factory=Collection)
    treatment: Treatment = field(default_factory=Treatment)
    cost: CostChoices = field(default_factory=default_cost)
    alternatives: tuple[Alternative, ...] = ()
    sound: SoundPlace = field(default_factory=SoundPlace)
    field: Field = field(default_factory=Field)
    power: PowerChoices | None = None
    power_cuts: PowerCuts | None = None
    device_log: DeviceColumns | None = None

    @property
    def weather_path(self) -> Path:
        """Where the weather file lies."""
        return (self.path.parent / self.site.weather).resolve()

    @property
    def further_weather(self) -> tuple[Path, ...]:
        """Where the weather files of further years lie."""
        return tuple((self.path.parent / name).resolve() for name in self.site.further_years)


_HARVESTER_KEYS: Final = ("name", "kind", "sorbent", "modules")
TABLES: Final = (
    "schema_version", "name", "note", "site", "demand", "collection", "treatment", "tank", "field", "sound",
    "cost", "alternatives", "power", "power_cuts", "device_log", "harvester",
)  # fmt: skip
MODULES: Final = Declared("modules", "count", "1", "Number of modules", 1, 1, 1e6, False, ())
_COMMENTED_CASE: Final = "`welkinwell new DIR` writes a commented case."


def read_case(path: str | Path) -> Case:
    """Read and check a case file; raises one InputError that holds every problem found."""
    path = Path(path)
    return case_from_text(_text_of(path), path)


def case_from_text(text: str, path: Path) -> Case:
    """Check a case given as text; path is where it lies or would lie, and files are looked for beside it."""
    file = path.name
    tables = _parsed(text, file)
    _check_schema(tables, file)
    problems = unknown_keys(tables, TABLES, file)
    title, note = (
        _text_key(tables, key, default, file, problems) for key, default in (("name", ""), ("note", ""))
    )
    site = _read_site(tables, path, problems)
    demand = _read_demand(tables, file, problems)
    tank = _read_table(Tank, tables["tank"], f"{file}, [tank]", problems) if "tank" in tables else None
    collection = _read_optional(tables, "collection", Collection, file, problems)
    treatment = _read_optional(tables, "treatment", Treatment, file, problems)
    stand = _read_optional(tables, "field", Field, file, problems)
    heard = read_sound(tables.get("sound", {}), f"{file}, [sound]", problems) or SoundPlace()
    cost, alternatives = read_money_tables(tables, file, problems, list(KINDS))
    power, cuts = _read_power_tables(tables, path, cost, problems)
    device_log = None
    if "device_log" in tables:
        device_log = read_form(DeviceColumns, tables["device_log"], f"{file}, [device_log]", problems)
    harvesters = _read_harvesters(tables, path, problems)
    problems += one_price_for_many(cost, [one.kind for one in harvesters], f"{file}, [cost]")
    if problems or site is None or demand is None:
        raise CaseError(problems)
    return Case(title or site.name, note, site, demand, tank, harvesters, text, path, collection, treatment,
        cost, alternatives, heard, stand, power, cuts, device_log,
    )  # fmt: skip


def _text_of(path: Path) -> str:
    reason, advice = why_no_file(path), _COMMENTED_CASE
    if reason == "a folder":
        inside = path / "case.toml"
        advice = advice if why_no_file(inside) else f"Did you mean '{inside}'?"
    elif reason:
        near = [name for name in names_in(path.parent) if name.endswith(".toml")]
        advice = nearest_file(path.name, near) or advice
    return read_toml_text(path, "a case file in TOML", advice)


def _parsed(text: str, file: str) -> dict[str, Any]:
    return parse_toml(text, file, "a case file in TOML", CaseError)


def _check_schema(tables: Mapping[str, Any], file: str) -> None:
    """Stop at once at a foreign schema: the other messages would mean nothing."""
    given = tables.get("schema_version")
    if given == SCHEMA_VERSION and not isinstance(given, bool):
        return
    shown = "nothing" if given is None else repr(given)
    advice = f"Write schema_version = {SCHEMA_VERSION} at the top, or use a welkinwell that reads this file."
    raise CaseError(Problem(f"{file}, schema_version", shown, str(SCHEMA_VERSION), advice))


def _text_key(tables: Mapping[str, Any], key: str, default: str, where: str, problems: list[Problem]) -> str:
    value = tables.get(key, default)
    if isinstance(value, str):
        return value.strip()
    problems.append(Problem(f"{where}, {key}", repr(value), "text"))
    return default


def _read_table(cls: type, table: Any, where: str, problems: list[Problem]) -> Any:
    """Read one table of the file into its declared class; None when something is wrong with it."""
    if not isinstance(table, Mapping):
        problems.append(Problem(where, repr(table), "a table", _COMMENTED_CASE))
        return None
    instance, found = read_fields(cls, table, where)
    problems += found
    return None if found else instance


def _missing(file: str, table: str, sentence: str, problems: list[Problem]) -> None:
    problems.append(Problem(file, f"no {table}", sentence, _COMMENTED_CASE))


def _read_site(tables: Mapping[str, Any], path: Path, problems: list[Problem]) -> Site | None:
    if "site" not in tables:
        _missing(path.name, "[site]", "a table that names the place and its weather file", problems)
        return None
    where = f"{path.name}, [site]"
    table = tables["site"]
    if not isinstance(table, Mapping):
        return _read_table(Site, table, where, problems)
    plain = {key: table[key] for key in table if key not in ("columns", "correction")}
    site: Site | None = _read_table(Site, plain, where, problems)
    further = table.get("further_years")
    for name in further if isinstance(further, list) else ():
        _check_weather(name, path, f"{where}, further_years", problems)
    _check_weather(table.get("weather"), path, f"{where}, weather", problems)
    columns, correction = site_forms(table, path, problems)
    return None if site is None else replace(site, columns=columns, correction=correction)


def _check_weather(name: Any, path: Path, where: str, problems: list[Problem]) -> None:
    """Report a weather file that does not lie where the case says."""
    if not isinstance(name, str) or not name.strip():
        return
    reason = why_no_file(path.parent / name)
    if not reason:
        return
    near = nearest_file(Path(name).name, names_in((path.parent / name).parent))
    expected = "an hourly weather file, its path relative to the case file"
    which = "which is not there" if reason == "no such file" else reason
    shown = name if len(name) <= LONGEST_NAME else f"{name[:LONGEST_NAME]}..."
    problems.append(Problem(where, f"{shown!r}, {which}", expected, near))


def _read_demand(tables: Mapping[str, Any], file: str, problems: list[Problem]) -> Demand | None:
    if "demand" not in tables:
        _missing(file, "[demand]", "a table that says who needs how much water", problems)
        return None
    return read_demand(tables["demand"], f"{file}, [demand]", problems)


def _read_optional(
    tables: Mapping[str, Any], name: str, cls: type, file: str, problems: list[Problem]
) -> Any:
    """Read a table that may be missing: then everything in it is at its default."""
    return _read_table(cls, tables.get(name, {}), f"{file}, [{name}]", problems)


def _read_power_tables(
    tables: Mapping[str, Any], path: Path, cost: CostChoices, problems: list[Problem]
) -> tuple[PowerChoices | None, PowerCuts | None]:
    """Read [power] and [power_cuts]; a plant off the grid has no cuts but its own."""
    file = path.name
    power = read_power(tables["power"], f"{file}, [power]", cost, problems) if "power" in tables else None
    if "power_cuts" not in tables:
        return power, None
    where = f"{file}, [power_cuts]"
    cuts = read_power_cuts(tables["power_cuts"], path.parent, where, problems)
    if cuts is not None and not cuts.any and power is None:
        expected = "daily or file: when there is no electricity"
        problems.append(Problem(where, "no hours", expected, 'As in daily = ["18:00-22:00"].'))
    if cuts is not None and cuts.any and "power" in tables:
        advice = (
            "Off the grid the hours without electricity follow from sun and battery: take one of them out."
        )
        problems.append(Problem(where, "hours beside a table [power]", "one of the two", advice))
    return power, cuts


def _read_harvesters(
    tables: Mapping[str, Any], path: Path, problems: list[Problem]
) -> tuple[HarvesterCase, ...]:
    given = tables.get("harvester", [])
    if isinstance(given, Mapping):
        problems.append(
            Problem(path.name, "[harvester]", "[[harvester]]", "Two brackets: there may be several.")
        )
        given = [given]
    if not isinstance(given, list) or not given:
        _missing(path.name, "[[harvester]]", "at least one table that describes a device", problems)
        return ()
    read, names = [], set()
    for number, table in enumerate(given, start=1):
        if not isinstance(table, Mapping):
            problems.append(Problem(f"{path.name}, harvester {number}", repr(table), "a [[harvester]] table"))
            continue
        name = table.get("name")
        where = (
            f"{path.name}, [[harvester]] {name!r}"
            if isinstance(name, str)
            else f"{path.name}, [[harvester]] {number}"
        )
        if not isinstance(name, str) or not name.strip():
            problems.append(
                Problem(f"{where}, name", "nothing" if name is None else repr(name), "a name of its own")
            )
        elif name.strip().lower() in names:
            problems.append(
                Problem(f"{where}, name", f"{name!r} a second time", "a name of its own for each harvester")
            )
        else:
            names.add(name.strip().lower())
        harvester = _read_harvester(table, str(name).strip(), where, path, problems)
        if harvester is not None:
            read.append(harvester)
    return tuple(read)


def _read_harvester(
    table: Mapping[str, Any], name: str, where: str, path: Path, problems: list[Problem]
) -> HarvesterCase | None:
    """Read one [[harvester]] table; adds what is wrong to problems."""
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        expected = "one of " + ", ".join(repr(known) for known in KINDS)
        near = nearest_name(kind, KINDS) if isinstance(kind, str) else ""
        problems.append(Problem(f"{where}, kind", "nothing" if kind is None else repr(kind), expected, near))
        return None
    cls = KINDS[kind].load()
    fields = declared_fields(cls)
    problems += unknown_keys(table, list(dict.fromkeys((*_HARVESTER_KEYS, *fields))), where)
    design, found = read_fields(cls, {key: table[key] for key in table if key in fields}, where)
    modules = 1
    if "modules" in fields:
        modules = getattr(design, "modules", 1)
    elif "modules" in table:
        modules, wrong = read_value(MODULES, table["modules"], f"{where}, modules")
        found += wrong
    sorbent = None
    if KINDS[kind].takes_sorbent:
        sorbent = _read_sorbent(table.get("sorbent"), where, path, found)
        if sorbent is not None and design is not None:
            wrong = _met(design, sorbent)
            found += [replace(problem, where=f"{where}, {problem.where}") for problem in wrong]
    elif "sorbent" in table:
        none = f"none: a {KINDS[kind].title} has no sorbent"
        found.append(Problem(f"{where}, sorbent", repr(table["sorbent"]), none, "Take the line out."))
    problems += found
    if found:
        return None
    given = tuple(key for key in table if key in fields)
    return HarvesterCase(name, kind, str(table.get("sorbent", "")), modules, design, sorbent, given)


def _met(design: Any, sorbent: Any) -> list[Problem]:
    """Give what is wrong where a design meets its sorbent, beyond what the design's own checks have said."""
    checks, layer = getattr(design, "sorbent_checks", None), layer_of(design)
    wrong = list(checks(sorbent)) if checks is not None else []
    told = layer is not None and plain_problems(layer)
    return wrong if told else [*wrong, *layer_problems(design, sorbent)]


def _read_sorbent(given: Any, where: str, path: Path, problems: list[Problem]) -> Any:
    """Load a sorbent by the name of a data sheet, or from a file beside the case."""
    from welkinwell.sorbents.sorbent import sorbent

    if not isinstance(given, str) or not given.strip():
        shown = "nothing" if given is None else repr(given)
        advice = "`welkinwell sorbents` lists them."
        problems.append(Problem(f"{where}, sorbent", shown, "the name or the file of a data sheet", advice))
        return None
    try:
        return sorbent(path.parent / given if given.endswith(".toml") else given)
    except InputError as error:
        problems += [_placed(problem, f"{where}, sorbent") for problem in error.problems]
        return None


def _placed(problem: Problem | str, where: str) -> Problem:
    """Say which harvester asked for a sheet that has a problem."""
    if isinstance(problem, str):
        return Problem(where, problem, "a data sheet that can be used")
    place = where if problem.where == "sorbent" else f"{where}: {problem.where}"
    return Problem(place, problem.given, problem.expected, problem.advice)


def write_starter_case(folder: Path) -> Path:
    """Write the commented starter case and its weather file into a folder; returns the case file."""
    case = folder / "case.toml"
    weather = starter_file("weather", STARTER_WEATHER)
    text = starter_file("cases", "starter.toml").decode("utf-8").replace("@WEATHER@", STARTER_WEATHER)
    make_folder(folder, advice="Choose another.")
    if case.exists():
        raise FileError(
            Problem(str(case), "a case that is already there", "a new folder", "Nothing was written.")
        )
    with together():
        write_bytes(folder / STARTER_WEATHER, weather)
        write_text(case, text)
    return case


def starter_file(room: str, name: str) -> bytes:
    """Give the bytes of a file that is shipped in the package's library."""
    return resources.files("welkinwell").joinpath("library", room, name).read_bytes()


def explained(case: Case, everything: bool = False) -> list[str]:
    """Say in plain words what a case asks for, line by line; everything lists the defaults too."""
    lines = [case.name, *([f"  {case.note}"] if case.note else []), ""]
    lines += [*_site_lines(case), *_supply_lines(case), *_tank_lines(case), ""]
    lines += _table_lines(case) if everything else []
    lines += [f"Note: {words}" for words in (*demand_warnings(case.demand), *_tank_warnings(case))]
    lines += [f"Note: {one.name}: {words}" for one in case.harvesters for words in bed_notes(one)]
    for number, harvester in enumerate(case.harvesters, start=1):
        lines += [f"Harvester {number} of {len(case.harvesters)}: {harvester.name}"]
        lines += [f"  {line}" for line in _harvester_lines(case, harvester, everything)]
        lines.append("")
    return lines


def bed_notes(harvester: HarvesterCase, layered: str = "") -> list[str]:
    """Say what is unusual about a harvester's layer of sorbent; layered: as in `depth_notes`."""
    design, sorbent = harvester.design, harvester.sorbent
    return [*layer_notes(design, sorbent), *depth_notes(design, sorbent, layered)]


def _site_lines(case: Case) -> list[str]:
    overrides = [
        f"{name} {as_text(getattr(case.site, name), entry.unit)}"
        for name, entry in declared_fields(Site).items()
        if entry.kind == "quantity" and getattr(case.site, name) is not None
    ]
    lines = [f"Site: {case.site.name}", f"  weather file {case.site.weather}"]
    if case.site.columns is not None:
        lines.append("  a plain table: [site.columns] says which column is what")
    if case.site.correction is not None:
        lines.append(f"  corrected by the log {case.site.correction.log}, as [site.correction] says")
    return lines + ([f"  set in the case: {', '.join(overrides)}"] if overrides else [])


def _supply_lines(case: Case) -> list[str]:
    """Say what [collection] and [treatment] set, and warn of what cannot work."""
    lines = [*demand_lines(case.demand)]
    for name, table in (("Collection", case.collection), ("Treatment", case.treatment)):
        fields = declared_fields(type(table))
        told = [f"{key} {_written(entry, getattr(table, key))}" for key, entry in fields.items()]
        lines.append(f"{name}: {', '.join(told)}")
    lines.append(
        f"Sound: the nearest bed {case.sound.distance:g} m away, at most {case.sound.night_limit:g} dB(A) "
        f"there at night{'' if case.sound != SoundPlace() else ' (both assumed)'}"
    )
    return [*lines, *_power_lines(case), *_money_lines(case)]


def _power_lines(case: Case) -> list[str]:
    """Say where the electricity comes from and when there is none."""
    lines = []
    if case.power is not None:
        supply = case.power.supply
        sized = [
            name
            for name, value in (("solar modules", supply.pv_area), ("battery", supply.battery))
            if value is None
        ]
        told = f"{' and '.join(sized)} sized here" if sized else "as drawn"
        lines.append(
            f"Electricity: the plant's own solar modules and battery, {told}; "
            f"{plain(100.0 * supply.unserved)} % may stay unserved"
        )
    if case.power_cuts is not None and case.power_cuts.any:
        spans = [f"{first}:00 to {last}:00" for first, last in case.power_cuts.daily]
        spans += [f"the hours of {case.power_cuts.file}"] if case.power_cuts.file else []
        lines.append(f"Power cuts: {', '.join(spans)}; dampers {case.power_cuts.dampers}")
    return lines


def _money_lines(case: Case) -> list[str]:
    """Say whose prices the cost rests on, and what other water the case knows."""
    rows = case.cost.rows.values()
    own = [entry.sentence for entry in rows if entry.given]
    own += ["sorbent" for named in case.cost.sorbent.values() if named]
    whose = f"{len(own)} prices and lives of the case, the rest assumed" if own else "all prices assumed"
    others = [
        f"{other.name} {plain(other.price.value, 4)} {other.price.unit}"
        if other.there
        else f"no {other.name}"
        for other in case.alternatives
        if other.there is not None
    ]
    told = ", ".join(others) if others else "nothing said; published prices are compared"
    return [f"Cost: in {case.cost.currency}, {whose}", f"Other water: {told}"]


def _tank_lines(case: Case) -> list[str]:
    if case.tank is None:
        return ["Tank: none"]
    litres = from_si(case.tank.volume, "L")
    days = litres / case.demand.litres_per_day
    place = "in the shade" if case.tank.shaded else "in the sun"
    return [f"Tank: {plain(litres, 4)} L {place}, {amount(days, 'day')} of the demand when full"]


def _tank_warnings(case: Case) -> list[str]:
    """Say that a tank is smaller than a day's demand."""
    if case.tank is None:
        return []
    usable, day = case.tank.usable * 1000.0, max(case.demand.by_month)
    if usable >= day:
        return []
    return [tank_below_a_day(usable, day)]


def _table_lines(case: Case) -> list[str]:
    """Every field of the tables that are otherwise told in a sentence or not at all."""
    tables = _parsed(case.text, case.path.name)
    power = None if case.power is None else case.power.supply
    lines = []
    sites = tables["site"]
    tables |= {f"site.{name}": sites[name] for name in ("columns", "correction") if name in sites}
    for name, table in (
        ("site.columns", case.site.columns), ("site.correction", case.site.correction), ("tank", case.tank),
        ("field", case.field), ("sound", case.sound), ("power", power), ("power_cuts", case.power_cuts),
        ("device_log", case.device_log),
    ):  # fmt: skip
        if table is None:
            continue
        fields = declared_fields(type(table))
        width = max(map(len, fields))
        told = tables.get(name, {})
        lines.append(f"[{name}]")
        lines += [_field_line(entry, getattr(table, key), width, told) for key, entry in fields.items()]
        if name == "power" and case.power is not None:
            for key, row in case.power.prices.items():
                written = f"{plain(row.value, 6)} {row.unit}".removesuffix(" 1")
                lines.append(_line(key, written, row.sentence, width, row.given))
        if name == "power_cuts" and case.power_cuts is not None:
            spans = ", ".join(f"{first}:00-{last}:00" for first, last in case.power_cuts.daily) or "none"
            months = ", ".join(map(str, case.power_cuts.months)) or "all"
            lines.append(_line("daily", spans, "Spans of local standard time", width, "daily" in told))
            lines.append(_line("months", months, "Months of these spans", width, "months" in told))
        lines.append("")
    return lines


def _harvester_lines(case: Case, harvester: HarvesterCase, everything: bool) -> list[str]:
    fields = declared_fields(type(harvester.design))
    lines = [KINDS[harvester.kind].title]
    if harvester.sorbent is not None:
        lines.append(f"sorbent: {harvester.sorbent.name} (sheet {harvester.sorbent_name})")
        lines += [f"caution: {caution}" for caution in harvester.sorbent.cautions]
    area = harvester.design.basis_area
    total = harvester.modules * area
    basis = KINDS[harvester.kind].basis
    need = case.demand.litres_per_day / total
    lines.append(
        f"{amount(harvester.modules, 'module')} of {plain(area, 4)} m2, "
        f"{plain(total, 4)} m2 of {basis} in all: "
        f"the demand is {plain(need)} L a day from each m2 of {basis}"
    )
    mass = getattr(harvester.design, "sorbent_mass", None)
    if harvester.sorbent is not None and mass is not None:
        lines.append(f"{plain(mass * area * harvester.modules, 4)} kg of dry sorbent in all")
    shown = [name for name in fields if everything or name in harvester.given]
    width = max((len(name) for name in shown), default=0)
    design, given = harvester.design, harvester.given
    lines += [_field_line(fields[name], getattr(design, name), width, given) for name in shown]
    if rest := len(fields) - len(shown):
        told = amount(rest, "more field is at its default", "more fields are at their defaults")
        lines.append(f"{told}; --all lists them")
    return lines


def _written(entry: Declared, value: Any) -> str:
    if value is None:
        return "not given"
    return as_text(value, entry.unit) if entry.kind == "quantity" else str(value).lower()


def _field_line(entry: Declared, value: Any, width: int, given: Container[str]) -> str:
    return _line(entry.name, _written(entry, value), entry.sentence, width, entry.name in given)


def _line(name: str, written: str, sentence: str, width: int, given: bool) -> str:
    return f"  {name:<{width}}  {written:<14} {sentence}{'' if given else ' (default)'}"
