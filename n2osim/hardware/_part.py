"""What all hardware classes share: quantity fields that parse and check, plain-dict round trips.

A field declared as ``power = Quantity("power", low=0)`` accepts an SI float, text with a unit or a
pint quantity at construction (and in ``dataclasses.replace``), checks it, and stores an SI float.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, ClassVar, Protocol, Self, TypeVar, overload

from n2osim.errors import InputError, UnknownNameError, did_you_mean
from n2osim.units import parse

_AMBIENT: ContextVar[float | None] = ContextVar("ambient pressure for reading", default=None)
_MISSING = object()
T = TypeVar("T", bound="Part")


@contextmanager
def reading_at(ambient: float | None) -> Iterator[None]:
    """While active, psia for a gauge field (or psig for an absolute one) uses ``ambient``, Pa."""
    token = _AMBIENT.set(ambient)
    try:
        yield
    finally:
        _AMBIENT.reset(token)


def words(class_name: str) -> str:
    """``PressureSwitch`` -> ``pressure switch``."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", class_name).lower()


class HasUnits(Protocol):
    """A pint quantity, as far as reading it goes."""

    @property
    def magnitude(self) -> Any: ...
    @property
    def units(self) -> Any: ...


Given = float | str | HasUnits


class Checked:
    """Type of a quantity field: takes a float, a text or a pint quantity, gives a float."""

    if TYPE_CHECKING:

        @overload
        def __get__(self, instance: None, owner: type) -> Self: ...
        @overload
        def __get__(self, instance: object, owner: type) -> float: ...
        def __get__(self, instance: Any, owner: Any) -> Any: ...
        def __set__(self, instance: object, value: Given) -> None: ...


class MaybeChecked:
    """Type of an optional quantity field: None is allowed both ways."""

    if TYPE_CHECKING:

        @overload
        def __get__(self, instance: None, owner: type) -> Self: ...
        @overload
        def __get__(self, instance: object, owner: type) -> float | None: ...
        def __get__(self, instance: Any, owner: Any) -> Any: ...
        def __set__(self, instance: object, value: Given | None) -> None: ...


class _Field:
    """Descriptor of one checked quantity; ``dataclasses`` reads the default through it."""

    def __init__(
        self, dimension: str, default: Any = _MISSING, *, optional: bool = False, **limits: Any
    ) -> None:
        self.dimension = dimension
        self.default = default
        self.optional = optional
        self.limits = limits

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name
        self.label = f"{words(owner.__name__)} {name.replace('_', ' ')}"

    def __get__(self, instance: Any, owner: type | None = None) -> Any:
        if instance is None:
            if self.default is _MISSING:
                raise AttributeError(self.name)
            return self.default
        return instance.__dict__[self.name]

    def __set__(self, instance: Any, value: Any) -> None:
        if value is not None or not self.optional:
            value = parse(
                value, self.dimension, name=self.label, ambient=_AMBIENT.get(), **self.limits
            )
        instance.__dict__[self.name] = value


def Quantity(dimension: str, default: Any = _MISSING, **limits: Any) -> Any:
    """A dataclass field holding an SI float of the kind ``dimension`` (limits as in ``parse``)."""
    return _Field(dimension, default, **limits)


def OptionalQuantity(dimension: str, **limits: Any) -> Any:
    """As :func:`Quantity`, but None (the default) is allowed."""
    return _Field(dimension, None, optional=True, **limits)


def choice(value: object, allowed: Mapping[str, str] | tuple[str, ...], name: str) -> str:
    """``value`` if it is one of ``allowed`` (a mapping gives synonyms); capitals are forgiven."""
    table = dict(allowed) if isinstance(allowed, Mapping) else {a: a for a in allowed}
    if isinstance(value, str) and value.strip().casefold() in table:
        return table[value.strip().casefold()]
    valid = ", ".join(dict.fromkeys(table.values()))
    raise UnknownNameError(name, value, "", valid, did_you_mean(value, table))


def text(value: object, name: str, empty: bool = True) -> str:
    """A text (not empty where ``empty`` is False)."""
    if isinstance(value, str) and (empty or value.strip()):
        return value
    raise InputError(name, value, "", "a text", "")


def flag(value: object, name: str) -> bool:
    """A real True or False."""
    if isinstance(value, bool):
        return value
    raise InputError(name, value, "", "true or false", "")


def _plain(value: Any) -> Any:
    if isinstance(value, Part):
        return value.as_dict()
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    return value


class Part:
    """Mixin of the frozen hardware dataclasses."""

    _readers: ClassVar[dict[str, Callable[[Any], Any]]] = {}

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers (SI), texts, lists and dicts; what is None is left out."""
        return {
            f.name: _plain(value)
            for f in dataclasses.fields(self)  # type: ignore[arg-type]
            if (value := getattr(self, f.name)) is not None
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any], *, ambient: float | None = None) -> Self:
        """Inverse of :meth:`as_dict`; texts with units are understood too.

        ``ambient`` (Pa) serves pressures given in the other reference. Unknown keys raise
        :class:`UnknownNameError` with a near match, missing ones :class:`InputError`.
        """
        with reading_at(_AMBIENT.get() if ambient is None else ambient):
            return cls._build(check_keys(cls, data))

    @classmethod
    def _build(cls, data: dict[str, Any]) -> Self:
        return cls(**{k: cls._readers[k](v) if k in cls._readers else v for k, v in data.items()})


def check_keys(cls: type, data: Any, extra: tuple[str, ...] = ()) -> dict[str, Any]:
    """``data`` as a dict whose keys are fields of ``cls`` (or in ``extra``), none missing."""
    label = words(cls.__name__)
    if not isinstance(data, Mapping):
        raise InputError(label, data, "", "a table of entries", "")
    fields = {f.name: f for f in dataclasses.fields(cls)}
    for key in data:
        if key not in fields and key not in extra:
            raise UnknownNameError.among(f"{label} entry", key, [*fields, *extra])
    if not extra:
        missing = [
            n
            for n, f in fields.items()
            if n not in data
            and f.default is dataclasses.MISSING
            and f.default_factory is dataclasses.MISSING
        ]
        if missing:
            raise InputError(
                label,
                ", ".join(map(str, data)),
                "",
                f"an entry {missing[0]!r}",
                f"add {', '.join(missing)}",
            )
    return dict(data)


@overload
def optional(cls: type[T]) -> Callable[[Any], T | None]: ...
@overload
def optional(cls: Callable[[Any], Any]) -> Callable[[Any], Any]: ...
def optional(cls: Any) -> Callable[[Any], Any]:
    """Reader of an optional nested part: None and ready-made objects pass."""

    def read(value: Any) -> Any:
        if value is None or isinstance(value, cls):
            return value
        return cls.from_dict(value)

    return read


def require(
    value: object, cls: type | tuple[type, ...], name: str, allow_none: bool = True
) -> None:
    """Raise unless ``value`` is an instance of ``cls`` (or None where that is allowed)."""
    if (value is None and allow_none) or isinstance(value, cls):
        return
    classes = cls if isinstance(cls, tuple) else (cls,)
    raise InputError(name, value, "", "a " + " or ".join(c.__name__ for c in classes), "")
