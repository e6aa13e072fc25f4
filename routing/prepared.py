"""Queries that are put into SQL once, for the few that every tap asks.

Django builds the SQL of a query anew each time it is asked. In the profile of a tap that was two thirds of all its time,
ten times what the database took to answer. A query here is written with the ORM as everywhere else; what is kept is the
statement it became and how rows turn into objects. Everything else asks Django as usual.
"""

from __future__ import annotations

import inspect
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any, Generic, TypeVar

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.utils import CursorWrapper
from django.db.models import Field, Model, QuerySet
from django.db.models.query import get_related_populators
from django.db.transaction import TransactionManagementError

M = TypeVar("M", bound=Model)


@dataclass(frozen=True, slots=True)
class _Statement:
    sql: str
    values: tuple[Any, ...]  # constants, and an _Asked where something is asked for
    fields: Sequence[str]
    first: int
    end: int
    related: Sequence[Any]
    annotations: Mapping[str, int]  # their place in a row
    converted: Callable[[Any], Any]
    locks: bool


@dataclass(frozen=True, slots=True)
class _Asked:
    name: str
    is_moment: bool


class Prepared(Generic[M]):
    """``Prepared(lambda serial: Shell.objects.filter(serial=serial))``, then ``.first(serial="OW26000019")``.

    The values are asked for by name: whole numbers, texts or moments, always of the same type. Nothing else of the query
    may change from one time to the next.
    """

    def __init__(self, build: Callable[..., QuerySet[M]]) -> None:
        self._build = build
        self._names = tuple(inspect.signature(build).parameters)
        self._kept = threading.local()  # a statement belongs to a connection, and that to a thread

    def all(self, **asked: Any) -> list[M]:
        statement: _Statement | None = getattr(self._kept, "statement", None)
        if statement is None:
            statement = self._kept.statement = self._prepare(asked)
        here = _here()
        if statement.locks and not here.in_atomic_block:  # Django asks so too, but only where it makes the SQL
            raise TransactionManagementError("A row is locked for the rest of a transaction; open one with writing().")
        rows = _run(here, statement.sql, [_value(here, value, asked) for value in statement.values]).fetchall()
        return [self._made(statement, row) for row in statement.converted(rows)]

    def first(self, **asked: Any) -> M | None:
        found = self.all(**asked)
        return found[0] if found else None

    def _made(self, statement: _Statement, row: Sequence[Any]) -> M:
        made: M = self._model.from_db(DEFAULT_DB_ALIAS, statement.fields, row[statement.first : statement.end])
        for populator in statement.related:
            populator.populate(row, made)
        for name, place in statement.annotations.items():
            setattr(made, name, row[place])
        return made

    def _prepare(self, asked: dict[str, Any]) -> _Statement:
        """Builds the query with values that occur nowhere else, and notes where they ended up."""
        markers = {name: _marker(number, asked[name]) for number, name in enumerate(self._names)}
        queryset = self._build(**markers)
        self._model = queryset.model
        compiler = queryset.query.get_compiler(connection=connection)
        sql, values = compiler.as_sql()
        names = {_plain(marker): name for name, marker in markers.items()}
        places = tuple(
            _Asked(names[value], isinstance(asked[names[value]], datetime)) if value in names else value
            for value in values
        )
        missing = set(self._names) - {place.name for place in places if isinstance(place, _Asked)}
        assert not missing, f"{missing} stand nowhere in {sql}"
        columns = [column for column, _, _ in compiler.select]
        own = compiler.klass_info["select_fields"]
        first, end = own[0], own[-1] + 1
        converters = compiler.get_converters(columns)
        return _Statement(
            sql,
            places,
            [column.target.attname for column in columns[first:end]],
            first,
            end,
            get_related_populators(compiler.klass_info, compiler.select, connection.alias),  # type: ignore[call-arg]
            dict(compiler.annotation_col_map or {}),
            lambda rows: compiler.apply_converters(rows, converters) if converters else rows,
            locks=queryset.query.select_for_update and connection.features.has_select_for_update,
        )


_cursors = threading.local()


def _here() -> BaseDatabaseWrapper:
    """This thread's connection itself: through ``connection`` each of its attributes is looked up anew."""
    return connections[DEFAULT_DB_ALIAS]


def _run(here: BaseDatabaseWrapper, sql: str, values: Sequence[Any]) -> CursorWrapper:
    """Execute a statement of this module, and give the cursor to read what came of it.

    On PostgreSQL it is a cursor that lets the server keep its plan, since planning takes longer there than doing; and it
    is kept with its statement: making one each time took a tenth of a tap's processor time.
    """
    if here.vendor != "postgresql" or here.queries_logged:  # the log shows values only of the usual cursor
        cursor = here.cursor()
    else:
        here.close_if_health_check_failed()
        here.ensure_connection()
        kept: dict[str, CursorWrapper] = _cursors.__dict__
        cursor = kept.get(sql)  # type: ignore[assignment]
        if cursor is None or cursor.connection is not here.connection:
            cursor = kept[sql] = _planned_once(here)
    cursor.execute(sql, values)
    return cursor


