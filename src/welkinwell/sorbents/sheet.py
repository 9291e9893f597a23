"""The data sheet of a sorbent: one TOML file, whole, in which every number says where it comes from.

A number is a table {value, unit, spread, source, where, how, seen}, with an optional note:
    spread   one standard deviation in the same unit, or [low, high] within which the value is believed to lie
    source   a key of sources.bib, "own data" for your own measurement (where says the file), or "none" for an
             estimate or an assumption without a source
    where    place in the source, or how the number came about
    how      measured | fitted | computed | estimated | assumed
    seen     source | second-hand | memory
Published heats stand under [[checks]]; they are compared, and never used unless `used_in_sheet = true`.
Reading a sheet reports every problem at once, with file, key, value and range.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

from welkinwell.errors import Problem, QuantityError, SheetError, nearest_name
from welkinwell.quantities import as_text, scale, to_si
from welkinwell.sorbents.brine import SALTS
from welkinwell.sources import sources
from welkinwell.text_file import read_toml

SCHEMA_VERSION: Final = 1
HOW: Final = ("measured", "fitted", "computed", "estimated", "assumed")
SEEN: Final = ("source", "second-hand", "memory")
FORMS: Final = (
    "sips_terms",
    "toth",
    "dubinin_astakhov",
    "dual_site_langmuir",
    "dual_site_sips",
    "gab",
    "freundlich",
    "salt_hydrates",
)
SHAPES: Final = ("sphere", "slab")
DRIVES: Final = ("loading", "potential")
NO_SOURCE: Final = "none"
OWN_SOURCE: Final = "own data"
_NUMBER_KEYS: Final = ("value", "unit", "spread", "source", "where", "how", "seen")


@dataclass(frozen=True)
class Rule:
    """What a number of a sheet must be: its unit, its possible range in that unit, and what it means."""

    unit: str
    low: float
    high: float
    sentence: str
    required: bool = True
    other_unit: str = ""


@dataclass(frozen=True)
class Number:
    """One number of a sheet in SI, with where it comes from. low and high span its spread."""

    value: float
    low: float
    high: float
    unit: str
    source: str
    where: str
    how: str
    seen: str
    note: str = ""

    @property
    def text(self) -> str:
        """The value in the sheet's own unit."""
        return f"{self.value:.6g} USD/kg" if self.unit == "USD/kg" else as_text(self.value, self.unit)


