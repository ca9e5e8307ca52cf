"""The one way to declare a field: what it takes, its bounds, its words, its default.

    @dataclass(frozen=True)
    class Supply(Part):
        voltage: Amount = field("voltage", "open-circuit voltage", 14.4, low=1.0, high=60.0)

A field is read where it is declared, at construction, in ``dataclasses.replace`` and from a file
alike: an SI number, text with a unit or a pint quantity becomes a checked SI float. Everything
else comes from the declaration: the scenario reference, the errors with near matches, reading and
writing files, dotted names. Types are as they are: an ``Amount`` takes a float, a text or a pint
quantity and gives a float.
"""

from __future__ import annotations

import dataclasses
import inspect
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, ClassVar, Generic, Protocol, Self, TypeVar, overload

from n2osim.errors import InputError, UnknownNameError, choice, did_you_mean
from n2osim.numbers import number_words
from n2osim.unit_table import DIMENSIONS
from n2osim.units import format_quantity, parse

_AMBIENT: ContextVar[float | None] = ContextVar("ambient pressure for reading", default=None)
MISSING: Any = dataclasses.MISSING
In = TypeVar("In", contravariant=True)
Out = TypeVar("Out", covariant=True)


class HasUnits(Protocol):
    """A pint quantity, as far as reading it goes."""

    @property
    def magnitude(self) -> Any: ...
    @property
    def units(self) -> Any: ...


Given = float | str | HasUnits
"""What a quantity may be given as: SI number, text with a unit, pint quantity."""
Show = Callable[[float, str], str]
"""From value (SI) and kind of quantity to text with its unit."""


class Typed(Generic[In, Out]):
    """Type of a field that takes ``In`` and gives ``Out``; :func:`field` makes it."""

    if TYPE_CHECKING:

        @overload
        def __get__(self, instance: None, owner: type) -> Self: ...
        @overload
        def __get__(self, instance: object, owner: type) -> Out: ...
        def __get__(self, instance: Any, owner: Any) -> Any: ...
        def __set__(self, instance: object, value: In) -> None: ...


Amount = Typed[Given, float]
MaybeAmount = Typed[Given | None, float | None]
Pairs = tuple[tuple[float, float], ...]
MaybePairs = Typed[Sequence[Sequence[Given]] | None, Pairs | None]


@contextmanager
def reading_at(ambient: float | None) -> Iterator[None]:
    """While active, psia for a gauge field (or psig for an absolute one) uses ``ambient``, Pa."""
    token = _AMBIENT.set(ambient)
    try:
        yield
    finally:
        _AMBIENT.reset(token)


def reading_ambient() -> float | None:
    """The ambient pressure (Pa) that is active for reading, or None."""
    return _AMBIENT.get()


