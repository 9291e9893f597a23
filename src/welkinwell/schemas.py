"""JSON Schemas (2020-12) of the files that people and other programs write and read: case, sheet, summary.

Made from the declarations that the readers themselves check by, so that none can drift from the other.
What a schema cannot say (units that pint knows, rules between fields) the readers say:
`welkinwell check`, `welkinwell sorbents`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, Final

from welkinwell import case as cases
from welkinwell.climate.column_map import DeviceColumns, LogCorrection, WeatherColumns
from welkinwell.declare import Declared, declared_fields
from welkinwell.errors import InputError, Problem, nearest_name
from welkinwell.harvesters.kinds import ListedKind
from welkinwell.harvesters.power_cuts import PowerCuts
from welkinwell.plants.summary import MONTHS
from welkinwell.quantities import as_text, variables
from welkinwell.sorbents import sheet as sheets
from welkinwell.sorbents.brine import SALTS
from welkinwell.supply.cost import KIND_KEYS, sorbent_assumptions
from welkinwell.supply.demand import DemandTable, UseTable
from welkinwell.supply.field import Field
from welkinwell.supply.money import library_currency, price_tables
from welkinwell.supply.net_water import Collection, Treatment
from welkinwell.supply.power import OffGridSupply
from welkinwell.supply.sound_level import SoundPlace
from welkinwell.supply.verdict import DECISIONS
from welkinwell.year import SCHEMA_VERSION as SUMMARY_VERSION

Schema = dict[str, Any]

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
_NUMBER: Final = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
_TEXT: Final = {"type": "string", "pattern": r"\S"}


def schema(name: str) -> Schema:
    """Give the JSON Schema of a kind of file.

    name: case, sheet or summary [name]. Returns a JSON-ready dictionary; InputError for another name.
    """
    if name not in SCHEMAS:
        expected = "one of " + ", ".join(SCHEMAS)
        raise InputError(Problem("schema", repr(name), expected, nearest_name(name, SCHEMAS)))
    return {"$schema": DIALECT, **SCHEMAS[name]()}


def field_schema(entry: Declared) -> Schema:
    """Give the schema of one declared field, as a person writes it in a case file."""
    about: Schema = {"description": f"{entry.sentence}; {entry.range_text()}."}
    if entry.default is not None and not entry.required:
        written = entry.kind == "quantity" and entry.unit != "1"
        about["default"] = as_text(entry.default, entry.unit) if written else entry.default
    if entry.kind == "choice":
        return {**about, "enum": list(entry.options)}
    if entry.kind == "flag":
        return {**about, "type": "boolean"}
    if entry.kind == "words":
        return {**about, **_TEXT}
    if entry.kind == "texts":
        return {**about, "type": "array", "items": _TEXT, "default": list(entry.default)}
    if entry.kind == "count":
        return {**about, "type": "integer", **_bounds(entry.low, entry.high, entry.low_open)}
    if entry.unit == "1":
        plain = {"type": "number", **_bounds(entry.low, entry.high, entry.low_open)}
        return {**about, "anyOf": [plain, {"type": "string", "pattern": rf"^\s*{_NUMBER}\s*%?\s*$"}]}
    pattern = rf"^\s*{_NUMBER}\s*(1\s*/|[^\s\d.,+-]).*$"
    return {**about, "type": "string", "pattern": pattern, "examples": [entry.example()]}


def table_schema(cls: type, more: Mapping[str, Schema] | None = None) -> Schema:
    """Give the schema of a table that is read into a declared class, with further keys beside its fields."""
    fields = declared_fields(cls)
    listed = {**(more or {}), **{name: field_schema(entry) for name, entry in fields.items()}}
    return {
        "type": "object",
        "properties": listed,
        "required": [name for name, entry in fields.items() if entry.required],
        "additionalProperties": False,
    }


def _bounds(low: float, high: float, low_open: bool = False) -> Schema:
    found: Schema = {}
    if math.isfinite(low):
        found["exclusiveMinimum" if low_open else "minimum"] = low
    if math.isfinite(high):
        found["maximum"] = high
    return found


def _case_schema() -> Schema:
    known: dict[str, Schema] = {
        "schema_version": {"const": cases.SCHEMA_VERSION},
        "name": {"type": "string", "description": "Name of the case; the site's if not given."},
        "note": {"type": "string", "description": "Anything that a reader should know."},
        "site": table_schema(
            cases.Site,
            {
                "columns": _plain_table_schema(WeatherColumns),
                "correction": _plain_table_schema(LogCorrection),
            },
        ),
        "demand": _demand_schema(),
        "collection": table_schema(Collection),
        "treatment": table_schema(Treatment),
        "tank": table_schema(cases.Tank),
        "field": table_schema(Field),
        "sound": _sound_schema(),
        "cost": _cost_schema(),
        "alternatives": _alternatives_schema(),
        "power": _power_schema(),
        "power_cuts": _power_cuts_schema(),
        "device_log": _plain_table_schema(DeviceColumns),
        "harvester": {"type": "array", "minItems": 1, "items": _harvester_schema()},
    }
    return {
        "title": "welkinwell case",
        "description": 'A case file (TOML) as data: values with a unit are text, as in "2 m2".',
        "type": "object",
        "properties": {name: known.get(name, {}) for name in cases.TABLES},
        "required": ["schema_version", "site", "demand", "harvester"],
        "additionalProperties": False,
    }


def _plain_table_schema(cls: type) -> Schema:
    """Which column of a plain table is what; a code for no value may be written as a number."""
    found = table_schema(cls)
    found["properties"]["missing"]["items"] = {"anyOf": [_TEXT, {"type": "number"}]}
    return found


def _sound_schema() -> Schema:
    """Where it is heard; a level may carry its unit."""
    found = table_schema(SoundPlace)
    decibels = {"type": "string", "pattern": rf"^\s*{_NUMBER}\s*(dB\s*(\(?A\)?)?)?\s*$"}
    for entry in found["properties"].values():
        if "anyOf" in entry:
            entry["anyOf"] = [entry["anyOf"][0], decibels]
    return found


def _demand_schema() -> Schema:
    """Who needs how much: in one of several ways that exclude each other."""
    factor = {"anyOf": [{"type": "number", **_bounds(0.0, 20.0)}, {"type": "string", "pattern": _NUMBER}]}
    twelve = {"type": "array", "items": factor, "minItems": 12, "maxItems": 12}
    factors = {**twelve, "description": "Demand of each month over the mean, January first."}
    litres = {"type": "string", "pattern": rf"^\s*{_NUMBER}\s*[A-Za-z]"}
    use = table_schema(UseTable, {"monthly_factors": factors})
    demand = table_schema(
        DemandTable,
        {
            "monthly_factors": factors,
            "litres_per_day_by_month": {
                **twelve,
                "items": litres,
                "description": 'Water asked for in a day of each month, as in "20 L/day", January first.',
            },
            "hourly_shares": {
                **twelve,
                "minItems": 24,
                "maxItems": 24,
                "description": "Share of the day's water in each hour, from midnight on.",
            },
            "use": {"type": "array", "items": use, "minItems": 1},
        },
    )
    demand["dependentRequired"] = {
        one: [other]
        for who in ("resident", "visitor")
        for one, other in ((f"{who}s", f"litres_per_{who}_day"), (f"litres_per_{who}_day", f"{who}s"))
    }
    excluded = {
        "litres_per_day": ("residents", "visitors", "use", "litres_per_day_by_month"),
        "litres_per_day_by_month": ("residents", "visitors", "use", "monthly_factors"),
        "use": ("residents", "visitors"),
        "hourly_shares": ("hours",),
    }
    demand["dependentSchemas"] = {
        key: {"properties": dict.fromkeys(others, False)} for key, others in excluded.items()
    }
    return demand


def _money_schema(row: Mapping[str, Any]) -> Schema:
    """One price or other assumption: a value, or low, central and high."""
    unit = str(row["unit"])
    money = unit[:3].isupper()
    one: Schema = (
        {"type": "number"} if unit == "1" else {"type": "string", "pattern": rf"^\s*{_NUMBER}\s*[A-Za-z]"}
    )
    if money:
        one["pattern"] = r"^\s*\+?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\s*[A-Za-z]{3}\s*(/.*)?$"
    example = f"{row['value']:g}" if unit == "1" else f'"{row["value"]:g} {unit}"'
    told = f"{row['sentence']}, as in {example}; one value, or low, central and high. {row['where']}."
    return {
        "description": told,
        "anyOf": [one, {"type": "array", "items": one, "minItems": 1, "maxItems": 3}],
    }


def _cost_schema() -> Schema:
    rows = {name: _money_schema(row) for name, row in price_tables()["cost"].items()}
    for name in KIND_KEYS:
        each = {"anyOf": rows[name]["anyOf"]}
        by_kind = {
            "type": "object",
            "properties": dict.fromkeys(cases.KINDS, each),
            "additionalProperties": False,
        }
        rows[name] = {**rows[name], "anyOf": [*rows[name]["anyOf"], by_kind]}
    sorbent = {}
    for name, entry in sorbent_assumptions("").items():
        base = {"unit": entry.unit, "value": entry.value, "sentence": entry.sentence, "where": entry.where}
        each = _money_schema(base)
        table = {"type": "object", "additionalProperties": {"anyOf": each["anyOf"]}}
        sorbent[name] = {"description": each["description"], "anyOf": [*each["anyOf"], table]}
    currency = {"type": "string", "pattern": "^[A-Za-z]{3}$", "description": "Currency of every price."}
    rate = {
        "type": "number",
        **_bounds(1e-6, 1e6),
        "description": f"What one {library_currency()} is worth in the case's currency.",
    }
    listed = {"currency": currency, "library_rate": rate, **rows, **sorbent}
    return {"type": "object", "properties": listed, "additionalProperties": False}


def _alternatives_schema() -> Schema:
    listed = {}
    for name, row in price_tables()["alternative"].items():
        each = _money_schema(row)
        none = {"const": "none", "description": "there is none of it"}
        listed[name] = {"description": each["description"], "anyOf": [none, *each["anyOf"]]}
    return {"type": "object", "properties": listed, "additionalProperties": False}


def _power_schema() -> Schema:
    """Electricity off the grid, and its prices."""
    prices = {name: _money_schema(row) for name, row in price_tables()["power"].items()}
    return table_schema(OffGridSupply, prices)


def _power_cuts_schema() -> Schema:
    """Hours without electricity."""
    span = {"type": "string", "pattern": r"^\s*\d{1,2}(:00)?\s*-\s*\d{1,2}(:00)?\s*$"}
    return table_schema(
        PowerCuts,
        {
            "daily": {
                "type": "array",
                "items": span,
                "description": 'Spans of local standard time without electricity, as in "18:00-22:00".',
            },
            "months": {
                "type": "array",
                "items": {"type": "integer", **_bounds(1, 12)},
                "description": "Months in which they come, 1 to 12; all when not given.",
            },
        },
    )


def _harvester_schema() -> Schema:
    """Each kind has its own fields: the kind chooses the table."""
    head: dict[str, Schema] = {
        "name": {**_TEXT, "description": "A name of its own."},
        "kind": {"enum": list(cases.KINDS)},
        "sorbent": {**_TEXT, "description": "A data sheet by name, or the path of a sheet beside the case."},
        "modules": field_schema(cases.MODULES),
    }
    return {
        "type": "object",
        "required": ["name", "kind"],
        "properties": {"kind": head["kind"]},
        "allOf": [
            {
                "if": {"properties": {"kind": {"const": key}}, "required": ["kind"]},
                "then": {"title": kind.title, **_kind_schema(kind, head)},
            }
            for key, kind in cases.KINDS.items()
        ],
    }


def _kind_schema(kind: ListedKind, head: dict[str, Schema]) -> Schema:
    """The table of one kind: one that takes no sorbent refuses the key."""
    if not kind.takes_sorbent:
        head = {name: entry for name, entry in head.items() if name != "sorbent"}
    found = table_schema(kind.load(), head)
    if kind.takes_sorbent:
        found["required"] = [*found.get("required", []), "sorbent"]
    return found


def _sheet_schema() -> Schema:
    tops: dict[str, Schema] = {"schema_version": {"const": sheets.SCHEMA_VERSION}}
    options = {"isotherm.form": sheets.FORMS, "kinetics.shape": sheets.SHAPES, "brine.salt": tuple(SALTS)}
    for key, meaning in {**sheets.TEXTS, **sheets.OPTIONAL_TEXTS}.items():
        words = {"enum": list(options[key])} if key in options else _TEXT
        _put(tops, key, {**words, "description": meaning}, key in sheets.TEXTS)
    for key, meaning in {**sheets.LISTS, **sheets.OPTIONAL_LISTS}.items():
        texts = {"type": "array", "items": {"type": "string"}, "description": meaning}
        _put(tops, key, texts, key in sheets.LISTS)
    for key, rule in sheets.RULES.items():
        _put(tops, key, _number_schema(rule), rule.required)
    isotherm = tops["isotherm"]
    del isotherm["additionalProperties"]
    isotherm["allOf"] = [_form_schema(form) for form in sheets.FORMS]
    isotherm["unevaluatedProperties"] = False
    tops["checks"] = {"type": "array", "items": _check_schema()}
    return {
        "title": "welkinwell sorbent data sheet",
        "description": "A data sheet (TOML) as data: every number says where it comes from.",
        "type": "object",
        "properties": tops,
        "required": [
            name
            for name, content in tops.items()
            if name in sheets.TEXTS or name in sheets.LISTS or content.get("required")
        ]
        + ["schema_version"],
        "additionalProperties": False,
        "$defs": {"number": _number_table()},
    }


def _put(tops: dict[str, Schema], key: str, content: Schema, required: bool) -> None:
    """Put what a dotted key may hold into its table."""
    top, _, name = key.partition(".")
    if not name:
        tops[top] = content
        return
    empty: Schema = {"type": "object", "properties": {}, "required": [], "additionalProperties": False}
    table = tops.setdefault(top, empty)
    table["properties"][name] = content
    if required:
        table["required"].append(name)


def _number_table() -> Schema:
    spread = {"type": "number", "minimum": 0.0}
    span = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
    return {
        "type": "object",
        "properties": {
            "value": {"type": "number"},
            "unit": {**_TEXT, "description": "a unit as text, '1' for a plain number"},
            "spread": {"anyOf": [spread, span], "description": "one standard deviation, or [low, high]"},
            "source": {
                **_TEXT,
                "description": f"a key of sources.bib, {sheets.OWN_SOURCE!r}, or {sheets.NO_SOURCE!r}",
            },
            "where": {**_TEXT, "description": "place in the source, or how the number came about"},
            "how": {"enum": list(sheets.HOW)},
            "seen": {"enum": list(sheets.SEEN)},
            "note": {"type": "string"},
        },
        "required": ["value", "unit", "spread", "source", "where", "how", "seen"],
        "additionalProperties": False,
        "if": {"properties": {"source": {"const": sheets.NO_SOURCE}}},
        "then": {"properties": {"how": {"enum": ["estimated", "assumed"]}}},
    }


def _number_schema(rule: sheets.Rule) -> Schema:
    """A number with its provenance; its bounds are checked where it is written in the rule's own unit."""
    units = " or ".join(unit for unit in (rule.unit, rule.other_unit) if unit)
    return {
        "$ref": "#/$defs/number",
        "description": f"{rule.sentence} [{units}], {rule.low:g} to {rule.high:g}",
        "if": {"properties": {"unit": {"const": rule.unit}}},
        "then": {"properties": {"value": _bounds(rule.low, rule.high)}},
    }