TERM_RULES: Final = {
    "capacity": Rule("kg/kg", 1e-6, 100.0, "loading q_k that the term can hold"),
    "potential": Rule("J/mol", -5000.0, 5e4, "potential A_k of half filling at 298.15 K"),
    "width": Rule("J/mol", 5.0, 2e4, "width s_k of the step"),
    "slope": Rule("J/(mol K)", -60.0, 60.0, "shift beta_k of A_k with temperature"),
}
SITE_RULES: Final = {
    "capacity": Rule("kg/kg", 1e-6, 100.0, "loading w_i of the site when full"),
    "affinity": Rule("1/Pa", 1e-40, 1e3, "b_i: at infinite temperature (Langmuir), at 298.15 K (Sips)"),
    "energy": Rule("J/mol", 0.0, 1.5e5, "Q_i of b_i"),
}
SIPS_SITE_RULES: Final = {
    **SITE_RULES,
    "exponent": Rule("1", 0.02, 60.0, "n_i at 298.15 K"),
    "exponent_slope": Rule("1", -60.0, 60.0, "alpha_i of n_i(T) = n_i + alpha_i (1 - 298.15 K / T)"),
}
HYDRATE_RULES: Final = {
    "water": Rule("kg/kg", 0.01, 10.0, "water in the hydrate per kg of anhydrous salt"),
    "offset": Rule("J/mol", -1e6, 1e6, "g0 at 298.15 K of its potential g(T) - water A"),
    "offset_slope": Rule("J/(mol K)", -1e4, 1e4, "g1, its slope with temperature"),
    "offset_curve": Rule("J/(mol K**2)", -100.0, 100.0, "g2, its curvature with temperature"),
}
# form: {key of the tables: (rules of one, fewest, most)}
FORM_TABLES: Final[Mapping[str, Mapping[str, tuple[Mapping[str, Rule], int, int]]]] = {
    "sips_terms": {"terms": (TERM_RULES, 1, 10)},
    "dual_site_langmuir": {"sites": (SITE_RULES, 1, 8)},
    "dual_site_sips": {"sites": (SIPS_SITE_RULES, 1, 8)},
    "salt_hydrates": {
        "terms": (TERM_RULES, 1, 7),
        "hydrates": (HYDRATE_RULES, 0, 7),
        "host": (TERM_RULES, 0, 4),
    },
}
MOST_SALT_GROUPS: Final = 10
FORM_RULES: Final[Mapping[str, Mapping[str, Rule]]] = {
    "sips_terms": {},
    "toth": {
        "saturation": Rule("kg/kg", 1e-3, 1e7, "loading q_s at full filling"),
        "affinity": Rule("1/Pa", 1e-30, 1.0, "b0 of b = b0 exp(Q/T), how hard it holds"),
        "energy": Rule("K", 0.0, 15000.0, "Q of b = b0 exp(Q/T)"),
        "exponent": Rule("1", -1.0, 2.0, "n0 of n = n0 + c/T, how even its places are"),
        "exponent_slope": Rule("K", -500.0, 500.0, "c of n = n0 + c/T"),
    },
    "dubinin_astakhov": {
        "capacity": Rule("kg/kg", 1e-6, 5.0, "W0, as loading or as volume", other_unit="m3/kg"),
        "energy": Rule("J/mol", 200.0, 4e4, "characteristic energy E"),
        "exponent": Rule("1", 1.05, 20.0, "exponent n: how steep the filling is"),
    },
    "dual_site_langmuir": {},
    "dual_site_sips": {},
    "gab": {
        "monolayer": Rule("kg/kg", 1e-6, 20.0, "w, loading of the first layer"),
        "affinity": Rule("1", 0.01, 1e6, "C at 298.15 K, how much harder the first layer holds"),
        "affinity_energy": Rule("J/mol", -1e5, 1e5, "D_C of C(T), heat of the first layer over the rest"),
        "multilayer": Rule("1", 0.01, 0.98, "K at 298.15 K, the upper layers against liquid water"),
        "multilayer_energy": Rule("J/mol", -1e4, 1e4, "D_K of K(T), heat of the upper layers over liquid"),
    },
    "freundlich": {
        "prefactor": Rule("kg/kg", -1e3, 1e3, "a0 of a(T), the loading at saturation"),
        "prefactor_1": Rule("1/K", -10.0, 10.0, "a1 of a(T)", required=False),
        "prefactor_2": Rule("1/K**2", -1.0, 1.0, "a2 of a(T)", required=False),
        "prefactor_3": Rule("1/K**3", -0.1, 0.1, "a3 of a(T)", required=False),
        "exponent": Rule("1", -1e3, 1e3, "b0 of b(T), the power of the relative humidity"),
        "exponent_1": Rule("1/K", -10.0, 10.0, "b1 of b(T)", required=False),
        "exponent_2": Rule("1/K**2", -1.0, 1.0, "b2 of b(T)", required=False),
        "exponent_3": Rule("1/K**3", -0.1, 0.1, "b3 of b(T)", required=False),
    },
    "salt_hydrates": {
        "smoothing": Rule("J/mol", 1.0, 500.0, "e, over which one phase gives way to the next"),
        "solution_offset": Rule("J/mol", -1e6, 1e6, "g0 of the solution at 298.15 K, against the dry salt"),
        "solution_offset_slope": Rule(
            "J/(mol K)", -1e4, 1e4, "g1 of the solution, its slope with temperature"
        ),
        "solution_offset_curve": Rule(
            "J/(mol K**2)", -100.0, 100.0, "g2 of the solution, its curvature with temperature"
        ),
    },
}
RULES: Final = {
    "isotherm.fit_rmse": Rule("kg/kg", 0.0, 5.0, "root mean square error of the form at the measured points"),
    "isotherm.fit_largest_error": Rule("kg/kg", 0.0, 5.0, "largest error of the form at the measured points"),
    "isotherm.sample_spread": Rule("1", 0.0, 1.0, "spread of the loading between samples, as a share of it"),
    "isotherm.hysteresis_width": Rule(
        "J/mol", 0.0, 5e3, "how much higher the potential is on release than on uptake", required=False
    ),
    "range.lowest_potential": Rule("J/mol", 0.0, 1e5, "wettest measured point"),
    "range.highest_potential": Rule("J/mol", 0.0, 1e5, "driest measured point"),
    "range.lowest_temperature": Rule("degC", -50.0, 300.0, "coldest measured point"),
    "range.highest_temperature": Rule("degC", -50.0, 300.0, "hottest measured point"),
    "range.extrapolation_spread": Rule(
        "J/(mol K)",
        0.0,
        60.0,
        "spread of the potential at constant loading for each kelvin beyond the points",
    ),
    "kinetics.diffusivity": Rule("m2/s", 1e-18, 10.0, "D0 of D = D0 exp(-Ea/RT)"),
    "kinetics.activation_energy": Rule("J/mol", 0.0, 1e5, "Ea of D = D0 exp(-Ea/RT)"),
    "kinetics.loading_exponent": Rule(
        "1", -20.0, 20.0, "c of D = D(T) exp(c w / (1 + w)), w the loading", required=False
    ),
    "kinetics.swelling": Rule(
        "1", 0.0, 20.0, "volumes of dry layer gained for each kg/kg of loading", required=False
    ),
    "kinetics.length": Rule("mm", 1e-4, 50.0, "grain radius, or thickness of a slab open on one side"),
    "solid.dry_specific_heat": Rule("J/(kg K)", 300.0, 3000.0, "of the dry sorbent"),
    "solid.grain_density": Rule(
        "kg/m3", 100.0, 4000.0, "dry mass over the volume of the grain with its pores"
    ),
    "solid.skeletal_density": Rule(
        "kg/m3", 100.0, 6000.0, "dry mass over the volume of the solid without any pore", required=False
    ),
    "solid.bulk_density": Rule("kg/m3", 50.0, 3000.0, "dry mass over the volume of the layer"),
    "solid.layer_porosity": Rule("1", 0.0, 0.95, "share of the layer that is open between grains"),
    "solid.layer_conductivity": Rule("W/(m K)", 0.01, 5.0, "of the dry layer"),
    "use.regeneration_low": Rule("degC", 20.0, 400.0, "lowest practical temperature of release"),
    "use.regeneration_high": Rule("degC", 20.0, 400.0, "highest practical temperature of release"),
    "use.service_temperature": Rule("degC", 40.0, 700.0, "never to be exceeded"),
    "use.leak_humidity": Rule(
        "1", 0.0, 1.0, "relative humidity above which brine leaves the sorbent", required=False
    ),
    "use.cycles": Rule("1", 0.0, 1e7, "cycles shown in a laboratory", required=False),
    "brine.salt_fraction": Rule(
        "1", 0.01, 0.9, "salt in the brine, to which density and specific heat belong", required=False
    ),
    "brine.density": Rule("kg/m3", 900.0, 2500.0, "of the brine at 25 degC", required=False),
    "brine.specific_heat": Rule("J/(kg K)", 1000.0, 4300.0, "of the brine at 25 degC", required=False),
    "brine.solubility": Rule(
        "1", 0.01, 0.95, "salt fraction of the saturated brine at 25 degC", required=False
    ),
    "brine.crystallisation_humidity": Rule(
        "1", 0.0, 1.0, "relative humidity over the saturated brine at 25 degC", required=False
    ),
    "cost.price": Rule("USD/kg", 0.0, 1e5, "price of the dry sorbent"),
}
TEXTS: Final = {
    "key": "name of the sheet, as its file",
    "name": "name as shown to people",
    "family": "family of the sorbent",
    "sample": "what exactly was measured",
    "isotherm.form": "one of " + ", ".join(FORMS),
    "isotherm.branch": "adsorption, desorption, both or computed",
    "range.rule": "how the temperature is extrapolated",
    "kinetics.shape": "one of " + ", ".join(SHAPES),
    "kinetics.rule": "how the rate came about",
    "use.ageing": "what is known of its ageing",
}
OPTIONAL_TEXTS: Final = {
    "kinetics.driving": "what drives the uptake: loading (when not given), or potential (Darken1948)",
    "brine.salt": "salt whose crystallisation line holds, one of " + ", ".join(SALTS),
    "isotherm.comment": "remarks on the fit",
    "isotherm.low_heat_reason": "why its heat falls below 0.98 of the latent heat, if it does",
}
LISTS: Final = {"cautions": "sentences of warning", "hazards.leaching": "what may pass into the water"}
OPTIONAL_LISTS: Final = {
    "isotherm.points": "CSV files of points beside the sheet",
    "isotherm.correlation": "correlation of the fitted numbers' errors, a row of the lower triangle for each",
}
CHECK_OF: Final = {
    "isosteric_heat": Rule("kJ/mol", 20.0, 150.0, "heat of sorption"),
    "loading": Rule("kg/kg", 0.0, 100.0, "loading"),
}
CHECK_STATE: Final = {
    "temperature": Rule("degC", -50.0, 300.0, "temperature of the check"),
    "loading": Rule("kg/kg", 0.0, 100.0, "loading of the check", required=False),
    "relative_humidity": Rule("1", 0.0, 1.0, "relative humidity of the check", required=False),
}