def words_of(class_name: str) -> str:
    """``PressureSwitch`` -> ``pressure switch``."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", class_name).lower()


@contextmanager
def inside(*path: str | int) -> Iterator[None]:
    """Errors raised inside say that they are about this entry (``InputError.path``)."""
    try:
        yield
    except InputError as problem:
        problem.path = (*path, *problem.path)
        raise


# --- what a field takes --------------------------------------------------------------------------
class Kind:
    """What a field takes; ``takes`` and ``valid`` are the words of the reference."""

    takes = "list"
    valid = ""

    def read(self, value: Any, label: str, owner: Any) -> Any:
        """The checked value; ``owner`` is the object under construction (earlier fields set)."""
        raise NotImplementedError

    def plain(self, value: Any) -> Any:
        """The value in numbers, texts, lists and tables, as a file holds it."""
        return value

    def default_words(self, value: Any) -> str:
        """A default in the words of the reference."""
        return f'`"{value}"`' if isinstance(value, str) and value else ""


@dataclasses.dataclass(frozen=True)
class Number(Kind):
    """A quantity of the kind ``dimension`` between limits in SI."""

    dimension: str
    low: float | None = None
    high: float | None = None
    low_open: bool = False
    remedy: str = ""
    _low: float = dataclasses.field(init=False, repr=False, compare=False)
    _high: float = dataclasses.field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        least = DIMENSIONS[self.dimension].low if self.low is None else self.low
        object.__setattr__(self, "_low", -math.inf if least is None else least)
        object.__setattr__(self, "_high", math.inf if self.high is None else self.high)

    @property
    def takes(self) -> str:  # type: ignore[override]
        return DIMENSIONS[self.dimension].label

    @property
    def valid(self) -> str:  # type: ignore[override]
        low, high = (
            number_words(x, self.dimension) if math.isfinite(x) else ""
            for x in (self._low, self._high)
        )
        if low and high:
            return f"{low} to {high}"
        return f"from {low}" if low else (f"up to {high}" if high else "")

    def read(self, value: Any, label: str, owner: Any) -> float:
        # A plain number well inside needs no second look; everything else is read with care.
        if type(value) is float and self._low < value < self._high:
            return value
        ends: dict[str, Any] = {"low": self.low, "high": self.high, "low_open": self.low_open}
        at = _AMBIENT.get()
        return parse(value, self.dimension, name=label, ambient=at, remedy=self.remedy, **ends)


@dataclasses.dataclass(frozen=True)
class Whole(Kind):
    """A whole number between two."""

    low: int
    high: int
    remedy: str = ""
    takes = "whole number"

    @property
    def valid(self) -> str:  # type: ignore[override]
        return f"{self.low} to {self.high}"

    def read(self, value: Any, label: str, owner: Any) -> int:
        whole = not isinstance(value, (bool, str)) and hasattr(value, "__index__")
        whole = whole or (isinstance(value, float) and value.is_integer())  # as numpy has it
        if whole and self.low <= int(value) <= self.high:
            return int(value)
        valid = f"a whole number from {self.low} to {self.high}"
        raise InputError(label, value, "", valid, self.remedy)

    def default_words(self, value: Any) -> str:
        return str(value)


class Choice(Kind):
    """One of several words; a mapping gives synonyms. Capitals are forgiven."""

    takes = "text"

    def __init__(self, *allowed: str, synonyms: Mapping[str, str] | None = None) -> None:
        self.table = {a.casefold(): a for a in allowed} | dict(synonyms or {})
        self.valid = ", ".join(f"`{a}`" for a in allowed)

    def allow(self, word: str) -> None:
        """One word more, of another package."""
        if word.casefold() not in self.table:
            self.table[word.casefold()] = word
            self.valid += f", `{word}`"

    def read(self, value: Any, label: str, owner: Any) -> str:
        return choice(value, self.table, label)


class Text(Kind):
    """A text; ``wanted`` says what it must be where it may not be empty."""

    takes = "text"

    def __init__(self, wanted: str = "") -> None:
        self.wanted = wanted

    def read(self, value: Any, label: str, owner: Any) -> str:
        if isinstance(value, str) and (value.strip() or not self.wanted):
            return value
        raise InputError(label, value, "", self.wanted or "a text", "")


class Flag(Kind):
    """True or false."""

    takes = "true or false"

    def read(self, value: Any, label: str, owner: Any) -> bool:
        if isinstance(value, bool) or type(value).__name__ == "bool_":
            return bool(value)
        raise InputError(label, value, "", "true or false", "")

    def default_words(self, value: Any) -> str:
        return str(value).lower()


class Nested(Kind):
    """A part of its own, ready-made or as a table; ``kinds`` the classes that may stand here.

    Where there are several, the first whose required fields are in the table is made. ``none``:
    None may stand here too, though it is not the default.
    """

    takes = "table"

    def __init__(self, *kinds: type[Part], none: bool = False) -> None:
        self.kinds = kinds
        self.none = none

    def read(self, value: Any, label: str, owner: Any) -> Any:
        if isinstance(value, self.kinds) or (value is None and self.none):
            return value
        if isinstance(value, Mapping):
            fitting = (k for k in self.kinds if set(required(k)) <= set(value))
            return next(fitting, self.kinds[0]).from_dict(value)
        names = " or ".join(k.__name__ for k in self.kinds)
        entries = sorted(declared(self.kinds[0]), key=lambda n: n not in required(self.kinds[0]))
        told = ", ".join(entries[:6] + ["..."] * (len(entries) > 6))
        valid = f"a {names}, or a table of its entries ({told})"
        raise InputError(label, value, "", valid, "")

    def plain(self, value: Any) -> Any:
        return value.as_dict()


class Several(Kind):
    """A list of one kind, kept as a tuple."""

    def __init__(self, of: Kind, least: int = 0, wanted: str = "a list") -> None:
        self.of, self.least, self.wanted = of, least, wanted

    def read(self, value: Any, label: str, owner: Any) -> tuple[Any, ...]:
        if isinstance(value, (str, Mapping)) or not isinstance(value, Iterable):
            raise InputError(label, value, "", self.wanted, "")
        found = []
        for i, entry in enumerate(value):
            with inside(i):
                found.append(self.of.read(entry, f"{label} {i + 1}", owner))
        if len(found) < self.least:
            raise InputError(label, value, "", self.wanted, "")
        return tuple(found)

    def plain(self, value: Any) -> Any:
        return [self.of.plain(v) for v in value]


class Custom(Kind):
    """Read by a function of (value, label, owner), written by one of the value.

    each : kind of quantity of every entry, where it is a list of quantities.
    """

    def __init__(
        self,
        reader: Callable[[Any, str, Any], Any],
        takes: str = "list",
        valid: str = "",
        writer: Callable[[Any], Any] | None = None,
        each: str = "",
    ) -> None:
        self.reader, self.takes, self.valid, self.writer = reader, takes, valid, writer
        self.each = each

    def read(self, value: Any, label: str, owner: Any) -> Any:
        return self.reader(value, label, owner)

    def plain(self, value: Any) -> Any:
        return _listed(value) if self.writer is None else self.writer(value)


def _listed(value: Any) -> Any:
    if isinstance(value, Part):
        return value.as_dict()
    return [_listed(v) for v in value] if isinstance(value, tuple) else value


# --- the declaration -----------------------------------------------------------------------------
class Declared:
    """Descriptor of one field; ``dataclasses`` reads the default through it."""

    def __init__(self, kind: Kind, words: str, default: Any, shown: str | None) -> None:
        self.kind = kind
        self.words = words
        self.default = default
        self.shown = shown

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name
        self.label = f"{getattr(owner, 'title', None) or words_of(owner.__name__)} "
        self.label += name.replace("_", " ")

    def __get__(self, instance: Any, owner: type | None = None) -> Any:
        if instance is None:
            if self.default is MISSING:
                raise AttributeError(self.name)
            return self.default
        return instance.__dict__[self.name]

    def __set__(self, instance: Any, value: Any) -> None:
        if value is not None or self.default is not None:
            try:  # not `inside`: a study sets a hundred fields a member
                value = self.kind.read(value, self.label, instance)
            except InputError as problem:
                problem.path = (self.name, *problem.path)
                raise
        instance.__dict__[self.name] = value

    @property
    def entry(self) -> str:
        """The field in the docstring of its class: takes, valid range, default, words."""
        facts = ", ".join(x for x in (self.kind.takes, self.kind.valid) if x)
        default = self.default_words.strip("`")
        default = f"; default {default}" if default and self.default is not MISSING else ""
        return f"{self.name} : {facts}{default}\n    {self.words}."

    @property
    def default_words(self) -> str:
        """The default in the words of the reference."""
        if self.shown is not None:
            return self.shown
        if self.default is MISSING:
            return "**required**"
        if self.default is None or self.default == ():
            return ""
        if isinstance(self.kind, Number):
            return number_words(float(self.default), self.kind.dimension)
        return self.kind.default_words(self.default)


def field(
    kind: str | Kind, words: str, default: Any = MISSING, *, shown: str | None = None, **limits: Any
) -> Any:
    """Declare a dataclass field.

    Parameters
    ----------
    kind : a kind of quantity (``"mass"``, ``"gauge_pressure"``; a key of
        :data:`n2osim.unit_table.DIMENSIONS`) or a :class:`Kind`.
    words : what it is, for the reference.
    default : left out for a required field; None makes it optional.
    shown : default in words, where the value does not say it.
    limits : ``low``, ``high`` (SI), ``low_open``, ``remedy`` of a quantity.
    """
    made = Number(kind, **limits) if isinstance(kind, str) else kind
    return Declared(made, words, default, shown)


def declared(cls: type) -> dict[str, Declared]:
    """The declared fields of a class by name, in order."""
    found = {f.name: inspect.getattr_static(cls, f.name, None) for f in dataclasses.fields(cls)}
    return {name: d for name, d in found.items() if isinstance(d, Declared)}


def required(cls: type) -> list[str]:
    """Names of the fields that must be given."""
    return [name for name, d in declared(cls).items() if d.default is MISSING]


@dataclasses.dataclass(frozen=True)
class Way:
    """A key beside a part's own fields that stands for some of them (``dash`` for ``bore``).

    instead_of : keys that it excludes. make : from its value to the fields it stands for.
    """

    kind: Kind
    words: str
    instead_of: tuple[str, ...]
    make: Callable[[Any], dict[str, Any]]


class Part:
    """Base of the frozen dataclasses that describe things, with fields by :func:`field`."""

    ways: ClassVar[Mapping[str, Way]] = {}
    meant: ClassVar[Mapping[str, str]] = {}
    """Names that people use for a field, beside those that look like it."""
    extensible: ClassVar[bool] = False
    """Whether a run calls methods that a subclass overrides."""
    registered: ClassVar[str] = ""
    """Name by which files know a class of another package (:func:`register_kind`)."""
    needs_kind: ClassVar[bool] = False
    """Whether a table of it must say a registered ``kind``."""

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        _refuse_ignored(cls)
        if "__repr__" not in vars(cls):
            cls.__repr__ = Part.__repr__  # type: ignore[method-assign]  # dataclass would write its own
        entries = [d.entry for d in vars(cls).values() if isinstance(d, Declared)]
        if cls.__doc__ and entries:
            cls.__doc__ = "\n".join([inspect.cleandoc(cls.__doc__), "", _HEAD, *entries])

    def __repr__(self) -> str:
        """What is not as it is by default, in the shop's units; the name alone where it has one."""
        if name := vars(self).get("name"):
            return f"<{type(self).__name__} {name}>"
        shown = (
            f"{name}={_shown(d.kind, value)}"
            for name, d in declared(type(self)).items()
            if (value := getattr(self, name)) != d.default
        )
        return f"{type(self).__name__}({', '.join(shown)})"

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers (SI), texts, lists and dicts; what is None is left out."""
        return _named(type(self)) | {
            name: d.kind.plain(value)
            for name, d in declared(type(self)).items()
            if (value := getattr(self, name)) is not None
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any], *, ambient: float | None = None) -> Self:
        """Inverse of :meth:`as_dict`; texts with units are understood too.

        ``ambient`` (Pa) serves pressures given in the other reference. Unknown keys raise
        :class:`UnknownNameError` with a near match, missing ones :class:`InputError`.
        """
        found, data = _meant_kind(cls, data)
        with reading_at(_AMBIENT.get() if ambient is None else ambient):
            return found._make(take_ways(found, check_keys(found, data)))

    @classmethod
    def _make(cls, data: dict[str, Any]) -> Self:
        missing = [name for name in required(cls) if name not in data]
        if missing:
            label, given = words_of(cls.__name__), ", ".join(map(str, data))
            needs = f"an entry {missing[0]!r} (a {label} needs {missing[0]!r})"
            raise InputError(label, given, "", needs, f"add {', '.join(missing)}")
        with about(data):
            return cls(**data)


def _shown(kind: Kind, value: Any) -> str:
    dimension = getattr(kind, "dimension", "")
    shown = dimension and isinstance(value, float)
    return repr(format_quantity(value, dimension) if shown else value)


_HEAD = "Parameters\n----------"
REGISTERED: dict[str, type[Part]] = {}
"""Classes of other packages by the ``kind`` that a file names."""
P = TypeVar("P", bound=type[Part])


def register_kind(name: str, cls: P) -> P:
    """Let tables with ``kind = name`` make this class; InputError for a name that is taken."""
    taken = REGISTERED.get(name)
    if taken is not None and (taken.__module__, taken.__qualname__) != (
        cls.__module__,
        cls.__qualname__,
    ):
        where = f"a name that is free: {taken.__module__} has it"
        raise InputError("registered kind", name, "", where, "choose another name")
    cls.registered = name
    REGISTERED[name] = cls
    return cls


def _named(cls: type[Part]) -> dict[str, Any]:
    """How a file tells a class of another package; InputError for one that none knows."""
    name = vars(cls).get("registered", "")
    outside = cls.extensible and cls.__module__.partition(".")[0] != __name__.partition(".")[0]
    if outside and not name and not getattr(cls, "kind", ""):
        valid = "a class that is registered, so that a file can name it"
        remedy = "decorate it with n2osim.extend.kind (n2osim/docs/extending.md)"
        raise InputError(words_of(cls.__name__), "written down", "", valid, remedy)
    return {"kind": name} if name else {}


def _meant_kind(cls: type[Part], data: Any) -> tuple[Any, Any]:
    """The class of another package that a table's ``kind`` names, and the table without it."""
    own = next(c for c in cls.__mro__ if not vars(c).get("registered"))
    fields = getattr(cls, "__dataclass_fields__", {})
    known_kind = isinstance(data, Mapping) and "kind" in data and "kind" not in fields
    if not known_kind and not (cls is own and cls.needs_kind):
        return cls, data
    known = {name: c for name, c in REGISTERED.items() if issubclass(c, own)}
    given = data.get("kind") if isinstance(data, Mapping) else data
    if given not in known:
        hint = did_you_mean(str(given), known)
        with inside("kind"):
            raise UnknownNameError(
                f"{words_of(own.__name__)} kind",
                given,
                "",
                f"one that is registered: {', '.join(known) or 'none is'}",
                hint or "import the package that registers it first",
            )
    return known[data["kind"]], {k: v for k, v in data.items() if k != "kind"}