def _planned_once(here: BaseDatabaseWrapper) -> CursorWrapper:
    from django.db.backends.postgresql.base import ServerBindingCursor

    # What ``connection.cursor()`` does, with another kind of cursor.
    cursor: Any = ServerBindingCursor(here.connection)  # type: ignore[call-arg]
    return here.make_cursor(cursor)


def _marker(number: int, like: Any) -> Any:
    match like:
        case str():
            return f"asked for {number}"
        case datetime():
            return datetime(1901, 1, 1, tzinfo=UTC) + timedelta(days=number)
        case int() if not isinstance(like, bool):
            return 32_700 + number  # fits the smallest whole numbers of a database
    raise TypeError(f"{like!r} can't be asked for here")


def _plain(marker: Any) -> Any:
    """As it stands among the values of a statement."""
    return connection.ops.adapt_datetimefield_value(marker) if isinstance(marker, datetime) else marker


def _value(here: BaseDatabaseWrapper, value: Any, asked: dict[str, Any]) -> Any:
    if not isinstance(value, _Asked):
        return value
    found = asked[value.name]
    return here.ops.adapt_datetimefield_value(found) if value.is_moment else found


def answer(sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
    """The rows of a statement that was written by hand and is asked again and again."""
    rows: list[tuple[Any, ...]] = _run(_here(), sql, values).fetchall()
    return rows


def insert(rows: Sequence[Model]) -> None:
    """Write new rows of one model with one statement, and tell them the numbers they got.

    For rows whose values are all known here: no defaults of the database, no signals.
    """
    sql, fields = _insertion(type(rows[0]), len(rows))
    here = _here()
    values = [field.get_db_prep_save(field.pre_save(row, True), here) for row in rows for field in fields]
    for row, (number,) in zip(rows, _run(here, sql, values).fetchall(), strict=True):
        row.pk = number
        row._state.adding, row._state.db = False, DEFAULT_DB_ALIAS


def update(row: Model, *, only_if: Mapping[str, Sequence[Any]] | None = None, **changed: Any) -> bool:
    """Set some fields of a row in the database, and say whether that was done: ``only_if`` a field has one of these values.

    The object itself is left as it is.
    """
    if only_if and not all(only_if.values()):
        return False  # no value will do
    allowed = [(name, value) for name, values in (only_if or {}).items() for value in values]
    sql, fields = _change(type(row), tuple(changed), tuple(name for name, _ in allowed))
    asked = [*changed.values(), row.pk, *(value for _, value in allowed)]
    here = _here()
    values = [field.get_db_prep_save(value, here) for field, value in zip(fields, asked, strict=True)]
    return bool(_run(here, sql, values).rowcount == 1)


@cache
def _insertion(model: type[Model], rows: int) -> tuple[str, list[Field[Any, Any]]]:
    meta, name = model._meta, connection.ops.quote_name
    assert meta.auto_field is not None
    fields = [field for field in meta.local_concrete_fields if field is not meta.auto_field]
    columns = ", ".join(name(str(field.column)) for field in fields)
    places = ", ".join([f"({', '.join(['%s'] * len(fields))})"] * rows)
    key = name(str(meta.auto_field.column))
    return f"INSERT INTO {name(meta.db_table)} ({columns}) VALUES {places} RETURNING {key}", fields  # noqa: S608 (own names)


@cache
def _change(
    model: type[Model], changed: tuple[str, ...], allowed: tuple[str, ...]
) -> tuple[str, list[Field[Any, Any]]]:
    """``allowed`` names a field once for each value that it may have."""
    meta, name = model._meta, connection.ops.quote_name
    fields = [_field(model, each) for each in (*changed, meta.pk.name, *allowed)]
    settings = ", ".join(f"{_column(model, each)} = %s" for each in changed)
    conditions = [
        f"{_column(model, each)} IN ({', '.join(['%s'] * allowed.count(each))})" for each in dict.fromkeys(allowed)
    ]
    where = " AND ".join([f"{name(str(meta.pk.column))} = %s", *conditions])
    return f"UPDATE {name(meta.db_table)} SET {settings} WHERE {where}", fields  # noqa: S608 (own names)


def _field(model: type[Model], name: str) -> Field[Any, Any]:
    field = model._meta.get_field(name)
    assert isinstance(field, Field)
    return field


def _column(model: type[Model], name: str) -> str:
    return connection.ops.quote_name(str(_field(model, name).column))