def _form_schema(form: str) -> Schema:
    """What the isotherm's table holds beside the rest when it has this form."""
    properties = {key: _number_schema(rule) for key, rule in sheets.FORM_RULES[form].items()}
    required = [key for key, rule in sheets.FORM_RULES[form].items() if rule.required]
    for key, (rules, fewest, most) in sheets.FORM_TABLES.get(form, {}).items():
        one: Schema = {
            "type": "object",
            "properties": {name: _number_schema(rule) for name, rule in rules.items()},
            "required": list(rules),
            "additionalProperties": False,
        }
        properties[key] = {"type": "array", "items": one, "minItems": fewest, "maxItems": most}
        required += [key] if fewest else []
    return {
        "if": {"properties": {"form": {"const": form}}, "required": ["form"]},
        "then": {"properties": properties, "required": required},
    }


def _check_schema() -> Schema:
    """A published figure to compare with, at a loading or at a relative humidity."""
    state = {
        name: {"description": f"{rule.sentence}, as in '25 {rule.unit}'", "type": ["string", "number"]}
        for name, rule in sheets.CHECK_STATE.items()
    }
    return {
        "type": "object",
        "properties": {
            "of": {"enum": list(sheets.CHECK_OF)},
            "expected": {"$ref": "#/$defs/number"},
            "comment": {"type": "string"},
            "used_in_sheet": {
                "description": "whether a number of the sheet was taken from it",
                "type": "boolean",
            },
            **state,
        },
        "required": ["of", "expected", *(n for n, rule in sheets.CHECK_STATE.items() if rule.required)],
        "oneOf": [{"required": ["loading"]}, {"required": ["relative_humidity"]}],
    }


