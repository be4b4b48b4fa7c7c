"""How are records made, so that a start does not wait for them?

A check from nothing makes more than a hundred of them. `dataclasses` writes and compiles up to six
methods for each frozen class, which took longer than the import of numpy; here all but the
initialiser are shared. A record is a dataclass in all else: `fields`, `replace` and `asdict` hold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, dataclass, field, fields
from typing import Any, TypeVar, dataclass_transform, overload

T = TypeVar("T")


@overload
def record(cls: type[T], /) -> type[T]: ...
@overload
def record(*, eq: bool = True, kw_only: bool = False) -> Callable[[type[T]], type[T]]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def record(
    cls: type[T] | None = None, /, *, eq: bool = True, kw_only: bool = False
) -> type[T] | Callable[[type[T]], type[T]]:
    """A frozen dataclass with slots: what ``@dataclass(frozen=True, slots=True)`` gives.

    ``eq``: equal where all fields are, and hashable; else only itself, as for columns of arrays.
    ``kw_only``: fields are written by name.
    """

    def slotted(plain: type[T]) -> type[T]:
        kind: Any = dataclass(init=False, repr=False, eq=False, kw_only=kw_only, slots=True)(plain)
        own = vars(plain)
        kind.__init__ = _initialiser(kind, kw_only)
        shared = _SHARED | _EQUAL if eq else _SHARED
        for name, method in shared.items():
            if name not in own:
                setattr(kind, name, method)
        made: type[T] = kind
        return made

    return slotted if cls is None else slotted(cls)


def _initialiser(kind: type, kw_only: bool) -> Callable[..., None]:
    """A function that sets each field from its argument, as if it were written out."""
    known: dict[str, Any] = {"_set": object.__setattr__}
    arguments, lines = [], []
    for each in fields(kind):
        name, value, argument = each.name, each.name, each.name
        if each.default is not MISSING:
            known[f"_of_{name}"] = each.default
            argument = f"{name}=_of_{name}"
        elif each.default_factory is not MISSING:
            known[f"_of_{name}"], known["_missing"] = each.default_factory, MISSING
            argument = f"{name}=_missing"
            value = f"_of_{name}() if {name} is _missing else {name}"
        arguments.append(argument)
        lines.append(f"  _set(self, {name!r}, {value})")
    star = "*, " if kw_only else ""
    text = f"def __init__(self, {star}{', '.join(arguments)}):\n" + "\n".join(lines)
    exec(text, known)  # names of fields alone
    made: Callable[..., None] = known["__init__"]
    made.__qualname__ = f"{kind.__qualname__}.__init__"
    return made


def _values(own: Any) -> tuple[object, ...]:
    return tuple(getattr(own, name) for name in own.__dataclass_fields__)


def _repr(self: Any) -> str:
    listed = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.__dataclass_fields__)
    return f"{type(self).__qualname__}({listed})"


def _equal(self: Any, other: object) -> object:
    return _values(self) == _values(other) if type(other) is type(self) else NotImplemented


def _hash(self: Any) -> int:
    return hash(_values(self))


def _refuse(self: object, name: str, value: object = None) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _state(self: Any) -> tuple[object, ...]:
    return _values(self)


def _restore(self: Any, state: tuple[object, ...]) -> None:
    for name, value in zip(self.__dataclass_fields__, state, strict=True):
        object.__setattr__(self, name, value)  # as pickle may


_SHARED: dict[str, Callable[..., Any]] = {
    "__repr__": _repr,
    "__setattr__": _refuse,
    "__delattr__": _refuse,
    "__getstate__": _state,
    "__setstate__": _restore,
}
_EQUAL: dict[str, Callable[..., Any]] = {"__eq__": _equal, "__hash__": _hash}