@dataclass(frozen=True)
class Check:
    """A published figure to compare with, at T [K] and a loading [kg/kg] or a relative humidity [1].

    used_in_sheet: whether a number of the sheet was taken from it, so that meeting it shows nothing.
    """

    of: str
    expected: Number
    temperature: float
    loading: float | None
    relative_humidity: float | None
    comment: str
    used_in_sheet: bool = False


@dataclass(frozen=True)
class Sheet:
    """A checked data sheet: texts, lists and numbers by dotted key, tables of terms and checks in order."""

    file: str
    texts: Mapping[str, str]
    lists: Mapping[str, tuple[str, ...]]
    numbers: Mapping[str, Number]
    tables: Mapping[str, tuple[Mapping[str, Number], ...]] = field(default_factory=dict)
    checks: tuple[Check, ...] = ()

    @property
    def terms(self) -> tuple[Mapping[str, Number], ...]:
        """The Sips terms, of the solid or of the solution."""
        return self.tables.get("terms", ())

    @property
    def sources(self) -> tuple[str, ...]:
        """The keys of sources.bib that its numbers come from, without the checks."""
        entries = [entry for table in self.tables.values() for entry in table]
        found = [*self.numbers.values(), *(number for entry in entries for number in entry.values())]
        return tuple(sorted({number.source for number in found} - {NO_SOURCE, OWN_SOURCE}))

    def value(self, key: str) -> float:
        """Give one number in SI [SI]."""
        return self.numbers[key].value

    def isotherm_number(self, key: str) -> Number:
        """Give a number of the isotherm by its key, as "terms[0].capacity" or "monolayer"."""
        table, _, name = key.rpartition(".")
        if not table:
            return self.numbers[f"isotherm.{name}"]
        group, _, place = table.partition("[")
        return self.tables[group][int(place.rstrip("]"))][name]

    def with_values(self, values: Mapping[str, float]) -> Sheet:
        """Give a sheet with other values of isotherm numbers, by key as in `isotherm_number` [SI].

        A value beyond what a sheet may hold is held at that end.
        """
        numbers = dict(self.numbers)
        tables = {group: [dict(entry) for entry in entries] for group, entries in self.tables.items()}
        for key, value in values.items():
            table, _, name = key.rpartition(".")
            rule = self._rule(table.partition("[")[0], name)
            factor = scale(rule.unit).factor
            held = min(max(value, rule.low * factor), rule.high * factor)
            new = replace(self.isotherm_number(key), value=held)
            if table:
                group, _, place = table.partition("[")
                tables[group][int(place.rstrip("]"))][name] = new
            else:
                numbers[f"isotherm.{name}"] = new
        return replace(
            self, numbers=numbers, tables={group: tuple(entries) for group, entries in tables.items()}
        )

    def _rule(self, group: str, name: str) -> Rule:
        form = self.texts["isotherm.form"]
        return FORM_TABLES[form][group][0][name] if group else FORM_RULES[form][name]

    def correlation(self) -> tuple[tuple[str, ...], list[list[float]]] | None:
        """Give keys and rows of the lower triangle of `isotherm.correlation`; None where there is none."""
        lines = self.lists.get("isotherm.correlation", ())
        if not lines:
            return None
        keys, rows = [], []
        for line in lines:
            key, _, numbers = line.partition(":")
            keys.append(key.strip())
            rows.append([float(part) for part in numbers.split()])
        return tuple(keys), rows


