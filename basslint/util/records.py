"""How are records made, so that a start does not wait for them?

A check from nothing makes more than a hundred kinds of them. `dataclasses` writes and compiles up
to six methods for each, and is itself slow to import; here all methods but the initialiser are
shared, and that one is written for kinds of which many are made. A record is a dataclass in all
else: `dataclasses.fields`, `replace` and `asdict` take it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar, dataclass_transform, overload

T = TypeVar("T")

WRITTEN = "<initialiser of a record>"  # the file that its code names

_MISSING: Any = object()  # in the place of a value that is not given
_MANY = 30  # records of a kind: to write its initialiser takes as long as to make twice as many


class _Fresh:
    """The default of a field that each record gets a new one of."""

    __slots__ = ("make",)

    def __init__(self, make: Callable[[], Any]) -> None:
        self.make = make


if TYPE_CHECKING:  # by these the checker knows what a record may be given
    from dataclasses import field as field
    from dataclasses import replace as replace
else:

    def field(*, default_factory: Callable[[], Any]) -> _Fresh:
        """A field whose default is made anew for each record."""
        return _Fresh(default_factory)

    def replace(own: T, /, **changes: Any) -> T:
        """The record with some fields changed. Raises `TypeError` for one that it does not have."""
        kind: Any = type(own)
        for name in kind.__slots__:
            if name not in changes:
                changes[name] = getattr(own, name)
        return kind(**changes)


def names_of(kind: type | object) -> tuple[str, ...]:
    """The names of the fields of a record, or of a kind of records, in order."""
    names: tuple[str, ...] = kind.__slots__  # type: ignore[union-attr]  # a record has them
    return names


def fields_of(own: object) -> dict[str, Any]:
    """The fields of a record by name, as they stand in it."""
    return {name: getattr(own, name) for name in names_of(own)}


@overload
def record(cls: type[T], /) -> type[T]: ...
@overload
def record(
    *, eq: bool = True, kw_only: bool = False, frozen: bool = True
) -> Callable[[type[T]], type[T]]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def record(
    cls: type[T] | None = None, /, *, eq: bool = True, kw_only: bool = False, frozen: bool = True
) -> type[T] | Callable[[type[T]], type[T]]:
    """A frozen dataclass with slots: what ``@dataclass(frozen=True, slots=True)`` gives.

    ``eq``: equal where all fields are, and hashable; else only itself, as for columns of arrays.
    ``kw_only``: fields are written by name. ``frozen=False``: fields may be set later on; such a
    record is equal to itself alone. No record inherits from another.
    """

    def slotted(plain: type[T]) -> type[T]:
        own = {k: v for k, v in vars(plain).items() if k not in ("__dict__", "__weakref__")}
        names = tuple(plain.__annotations__)
        defaults = {name: own.pop(name) for name in names if name in own}
        if any(type(default).__module__ == "dataclasses" for default in defaults.values()):
            raise TypeError(f"{plain.__qualname__}: `field` of this module is meant")
        shared = _SHOWN
        if frozen:
            shared = _FROZEN | _EQUAL if eq else _FROZEN
        methods: dict[str, Any] = {
            "__slots__": names,
            "__qualname__": plain.__qualname__,
            "__match_args__": () if kw_only else names,
            "__dataclass_fields__": _DataclassView(defaults, kw_only, frozen),
            "__dataclass_params__": _DataclassView(defaults, kw_only, frozen),
            "__init__": _Initialiser(defaults, kw_only, frozen),
        }
        kind: Any = type(plain)
        made: type[T] = kind(plain.__name__, plain.__bases__, shared | own | methods)
        return made

    return slotted if cls is None else slotted(cls)


class _Initialiser:
    """What stands in for the initialiser of a kind of records until many of them are made.

    ``defaults``: of the fields that have one.
    """

    def __init__(self, defaults: dict[str, Any], kw_only: bool, frozen: bool) -> None:
        self.defaults, self.kw_only, self.frozen = defaults, kw_only, frozen
        self.kind: Any = None
        self.all: frozenset[str] = frozenset()
        self.asked = 0

    def __set_name__(self, kind: type, name: str) -> None:
        self.kind, self.all = kind, frozenset(names_of(kind))

    def __get__(self, own: object, kind: type) -> Callable[..., None]:
        self.asked += 1
        asked_of_kind = own is None or own is self.kind  # `inspect` binds it to the kind itself
        if not asked_of_kind and self.asked < _MANY:
            return partial(self._fill, own)
        written = self._written()
        self.kind.__init__ = written
        bound: Callable[..., None] = written if own is None else written.__get__(own)
        return bound

    def _fill(self, own: object, *values: object, **named: object) -> None:
        """Set the fields of one record; what is given wrongly is refused as by the written one."""
        keep = object.__setattr__
        if not values and named.keys() == self.all:  # as nearly all are, with nothing to ask
            for name, value in named.items():
                keep(own, name, value)
            return
        names, unused = names_of(self.kind), len(named)
        for name, value in zip(names, values, strict=False):
            keep(own, name, value)
        for name in names[len(values) :]:
            value = named.get(name, _MISSING)
            if value is not _MISSING:
                unused -= 1
            elif name in self.defaults:
                value = self.defaults[name]
                value = value.make() if isinstance(value, _Fresh) else value
            else:
                unused = -1
                break
            keep(own, name, value)
        if unused or len(values) > (0 if self.kw_only else len(names)):
            self._written()(own, *values, **named)

    def _written(self) -> Any:
        """A function that sets each field from its argument, as if it were written out."""
        known: dict[str, Any] = {"_set": object.__setattr__, "_missing": _MISSING}
        arguments, lines = [], []
        for name in names_of(self.kind):
            value, argument = name, name
            if name in self.defaults:
                default = known[f"_of_{name}"] = self.defaults[name]
                argument = f"{name}=_of_{name}"
                if isinstance(default, _Fresh):
                    known[f"_of_{name}"] = default.make
                    argument = f"{name}=_missing"
                    value = f"_of_{name}() if {name} is _missing else {name}"
            arguments.append(argument)
            lines.append(
                f"  _set(self, {name!r}, {value})" if self.frozen else f"  self.{name} = {value}"
            )
        star = "*, " if self.kw_only else ""
        text = f"def __init__(self, {star}{', '.join(arguments)}):\n" + "\n".join(lines)
        exec(compile(text, WRITTEN, "exec"), known)  # names of fields alone
        known["__init__"].__qualname__ = f"{self.kind.__qualname__}.__init__"
        return known["__init__"]


class _DataclassView:
    """What `dataclasses` and engines (Dask) ask a kind of records for; made when first asked."""

    def __init__(self, defaults: dict[str, Any], kw_only: bool, frozen: bool) -> None:
        self.defaults, self.kw_only, self.frozen = defaults, kw_only, frozen
        self.kind: Any = None
        self.name = ""

    def __set_name__(self, kind: type, name: str) -> None:
        self.kind, self.name = kind, name

    def __get__(self, own: object, kind: type) -> object:
        import dataclasses

        model: Any = type(self.kind.__name__, (), {"__annotations__": self.kind.__annotations__})
        for name, default in self.defaults.items():
            fresh = isinstance(default, _Fresh)
            own_field = dataclasses.field(default_factory=default.make) if fresh else default
            setattr(model, name, own_field)
        as_dataclass = dataclasses.dataclass(
            init=False, repr=False, eq=False, kw_only=self.kw_only, frozen=self.frozen
        )
        answer: object = getattr(as_dataclass(model), self.name)
        setattr(self.kind, self.name, answer)
        return answer


def _values(own: Any) -> tuple[object, ...]:
    return tuple([getattr(own, name) for name in own.__slots__])


def _repr(self: Any) -> str:
    listed = ", ".join([f"{name}={getattr(self, name)!r}" for name in self.__slots__])
    return f"{type(self).__qualname__}({listed})"


def _equal(self: Any, other: object) -> object:
    return _values(self) == _values(other) if type(other) is type(self) else NotImplemented


def _hash(self: Any) -> int:
    return hash(_values(self))


def _refuse(self: object, name: str, value: object = None) -> None:
    from dataclasses import FrozenInstanceError

    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _state(self: Any) -> tuple[object, ...]:
    return _values(self)


def _restore(self: Any, state: tuple[object, ...]) -> None:
    for name, value in zip(self.__slots__, state, strict=True):
        object.__setattr__(self, name, value)  # as pickle may


_SHOWN: dict[str, Any] = {"__repr__": _repr}
_FROZEN = _SHOWN | {
    "__setattr__": _refuse,
    "__delattr__": _refuse,
    "__getstate__": _state,
    "__setstate__": _restore,
}
_EQUAL: dict[str, Any] = {"__eq__": _equal, "__hash__": _hash}