# What stands in every harvester's entry, in their order; null where a figure has no meaning
_FIGURES: Final = (
    *("litres_per_day", "litres_per_m2_day", "litres_per_m2_footprint_day", "litres_per_kg_day"),
    *("litres_condensed_per_day", "litres_delivered_per_day", "litres_spilled_per_day"),
    *("share_of_days_met", "share_of_demand_met", "longest_shortfall_days"),
    *("sun_kwh_per_litre", "heat_kwh_per_litre", "electricity_kwh_per_litre"),
    *("latent_efficiency", "second_law_efficiency"),
)
_WITHOUT_WATER: Final = ("sun_kwh_per_litre", "heat_kwh_per_litre", "electricity_kwh_per_litre")
_WITHOUT_SUN: Final = ("latent_efficiency", "second_law_efficiency")
_OFTEN: Final = (
    *("highest_bed_temperature_celsius", "condenser_over_air_kelvin", "litres_per_kg_day"),
    *("water_outside_temperature_range", "water_outside_potential_range"),
)
_TEXTS: Final = {"type": "array", "items": {"type": "string"}}
_BALANCE: Final = ("water_residual_relative", "energy_residual_relative", "largest_flow_difference")


def _figure(name: str) -> Schema:
    """A figure that people read, from its row in quantities.toml."""
    row = variables()[name]
    unit = "" if row.unit == "1" else f" [{row.unit}]"
    nullable = name in (*_WITHOUT_WATER, *_WITHOUT_SUN, *_OFTEN)
    return {
        "type": ["number", "null"] if nullable else "number",
        **_bounds(row.low, row.high),
        "description": f"{row.long_name}{unit}",
    }