@lru_cache(maxsize=1)
def source_keys() -> frozenset[str]:
    """Return every key of sources.bib."""
    return frozenset(sources())


def read_sheet(path: str | Path | Traversable) -> Sheet:
    """Read and check a data sheet.

    Args: path to the TOML file. Returns: the sheet; a SheetError holds every problem that was found.
    """
    file = Path(path) if isinstance(path, str) else path
    raw = read_toml(file, "a readable TOML data sheet", refusal=SheetError)
    return _Reader(file.name, raw).sheet()


@dataclass
class _Reader:
    """Walks over the parsed file, takes what it knows, and collects every problem."""

    file: str
    raw: dict[str, Any]
    problems: list[Problem] = field(default_factory=list)

    def sheet(self) -> Sheet:
        self._version()
        form = self.raw.get("isotherm", {})
        name = str(form.get("form", "")) if isinstance(form, dict) else ""
        rules = dict(RULES)
        for key, rule in FORM_RULES.get(name, {}).items():
            rules[f"isotherm.{key}"] = rule
        texts = self._texts()
        lists = self._lists()
        numbers = {key: found for key, rule in rules.items() if (found := self._take(key, rule)) is not None}
        groups = FORM_TABLES.get(name, {})
        tables = {key: self._tables(key, *rule) for key, rule in groups.items()}
        checks = self._checks()
        allowed = {*TEXTS, *OPTIONAL_TEXTS, *LISTS, *OPTIONAL_LISTS, *rules, "schema_version", "checks"}
        self._unknown(allowed | {f"isotherm.{key}" for key in groups})
        self._cross_checks(numbers, name)
        if name == "salt_hydrates" and sum(map(len, tables.values())) > MOST_SALT_GROUPS:
            most = f"at most {MOST_SALT_GROUPS} terms, hydrates and host terms together"
            self.report("isotherm", str(sum(map(len, tables.values()))), most)
        made = Sheet(self.file, texts, lists, numbers, tables, checks)
        if not self.problems:
            self._known_numbers(made)
        if self.problems:
            raise SheetError(self.problems)
        return made

    def _known_numbers(self, made: Sheet) -> None:
        """Refuse correlations of numbers that the sheet does not have."""
        for key in (made.correlation() or ((), []))[0]:
            try:
                made.isotherm_number(key)
            except (KeyError, IndexError, ValueError):
                self.report(
                    "isotherm.correlation", repr(key), "a number of the isotherm, as terms[0].capacity"
                )

    def report(self, key: str, given: Any, expected: str, advice: str = "") -> None:
        self.problems.append(Problem(f"{self.file}: {key}", str(given), expected, advice))

    def _find(self, key: str) -> Any:
        place: Any = self.raw
        for part in key.split("."):
            place = place.get(part) if isinstance(place, dict) else None
        return place

    def _version(self) -> None:
        given = self.raw.get("schema_version", "nothing")
        if given != SCHEMA_VERSION:
            self.report("schema_version", given, str(SCHEMA_VERSION))

    def _texts(self) -> dict[str, str]:
        texts = {}
        for key, meaning in {**TEXTS, **OPTIONAL_TEXTS}.items():
            given = self._find(key)
            if given is None and key in OPTIONAL_TEXTS:
                continue
            if not isinstance(given, str) or not given.strip():
                self.report(key, "nothing" if given is None else repr(given), f"text: {meaning}")
                continue
            texts[key] = given.strip()
        for key, options in (
            ("isotherm.form", FORMS),
            ("kinetics.shape", SHAPES),
            ("kinetics.driving", DRIVES),
            ("brine.salt", tuple(SALTS)),
        ):
            if key in texts and texts[key] not in options:
                self.report(
                    key, repr(texts[key]), "one of " + ", ".join(options), nearest_name(texts[key], options)
                )
        return texts

    def _lists(self) -> dict[str, tuple[str, ...]]:
        lists = {}
        for key, meaning in {**LISTS, **OPTIONAL_LISTS}.items():
            given = self._find(key)
            if given is None and key in OPTIONAL_LISTS:
                given = []
            if not isinstance(given, list) or not all(isinstance(entry, str) for entry in given):
                self.report(key, "nothing" if given is None else repr(given), f"a list of texts: {meaning}")
                continue
            lists[key] = tuple(given)
        self._correlation(lists.get("isotherm.correlation", ()))
        return lists

    def _correlation(self, lines: tuple[str, ...]) -> None:
        """Refuse what is no lower triangle of correlations."""
        for number, line in enumerate(lines):
            key, colon, numbers = line.partition(":")
            try:
                row = [float(part) for part in numbers.split()]
            except ValueError:
                row = []
            if not (colon and key.strip() and len(row) == number + 1 and all(-1.0 <= x <= 1.0 for x in row)):
                where = f"isotherm.correlation[{number}]"
                self.report(where, repr(line), f'"name: " and {number + 1} numbers from -1 to 1')

    def _take(self, key: str, rule: Rule) -> Number | None:
        given = self._find(key)
        if given is None:
            if rule.required:
                self.report(key, "nothing", f"a number with unit and source: {rule.sentence} [{rule.unit}]")
            return None
        return self._number(key, given, rule)

    def _number(self, key: str, given: Any, rule: Rule) -> Number | None:
        if not isinstance(given, dict):
            self.report(
                key,
                repr(given),
                "a table {" + ", ".join(_NUMBER_KEYS) + "}",
                "Say where the number comes from.",
            )
            return None
        before = len(self.problems)
        for part in _NUMBER_KEYS:
            if part not in given:
                self.report(f"{key}.{part}", "nothing", _MEANING[part])
        for part in sorted(set(given) - {*_NUMBER_KEYS, "note"}):
            self.report(
                f"{key}.{part}", repr(given[part]), "no such key", nearest_name(part, (*_NUMBER_KEYS, "note"))
            )
        self._provenance(key, given)
        unit, value = self._value(key, given, rule)
        low, high = self._spread(key, given, unit, value)
        if len(self.problems) > before:
            return None
        source, where, how, seen, note = (
            str(given.get(part, "")) for part in ("source", "where", "how", "seen", "note")
        )
        return Number(value, low, high, unit, source, where, how, seen, note)

    def _provenance(self, key: str, given: dict[str, Any]) -> None:
        for part, options in (("how", HOW), ("seen", SEEN)):
            if part in given and given[part] not in options:
                advice = nearest_name(str(given[part]), options)
                self.report(f"{key}.{part}", repr(given[part]), "one of " + ", ".join(options), advice)
        if "where" in given and not str(given["where"]).strip():
            self.report(f"{key}.where", "nothing", _MEANING["where"])
        source = given.get("source")
        if source == NO_SOURCE:
            if given.get("how") not in ("estimated", "assumed"):
                self.report(
                    f"{key}.source", repr(source), "a source for a number that is " + str(given.get("how"))
                )
        elif source not in (None, OWN_SOURCE) and str(source) not in source_keys():
            advice = nearest_name(str(source), source_keys())
            self.report(
                f"{key}.source", repr(source), "a key of sources.bib, or 'none' for an estimate", advice
            )

    def _value(self, key: str, given: dict[str, Any], rule: Rule) -> tuple[str, float]:
        value, unit = given.get("value"), given.get("unit")
        wanted = rule.unit
        if rule.other_unit and isinstance(unit, str) and _same_kind(unit, rule.other_unit):
            wanted = rule.other_unit
        if value is None or unit is None:
            return wanted, float("nan")
        if not _is_number(value):
            self.report(f"{key}.value", repr(value), "a finite number")
            return wanted, float("nan")
        try:
            found = _to_si(float(value), unit, wanted)
        except (QuantityError, ValueError):
            self.report(f"{key}.unit", repr(unit), f"a unit of the kind {wanted!r}")
            return wanted, float("nan")
        low, high = _to_si(rule.low, wanted, wanted), _to_si(rule.high, wanted, wanted)
        if not low <= found <= high:
            self.report(
                f"{key}.value",
                f"{value:g} {unit}".removesuffix(" 1"),
                f"{rule.low:g} to {rule.high:g} {wanted}".removesuffix(" 1") + f": {rule.sentence}",
            )
            return wanted, float("nan")
        return str(unit).strip(), found

    def _spread(self, key: str, given: dict[str, Any], unit: str, value: float) -> tuple[float, float]:
        spread = given.get("spread")
        numbers = spread if isinstance(spread, list) else [spread]
        if spread is None or math.isnan(value):
            return value, value
        if not all(_is_number(n) for n in numbers):
            self.report(f"{key}.spread", repr(spread), _MEANING["spread"])
            return value, value
        if not isinstance(spread, list):
            if spread < 0.0:
                self.report(f"{key}.spread", repr(spread), "zero or more")
            factor = 1.0 if unit == "USD/kg" else scale(unit).factor
            return value - spread * factor, value + spread * factor
        if len(spread) != 2:
            self.report(f"{key}.spread", repr(spread), _MEANING["spread"])
            return value, value
        low, high = (_to_si(float(n), unit, unit) for n in spread)
        if not low <= value <= high:
            self.report(f"{key}.spread", repr(spread), f"a range that holds the value {given['value']:g}")
        return low, high

    def _tables(
        self, name: str, rules: Mapping[str, Rule], fewest: int, most: int
    ) -> tuple[dict[str, Number], ...]:
        given = self._find(f"isotherm.{name}")
        if given is None and fewest == 0:
            return ()
        if not isinstance(given, list) or not fewest <= len(given) <= most:
            self.report(
                f"isotherm.{name}",
                "nothing" if given is None else repr(given),
                f"{fewest} to {most} tables [[isotherm.{name}]]",
            )
            return ()
        return tuple(self._table(f"isotherm.{name}[{k}]", table, rules) for k, table in enumerate(given))

    def _table(self, place: str, table: Any, rules: Mapping[str, Rule]) -> dict[str, Number]:
        entry = {}
        for name, rule in rules.items():
            key = f"{place}.{name}"
            if not isinstance(table, dict) or name not in table:
                self.report(key, "nothing", f"a number with unit and source: {rule.sentence} [{rule.unit}]")
            elif (number := self._number(key, table[name], rule)) is not None:
                entry[name] = number
        for name in sorted(set(table) - set(rules)) if isinstance(table, dict) else []:
            self.report(f"{place}.{name}", repr(table[name]), "no such key", nearest_name(name, rules))
        return entry

    def _checks(self) -> tuple[Check, ...]:
        given = self._find("checks") or []
        if not isinstance(given, list) or not all(isinstance(table, dict) for table in given):
            self.report("checks", repr(given), "tables [[checks]]")
            return ()
        return tuple(
            check
            for k, table in enumerate(given)
            if (check := self._check(f"checks[{k}]", table)) is not None
        )

    def _check(self, key: str, table: dict[str, Any]) -> Check | None:
        before = len(self.problems)
        of = table.get("of", "")
        if not isinstance(of, str) or of not in CHECK_OF:
            self.report(f"{key}.of", repr(of), "one of " + ", ".join(CHECK_OF))
            return None
        expected = self._number(f"{key}.expected", table.get("expected"), CHECK_OF[of])
        state: dict[str, float | None] = {}
        for name, rule in CHECK_STATE.items():
            text = table.get(name)
            state[name] = None
            if text is None:
                if rule.required:
                    self.report(f"{key}.{name}", "nothing", f"text with a unit, as in '25 {rule.unit}'")
                continue
            try:
                state[name] = to_si(text, rule.unit, f"{self.file}: {key}.{name}")
            except QuantityError as error:
                self.problems += [p for p in error.problems if isinstance(p, Problem)]
        used = table.get("used_in_sheet", False)
        if not isinstance(used, bool):
            self.report(f"{key}.used_in_sheet", repr(used), "true or false")
        if (state["loading"] is None) == (state["relative_humidity"] is None):
            self.report(key, "loading and relative_humidity both or neither", "one of the two")
        if len(self.problems) > before or expected is None or state["temperature"] is None:
            return None
        return Check(
            of,
            expected,
            state["temperature"],
            state["loading"],
            state["relative_humidity"],
            str(table.get("comment", "")),
            bool(used),
        )

    def _unknown(self, allowed: set[str]) -> None:
        rooms = {key.split(".")[0] for key in allowed}
        for top, content in self.raw.items():
            if top not in rooms:
                self.report(top, "an unknown key", "the keys of a data sheet", nearest_name(top, rooms))
            elif isinstance(content, dict) and top not in allowed:
                for name in content:
                    if f"{top}.{name}" not in allowed:
                        known = [key.split(".")[1] for key in allowed if key.startswith(f"{top}.")]
                        self.report(
                            f"{top}.{name}",
                            "an unknown key",
                            "the keys of a data sheet",
                            nearest_name(name, known),
                        )

    def _cross_checks(self, numbers: dict[str, Number], form: str) -> None:
        def ordered(low: str, high: str) -> None:
            if low in numbers and high in numbers and not numbers[low].value <= numbers[high].value:
                self.report(low, numbers[low].text, f"at most {high} ({numbers[high].text})")

        ordered("range.lowest_potential", "range.highest_potential")
        ordered("range.lowest_temperature", "range.highest_temperature")
        ordered("use.regeneration_low", "use.regeneration_high")
        ordered("use.regeneration_high", "use.service_temperature")
        ordered("solid.bulk_density", "solid.grain_density")
        ordered("solid.grain_density", "solid.skeletal_density")
        ordered("isotherm.fit_rmse", "isotherm.fit_largest_error")
        if form == "toth" and {"isotherm.exponent", "isotherm.exponent_slope"} <= set(numbers):
            for T in (230.0, 450.0):
                n = numbers["isotherm.exponent"].value + numbers["isotherm.exponent_slope"].value / T
                if not 0.03 <= n <= 1.0:
                    self.report("isotherm.exponent", f"n = {n:.3g} at {T:g} K", "n0 + c/T from 0.03 to 1")


_MEANING: Final = {
    "value": "a number",
    "unit": "a unit as text, '1' for a plain number",
    "spread": "one standard deviation, or [low, high]",
    "source": "a key of sources.bib, or 'none' for an estimate",
    "where": "the place in the source, or how the number came about",
    "how": "one of " + ", ".join(HOW),
    "seen": "one of " + ", ".join(SEEN),
}


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _same_kind(unit: str, other: str) -> bool:
    try:
        return scale(unit).dimensions == scale(other).dimensions
    except ValueError:
        return False


def _to_si(value: float, unit: Any, wanted: str) -> float:
    """Convert; money stays as written, since it has no SI unit."""
    if not isinstance(unit, str):
        raise ValueError("a unit is text")
    if wanted == "USD/kg":
        if unit != wanted:
            raise ValueError("prices are in USD/kg")
        return value
    return to_si(value if unit == "1" else f"{value!r} {unit}", wanted)