def _refuse_ignored(cls: type[Part]) -> None:
    """Refuse a subclass with a method of its own that a run would never call."""
    for name in vars(cls):
        for base in cls.__mro__[1:]:
            old = vars(base).get(name)
            if name.startswith("_") or base is Part or getattr(base, "extensible", True):
                continue
            if isinstance(old, (property, classmethod)) or callable(old):
                raise InputError(
                    f"{cls.__name__}.{name}",
                    "overridden",
                    "",
                    f"a subclass of {base.__name__} that only adds to it",
                    f"a run reads the fields of a {words_of(base.__name__)} and would never call "
                    "this: give its fields other values, or register what may be registered "
                    "(n2osim.extend; n2osim/docs/extending.md)",
                )


@contextmanager
def about(data: Mapping[str, Any]) -> Iterator[None]:
    """Errors raised inside that say no entry are about the one of ``data`` that they name."""
    try:
        yield
    except InputError as problem:
        if not problem.path:
            quantity = problem.quantity.casefold()
            named = [k for k in data if isinstance(k, str) and k.replace("_", " ") in quantity]
            problem.path = (max(named, key=len),) if named else ()
        raise


def take_ways(cls: type[Part], data: dict[str, Any]) -> dict[str, Any]:
    """``data`` with the keys that stand for fields replaced by those fields."""
    label = words_of(cls.__name__)
    for key, way in cls.ways.items():
        if data.get(key) is None:
            continue
        for other in way.instead_of:
            if other in data:
                with inside(other):
                    raise InputError(
                        f"{label} {other}", data[other], "", f"excludes {key!r}", "give one of them"
                    )
        with inside(key):
            value = way.kind.read(data.pop(key), f"{label} {key.replace('_', ' ')}", None)
            data |= way.make(value)
    return data


def check_keys(cls: type[Part], data: Any) -> dict[str, Any]:
    """``data`` as a dict whose keys are fields of ``cls`` or stand for some."""
    label = words_of(cls.__name__)
    if not isinstance(data, Mapping):
        raise InputError(label, data, "", "a table of entries", "")
    known = [*declared(cls), *cls.ways]
    for key in data:
        if key not in known:
            with inside(key):
                raise unknown_key(f"{label} entry", key, known, cls.meant)
    return dict(data)


def unknown_key(
    what: str, key: Any, known: Sequence[str], meant: Mapping[str, str]
) -> UnknownNameError:
    """The error for a key that does not exist, with what was meant or what looks like it."""
    hint = f"did you mean {meant[key]!r}?" if key in meant else did_you_mean(key, known)
    return UnknownNameError(what, key, "", "" if hint else ", ".join(known), hint)
