"""From the typed form to Python for the compiler: values alone, or values with their slopes.

Slopes are forward: each assigned variable carries the unknowns that it depends on, so that a slope that is
always zero is never worked out, and what a flow uses is found rather than declared. The slope of x in unknown
3 is named x__3. Every printed line ends with the line of the text that it comes from.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from welkinwell.kernels.form import (
    Assign,
    Branch,
    Call,
    Choice,
    Comparison,
    Condition,
    Decide,
    Elementary,
    Expression,
    Flag,
    Given,
    Joined,
    Negative,
    Not,
    Number,
    Operation,
    Result,
    Return,
    Statement,
    Text,
    Unpack,
    Variable,
)
from welkinwell.kernels.marks import is_written_out, plain, slope_places
from welkinwell.kernels.reader import OutsideTheLanguage, read_text
from welkinwell.kernels.slopes import ELEMENTARY

ONE = "1.0"
Partials = dict[str, str]  # variable to the text of the slope in it


class Module:
    """Printed functions that stand in one file, with the functions of the project that they call.

    name: of the kind, part of every printed name, since code read back from the cache is linked by name.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.parts: list[str] = []
        self.space: dict[str, Any] = {}
        self._of: dict[int, str] = {}
        self._written: dict[tuple[int, tuple[int, ...]], WrittenOut] = {}

    def name_of(self, function: Callable[..., Any]) -> str:
        """Name under which a function of the project is called, which no variable of a text has."""
        if id(function) not in self._of:
            own = plain(function)
            name = f"{own.__module__.rpartition('.')[2]}__{own.__name__}"
            self.space[name] = function
            self._of[id(function)] = name
        return self._of[id(function)]

    def with_slopes(self, function: Callable[..., Any], active: tuple[int, ...]) -> WrittenOut:
        """Print a function that is in the language with its slopes in some of its arguments, once."""
        key = (id(function), active)
        if key not in self._written:
            text = read_text(function)
            name = f"{self.name_of(function)}_in_{'_'.join(str(i) for i in active)}_{self.name}"
            printer = Printer(self, text, {text.parameters[i]: i for i in active}, slopes=True)
            lines = printer.printed()
            self.parts.append(f"def {name}({', '.join(text.parameters)}):\n" + "\n".join(lines) + "\n")
            self._written[key] = WrittenOut(name, printer.returned, printer.returned_uses)
        return self._written[key]

    def text(self) -> str:
        """All that was printed, what is called before its callers."""
        return "\n\n".join(self.parts)


class WrittenOut:
    """A printed function with slopes: its name, its number of values, and where the slope of each stands."""

    def __init__(self, name: str, values: int, uses: Sequence[frozenset[int]]):
        self.name = name
        self.values = values
        self.places: list[dict[int, int]] = []
        at = values
        for used in uses:
            self.places.append({argument: at + k for k, argument in enumerate(sorted(used))})
            at += len(used)