def _summary_schema() -> Schema:
    texts = {"type": "array", "items": {"type": "string"}}
    number = {"type": "number"}
    site = {
        "type": "object",
        "properties": {
            "name": {"type": "string"},
            "latitude": {**number, **_bounds(-90, 90), "description": "north positive [deg]"},
            "longitude": {**number, **_bounds(-180, 180), "description": "east positive [deg]"},
            "elevation": {**number, "description": "above the sea [m]"},
            "utc_offset": {**number, **_bounds(-14, 14), "description": "site's standard time [h]"},
        },
        "required": ["name", "latitude", "longitude", "elevation", "utc_offset"],
    }
    weather = {
        "type": "object",
        "properties": {
            "source": {"type": "string"},
            "licence": {"type": "string"},
            "hours": {"type": "integer", "minimum": 1},
            "repairs": {"type": "object", "additionalProperties": {"type": "integer", "minimum": 0}},
            "warnings": texts,
            "notes": texts,
            "hash": {"type": "string"},
            "log_correction": {
                "type": "object",
                "description": "how a log of the site moved the air of the weather file, where one did",
            },
        },
        "required": ["source", "licence", "hours", "repairs", "warnings", "hash"],
    }
    return {
        "title": "welkinwell summary",
        "description": "summary.json of `welkinwell run`. Later versions may add keys.",
        "type": "object",
        "properties": {
            "schema_version": {"const": SUMMARY_VERSION},
            "case": {"type": "string"},
            "note": {"type": "string"},
            "site": site,
            "weather": weather,
            "demand_litres_per_day": {**number, "exclusiveMinimum": 0},
            "tank_litres": {"type": ["number", "null"], "exclusiveMinimum": 0},
            "verdict": {
                "type": "object",
                "properties": {"decision": {"enum": list(DECISIONS)}, "sentence": {"type": "string"}},
                "required": ["harvester", "decision", "sentence", "reasons", "alternatives"],
                "description": "whether to build, of the harvester most worth building",
            },
            "harvesters": {"type": "array", "minItems": 1, "items": _harvester_summary()},
            "left_out": {**texts, "description": "what --quick did without; empty in a whole answer"},
            "version": {"type": "string"},
            "citations": {**texts, "description": "keys of sources.bib"},
        },
        "required": [
            *("schema_version", "case", "site", "weather", "demand_litres_per_day", "tank_litres"),
            *("harvesters", "version", "citations"),
        ],
    }


