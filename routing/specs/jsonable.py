"""Inputs and results as plain JSON, so that what was computed can be frozen in a record and read back exactly."""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import Any, TypeVar, cast

from routing.specs.errors import SpecError

T = TypeVar("T")


def to_json(value: object) -> Any:
    """A frozen dataclass (or a list, tuple, mapping of them) as dicts, lists, strings and numbers.

    Enums become their values, tuples lists. Raises SpecError for a number that is not finite, which JSON cannot hold,
    and TypeError for anything that is no part of a spec.
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str | int):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise SpecError(
                "not_finite", "", f"The number {value} can't be kept in a record; a spec has finite numbers only."
            )
        return value
    if isinstance(value, tuple | list):
        return [to_json(item) for item in value]
    if isinstance(value, Mapping):
        return {_key(key): to_json(item) for key, item in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: to_json(getattr(value, name)) for name in _names(type(value))}
    raise TypeError(f"{type(value).__name__} is no part of a spec")


def from_json(cls: type[T], data: object) -> T:
    """The dataclass ``cls`` from what :func:`to_json` made of it: from_json(type(x), to_json(x)) == x.

    A key that is missing takes the field's default, so that records outlive added fields. Raises SpecError that names
    the place when a key is unknown, a value is missing, or has the wrong type.
    """
    return cast(T, _read(cls, data, ""))


def _key(key: object) -> str:
    if not isinstance(key, str):
        raise TypeError("keys in a spec are strings")
    return str(key)


@cache
def _names(cls: Any) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(cls))


@cache
def _hints(cls: Any) -> dict[str, Any]:
    return typing.get_type_hints(cls)


@cache
def _required(cls: Any) -> frozenset[str]:
    return frozenset(
        field.name
        for field in dataclasses.fields(cls)
        if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
    )


def _wrong(at: str, wanted: str, data: object) -> SpecError:
    return SpecError(
        "bad_record", at, f"The record has {type(data).__name__} at “{at or 'the top'}” instead of {wanted}."
    )


def _read(kind: Any, data: object, at: str) -> object:
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        return _read_union(typing.get_args(kind), data, at)
    if origin is tuple:
        return _read_tuple(typing.get_args(kind), data, at)
    if origin in (dict, Mapping):
        if not isinstance(data, dict):
            raise _wrong(at, "an object", data)
        return {key: _read(typing.get_args(kind)[1], item, f"{at}.{key}") for key, item in data.items()}
    if isinstance(kind, type) and issubclass(kind, Enum):
        try:
            return kind(data)
        except ValueError as error:
            raise SpecError(
                "bad_record", at, f"The record has {data!r} at “{at}”, which is no {kind.__name__}."
            ) from error
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _read_dataclass(kind, data, at)
    return _read_plain(kind, data, at)


def _read_plain(kind: Any, data: object, at: str) -> object:
    if kind is Any:
        return data
    if kind is float:
        # Databases that keep JSON as numbers may give a whole number back without its decimal point.
        if isinstance(data, bool) or not isinstance(data, int | float) or not math.isfinite(data):
            raise _wrong(at, "a number", data)
        return float(data)
    if kind is int and isinstance(data, bool):
        raise _wrong(at, "a whole number", data)
    if kind in (int, str, bool):
        if not isinstance(data, kind):
            raise _wrong(at, kind.__name__, data)
        return data
    if kind is type(None) and data is None:
        return None
    raise _wrong(at, str(kind), data)


def _read_union(kinds: tuple[Any, ...], data: object, at: str) -> object:
    if data is None and type(None) in kinds:
        return None
    candidates = [kind for kind in kinds if kind is not type(None)]
    for kind in candidates[:-1]:
        try:
            return _read(kind, data, at)
        except SpecError:
            continue
    return _read(candidates[-1], data, at)


def _read_tuple(kinds: tuple[Any, ...], data: object, at: str) -> tuple[object, ...]:
    if not isinstance(data, list | tuple):
        raise _wrong(at, "a list", data)
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_read(kinds[0], item, f"{at}.{index}") for index, item in enumerate(data))
    if len(kinds) != len(data):
        raise SpecError("bad_record", at, f"The record has {len(data)} values at “{at}” instead of {len(kinds)}.")
    return tuple(_read(kind, item, f"{at}.{i}") for i, (kind, item) in enumerate(zip(kinds, data, strict=True)))


def _read_dataclass(cls: Any, data: object, at: str) -> object:
    if not isinstance(data, dict):
        raise _wrong(at, "an object", data)
    hints = _hints(cls)
    names = _names(cls)
    prefix = f"{at}." if at else ""
    unknown = set(data) - set(names)
    if unknown:
        raise SpecError(
            "bad_record", at, f"The record has “{prefix}{min(unknown)}”, which {cls.__name__} does not know."
        )
    missing = _required(cls) - set(data)
    if missing:
        raise SpecError("bad_record", at, f"The record lacks “{prefix}{min(missing)}”.")
    return cls(**{name: _read(hints[name], data[name], f"{prefix}{name}") for name in names if name in data})