class Printer:
    """Prints the body of one text.

    roots: parameters that are unknowns, and the number of each; slopes: whether slopes are printed; zero:
    variables that are zero where a branch does not assign them.
    """

    def __init__(
        self,
        module: Module,
        text: Text,
        roots: Mapping[str, int],
        *,
        slopes: bool,
        zero: Sequence[str] = (),
    ):
        self.module = module
        self.text = text
        self.slopes = slopes
        self.zero = frozenset(zero)
        self.roots = roots
        self.uses: dict[str, frozenset[int]] = {name: frozenset() for name in text.parameters}
        self.uses |= {name: frozenset({number}) for name, number in roots.items()}
        self.partly: set[str] = set()  # has a value in one branch alone
        self.lines: list[str] = []
        self.temporaries = 0
        self.returned = 0
        self.returned_uses: list[frozenset[int]] = []
        self._returns: list[tuple[int, str, list[str], list[dict[int, str]]]] = []

    def printed(self) -> list[str]:
        """Print the whole body."""
        self.block(self.text.body, "    ")
        return [line if isinstance(line, str) else self.return_line(line) for line in self.lines]

    # what a statement becomes

    def block(self, body: Sequence[Statement], pad: str) -> None:
        """Print statements in their order."""
        for statement in body:
            match statement:
                case Assign(name, value, line):
                    self.assign(name, value, line, pad)
                case Decide(name, value, line):
                    self.put(f"{pad}{name} = {self.condition(value, line)}", line)
                    self.uses[name] = frozenset()
                    self.partly.discard(name)
                case Unpack(names, call, line):
                    self.unpack(names, call, line, pad)
                case Branch():
                    self.branch(statement, pad)
                case Return(values, line):
                    self.give_back(values, line, pad)

    def put(self, text: str, line: int) -> None:
        """Add a printed line."""
        self.lines.append(f"{text}  # {line}")

    def refuse(self, words: str, line: int) -> OutsideTheLanguage:
        """Give the error for a line of the text."""
        return OutsideTheLanguage(words, (self.text.file, line, 1, None))

    def assign(self, name: str, value: Expression, line: int, pad: str) -> None:
        """Print an assignment, slopes first: they may read what the variable was."""
        text, partials = self.partials(value, line, pad)
        self.uses[name] = self.chain(name, partials, line, pad)
        self.put(f"{pad}{name} = {text}", line)
        self.partly.discard(name)

    def chain(self, name: str, partials: Partials, line: int, pad: str) -> frozenset[int]:
        """Print the slopes of a variable in unknowns from those in variables; returns the unknowns."""
        found: dict[int, list[str]] = {}
        for variable, partial in partials.items():
            used, by = self.uses[variable], partial
            if self.slopes and len(used) > 1 and not by.isidentifier() and by != ONE:
                by = self.temporary(by, line, pad)
            for unknown in sorted(used):
                inner = ONE if variable in self.roots else f"{variable}__{unknown}"
                term = by if inner == ONE else inner if by == ONE else f"{by} * {inner}"
                found.setdefault(unknown, []).append(term)
        if self.slopes:
            for unknown, terms in sorted(found.items()):
                self.put(f"{pad}{name}__{unknown} = {' + '.join(terms)}", line)
        return frozenset(found)

    def temporary(self, text: str, line: int, pad: str) -> str:
        """Print what is needed more than once under a name of its own."""
        self.temporaries += 1
        name = f"t_{self.temporaries}"
        self.put(f"{pad}{name} = {text}", line)
        return name

    def unpack(self, names: Sequence[str | None], call: Call, line: int, pad: str) -> None:
        """Print a call of which several values are taken."""
        texts, values = self.called(call, line, pad, names)
        for name, partials in zip(names, values, strict=True):
            if name is not None:
                self.uses[name] = self.chain(name, partials, line, pad)
                self.partly.discard(name)
        for name, text in zip(names, texts, strict=True):
            if name is not None:
                self.put(f"{pad}{name} = {text}", line)

    def branch(self, statement: Branch, pad: str) -> None:
        """Print both arms, each with zeros for the slopes that the other one alone has."""
        test = self.condition(statement.test, statement.line)
        before, partly, outer = dict(self.uses), set(self.partly), self.lines
        arms = []
        for body in (statement.yes, statement.no):
            self.uses, self.partly, self.lines = dict(before), set(partly), []
            self.block(body, pad + "    ")
            arms.append((self.lines, self.uses, self.partly, _ends(body)))
        (yes, uses_yes, partly_yes, yes_ends), (no, uses_no, partly_no, no_ends) = arms
        self.lines = outer
        if yes_ends or no_ends:  # one of them goes no further
            self.uses, self.partly = (uses_no, partly_no) if yes_ends else (uses_yes, partly_yes)
        else:
            for mine, other, lines in ((uses_yes, uses_no, yes), (uses_no, uses_yes, no)):
                self.level(mine, other, lines, statement.line, pad + "    ")
            names = {*uses_yes, *uses_no}
            none: frozenset[int] = frozenset()
            self.uses = {name: uses_yes.get(name, none) | uses_no.get(name, none) for name in names}
            self.partly = (
                partly_yes
                | partly_no
                | {name for name in names if name not in uses_yes or name not in uses_no}
            )
        self.put(f"{pad}if {test}:", statement.line)
        self.lines += yes or [f"{pad}    pass"]
        if no:
            self.lines += [f"{pad}else:", *no]

    def level(
        self,
        mine: dict[str, frozenset[int]],
        other: dict[str, frozenset[int]],
        lines: list[Any],
        line: int,
        pad: str,
    ) -> None:
        """Add to an arm the zeros of what only the other one assigns."""
        for name in sorted(other):
            if name not in mine:
                if name not in self.zero:
                    continue
                lines.append(f"{pad}{name} = 0.0  # {line}")
            if self.slopes and name not in self.roots:
                missing = other[name] - mine.get(name, frozenset())
                lines += [f"{pad}{name}__{unknown} = 0.0  # {line}" for unknown in sorted(missing)]

    def give_back(self, values: Sequence[Expression], line: int, pad: str) -> None:
        """Note what is given back; it is printed when the slopes of all returns are known."""
        texts, slopes = [], []
        for value in values:
            text, partials = self.partials(value, line, pad)
            terms: dict[int, list[str]] = {}
            for variable, by in partials.items():
                for unknown in self.uses[variable]:
                    inner = ONE if variable in self.roots else f"{variable}__{unknown}"
                    term = by if inner == ONE else inner if by == ONE else f"{by} * {inner}"
                    terms.setdefault(unknown, []).append(term)
            texts.append(text)
            slopes.append({unknown: " + ".join(each) for unknown, each in terms.items()})
        if self.returned not in (0, len(values)):
            raise self.refuse(f"{len(values)} values are returned here, {self.returned} above", line)
        self.returned = len(values)
        if not self.returned_uses:
            self.returned_uses = [frozenset()] * len(values)
        self.returned_uses = [
            used | frozenset(found) for used, found in zip(self.returned_uses, slopes, strict=True)
        ]
        entry: Any = (line, pad, texts, slopes)
        self.lines.append(entry)

    def return_line(self, entry: tuple[int, str, list[str], list[dict[int, str]]]) -> str:
        """Print a return with a slope, zero where it has none, for each that any return has."""
        line, pad, texts, slopes = entry
        parts = list(texts)
        if self.slopes:
            for used, found in zip(self.returned_uses, slopes, strict=True):
                parts += [found.get(unknown, "0.0") for unknown in sorted(used)]
        comma = "," if len(parts) == 1 else ""
        return f"{pad}return ({', '.join(parts)}{comma})  # {line}"

    # what an expression becomes

    def partials(self, value: Expression, line: int, pad: str) -> tuple[str, Partials]:
        """Text of an expression, and of its slope in each variable that depends on unknowns."""
        match value:
            case Number(number):
                return repr(number), {}
            case Variable(name):
                self.must_have(name, line)
                return name, {name: ONE} if self.uses[name] else {}
            case Given(text):
                return text, {}
            case Negative(of):
                text, slopes = self.partials(of, line, pad)
                return f"(-{text})", {x: f"(-{by})" for x, by in slopes.items()}
            case Operation(symbol, left, right):
                return self.operation(
                    symbol, self.partials(left, line, pad), self.partials(right, line, pad), line
                )
            case Elementary(name, arguments):
                each = [self.partials(argument, line, pad) for argument in arguments]
                texts = [text for text, _ in each]
                rule = ELEMENTARY[name]
                by_argument = [
                    _times(by, slope(*texts)) for (_, by), slope in zip(each, rule.slopes, strict=True)
                ]
                return f"{rule.printed}({', '.join(texts)})", _summed(*by_argument)
            case Choice(test, yes, no):
                condition = self.condition(test, line)
                (a, by_a), (b, by_b) = self.partials(yes, line, pad), self.partials(no, line, pad)
                return f"({a} if {condition} else {b})", {
                    x: f"({by_a.get(x, '0.0')} if {condition} else {by_b.get(x, '0.0')})"
                    for x in {**by_a, **by_b}
                }
            case Result(call, place):
                texts, values = self.called(call, line, pad, None, place)
                return texts[0], values[0]
        raise TypeError(f"{value} is no expression")

    def operation(
        self, symbol: str, left: tuple[str, Partials], right: tuple[str, Partials], line: int
    ) -> tuple[str, Partials]:
        """Text and slopes of two expressions joined."""
        (a, by_a), (b, by_b) = left, right
        text = f"({a} {symbol} {b})"
        if symbol == "+":
            return text, _summed(by_a, by_b)
        if symbol == "-":
            return text, _summed(by_a, {x: f"(-{by})" for x, by in by_b.items()})
        if symbol == "*":
            return text, _summed(_times(by_a, b), _times(by_b, a))
        if symbol == "/":
            return text, _summed(_times(by_a, f"(1.0 / {b})"), _times(by_b, f"(-{text} / {b})"))
        if by_b:
            raise self.refuse("a power's exponent cannot depend on unknowns", line)
        return text, _times(by_a, f"({b} * {a} ** ({b} - 1))")

    def called(
        self, call: Call, line: int, pad: str, names: Sequence[str | None] | None, place: int | None = None
    ) -> tuple[list[str], list[Partials]]:
        """Texts and slopes of what a call returns: all where names are given, else the one at a place."""
        each = [self.partials(argument, line, pad) for argument in call.arguments]
        active = tuple(i for i, (_, by) in enumerate(each) if by)
        text = f"{self.module.name_of(call.function)}({', '.join(argument for argument, _ in each)})"
        places = slope_places(call.function)
        count = 1 if names is None else len(names)
        if active and places is None and not is_written_out(call.function):
            words = f"{call.name} depends on unknowns here and gives no slopes: mark it (kernels.marks)"
            raise self.refuse(words, line)
        if places is not None and names is not None and any(names[1:]):
            raise self.refuse(f"the slopes that {call.name} returns are not for a text: call them _", line)
        if active and places is not None and (wrong := [i for i in active if i not in places]):
            words = f"{call.name} gives no slope in its argument {wrong[0] + 1}, which depends on unknowns"
            raise self.refuse(words, line)
        slopes: list[Partials] = [{} for _ in range(count)]
        if active and places is not None:
            known: list[Mapping[int, int]] = [places, *({} for _ in range(count - 1))]
        elif active:
            printed = self.module.with_slopes(call.function, active)
            if self.slopes:
                text = f"{printed.name}({', '.join(argument for argument, _ in each)})"
            if names is not None and printed.values != count:
                raise self.refuse(f"{call.name} returns {printed.values} values, {count} are taken", line)
            if place is None and names is None and printed.values != 1:
                raise self.refuse(f"{call.name} returns {printed.values} values: take one, [0] say", line)
            known = list(printed.places) if names is not None else [printed.places[place or 0]]
        else:
            known = []
        several = names is not None or (active and self.slopes)
        if several:
            text = self.temporary(text, line, pad)
        for k, at in enumerate(known):
            if names is not None and names[k] is None:
                continue
            slopes[k] = _summed(*(_times(each[i][1], f"{text}[{at[i]}]") for i in active if i in at))
        if names is not None:
            return [f"{text}[{k}]" for k in range(count)], slopes
        if several:
            return [f"{text}[{place or 0}]"], slopes
        return [text if place is None else f"{text}[{place}]"], slopes

    def condition(self, test: Condition, line: int) -> str:
        """Text of a condition; which side is taken has no slope."""
        match test:
            case Comparison(symbol, left, right):
                return f"{self.value(left, line)} {symbol} {self.value(right, line)}"
            case Joined(word, parts):
                return "(" + f" {word} ".join(self.condition(part, line) for part in parts) + ")"
            case Not(of):
                return f"(not {self.condition(of, line)})"
            case Flag(name):
                self.must_have(name, line)
                return name
        raise TypeError(f"{test} is no condition")

    def value(self, of: Expression, line: int) -> str:
        """Text of an expression alone."""
        if isinstance(of, Result) or any(True for _ in _calls(of)):
            raise self.refuse("a condition calls no function of the project: assign it first", line)
        return self.partials(of, line, "")[0]

    def must_have(self, name: str, line: int) -> None:
        """Refuse to read a variable that has no value, or only in one branch."""
        if name not in self.uses:
            raise self.refuse(f"{name} has no value here", line)
        if name in self.partly:
            raise self.refuse(f"{name} has a value in one branch above alone", line)


def _calls(of: Expression) -> Sequence[Result]:
    """Calls within an expression."""
    match of:
        case Result():
            return [of]
        case Negative(inner):
            return _calls(inner)
        case Operation(_, left, right) | Choice(_, left, right):
            return [*_calls(left), *_calls(right)]
        case Elementary(_, parts):
            return [found for part in parts for found in _calls(part)]
    return []


def _ends(body: Sequence[Statement]) -> bool:
    """Whether an arm goes no further than itself."""
    if not body:
        return False
    last = body[-1]
    return isinstance(last, Return) or (isinstance(last, Branch) and _ends(last.yes) and _ends(last.no))


def _times(slopes: Partials, by: str) -> Partials:
    return {x: by if own == ONE else f"{own} * {by}" for x, own in slopes.items()}


def _summed(*slopes: Partials) -> Partials:
    total: Partials = {}
    for each in slopes:
        for x, by in each.items():
            total[x] = f"({total[x]} + {by})" if x in total else by
    return total