def _harvester_summary() -> Schema:
    return {
        "type": "object",
        "properties": {**_device_and_year(), **_around_the_device(), "warnings": _TEXTS},
        "required": [
            "name",
            "kind",
            "area_basis",
            "sorbent",
            *_FIGURES,
            "litres_by_month",
            "balance",
            "worst_month",
            "warnings",
        ],
    }


def _device_and_year() -> dict[str, Any]:
    """What a harvester is, and what its year gives."""
    row = variables()["litres_by_month"]
    month = {"type": "number", **_bounds(row.low, row.high)}
    by_month = {"type": "array", "items": month, "minItems": 12, "maxItems": 12}
    account = {"type": "object", "additionalProperties": {"type": "number"}}
    residuals: Schema = {
        "type": "object",
        "properties": {name: _figure(name) for name in _BALANCE},
        "required": list(_BALANCE),
    }
    return {
        "name": {"type": "string"},
        "kind": {"enum": list(cases.KINDS)},
        "area_basis": {
            "enum": sorted({listed.basis for listed in cases.KINDS.values()}),
            "description": "what the m2 of litres_per_m2_day are; compare only where it is the same",
        },
        "depth": {
            "type": ["string", "null"],
            "description": "how finely the sorbent layer was computed; null where a kind has one way",
        },
        "layered_litres_per_m2_day": {
            "type": ["number", "null"],
            "minimum": 0,
            "description": "with the layer in cells, where it is too deep to be computed as one",
        },
        "sorbent": {"type": ["string", "null"], "description": "data sheet; null for kinds without one"},
        **{name: _figure(name) for name in (*_FIGURES, *_OFTEN)},
        "litres_by_month": {
            **by_month,
            "description": f"{row.long_name} [{row.unit}]; adds up to the year",
        },
        "balance": residuals,
        "worst_month": {
            "enum": [*MONTHS, None],
            "description": "with the fewest litres a day; null in a year without water",
        },
        "water_account_kg_per_m2": {
            **account,
            "description": "where the water taken up went, over the area of area_basis",
        },
    }


def _around_the_device() -> dict[str, Any]:
    """What a harvester's summary says beyond its own year: delivery, cost, decision, power, limits."""
    return {
        "delivered": {
            "type": "object",
            "description": "from the gutter to the tap, and tank against area",
        },
        "cost": {
            "type": "object",
            "properties": {"currency": {"type": "string", "pattern": "^[A-Z]{3}$"}},
            "description": "of a delivered litre: central, exceeded in 90, 50 and 10 % of draws, by part",
        },
        "verdict": {
            "type": "object",
            "properties": {"decision": {"enum": list(DECISIONS)}},
            "description": "whether to build this harvester",
        },
        "parts": {"type": "array", "items": {"type": "object"}, "description": "areas and masses"},
        "field": {"type": "object", "description": "shade, dried air and spares"},
        "power": {
            "type": ["object", "null"],
            "description": "solar modules, battery and what they leave unserved; null on the grid",
        },
        "hours_without_power": {
            "type": "number",
            "minimum": 0,
            "description": "hours of the year in which power cuts keep the device off [h]",
        },
        "limits": {"type": "object", "description": "what no device can pass at this place"},
        "safeguards": {"type": "object", "description": "what can hurt people, and what to test for"},
        "limiting_step_by_month": {
            **_TEXTS,
            "type": ["array", "null"],
            "minItems": 12,
            "maxItems": 12,
            "description": "what holds the litres back; null where it was left out",
        },
    }


SCHEMAS: Final[Mapping[str, Callable[[], Schema]]] = {
    "case": _case_schema,
    "sheet": _sheet_schema,
    "summary": _summary_schema,
}
