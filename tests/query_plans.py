"""Whether a statement goes by an index: the statements that a function really sends, as the database would carry them out.

A table that grows with every drum is read by an index or not at all. What counts as reading it whole: a scan of the
table, of one of its indexes from end to end, or an index that the database makes for one statement. What does not: an
index that holds only what is open, and the first rows along an index that are read until a LIMIT stops.

An index that is asked for a station, a person or a state alone finds a share of all that was ever made: that is reading it
whole, too, only some times faster.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db import connection, models, transaction

# Made once, changed by hand, some hundred rows at most: the recipe book, the stations, the people and what they may do.
SMALL = frozenset(
    {
        *("routing_station", "routing_drummodel", "routing_finish", "routing_finishcoat", "routing_productline"),
        *("routing_glue", "routing_gluepart", "routing_shift", "routing_closure", "routing_shop"),
        *("routing_outage", "routing_absence"),
        *("routing_mould", "routing_dryingroom", "routing_dryingroom_stations"),
        *("quality_person", "quality_qualification", "quality_checkpoint", "quality_defect"),
        *("quality_tablet", "quality_tablet_stations", "quality_lotroute", "quality_lotroutestep"),
    }
)


A_SHARE = 100  # rows that PostgreSQL expects: it knows how many of a kind there are


@dataclass(frozen=True, slots=True)
class WholeTable:
    """A table that a statement reads from end to end."""

    table: str
    line: str  # of the plan
    sql: str

    def __str__(self) -> str:
        return f"{self.table}: {self.line}\n    in {self.sql}"


def whole_tables(ask: Callable[[], object], *, small: Collection[str] = SMALL) -> list[WholeTable]:
    """What ``ask`` reads whole, of tables that are not ``small``. Fails when it asks the database nothing."""
    asked: dict[str, Any] = {}  # each statement with the values it had first

    def note(execute: Any, sql: str, values: Any, many: bool, context: Any) -> Any:
        if _is_explained(sql):
            asked.setdefault(sql, values[0] if many else values)
        return execute(sql, values, many, context)

    # The values are bound as they were: SQLite knows them only so far as a program lets it know them.
    with connection.execute_wrapper(note):
        ask()
    assert asked, "nothing was asked of the database"
    explain = _on_sqlite if connection.vendor == "sqlite" else _on_postgres
    return [found for sql, values in asked.items() for found in explain(sql, values) if found.table not in small]


def _finds_a_share(table: str, columns: Collection[str]) -> bool:
    """Whether all columns that an index is asked for have few values: states, kinds, yes or no, what is in a small table."""
    return bool(columns) and all(column in _of_few_values().get(table, ()) for column in columns)


@cache
def _of_few_values() -> dict[str, set[str]]:
    return {
        model._meta.db_table: {
            str(field.column)
            for field in model._meta.concrete_fields
            if not field.unique
            # Orders are asked for by states that they leave again.
            and (model._meta.db_table, field.name) != ("routing_kitorder", "state")
            and (
                field.choices
                or isinstance(field, models.BooleanField)
                or (field.related_model and field.related_model._meta.db_table in SMALL)
            )
        }
        for model in apps.get_models()
    }


def _is_explained(sql: str) -> bool:
    return sql.lstrip().split(None, 1)[0].upper() in {"SELECT", "INSERT", "UPDATE", "DELETE", "WITH"}


def _on_sqlite(sql: str, values: Any) -> Iterator[WholeTable]:
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}", values)
        lines = [(parent, detail) for _, parent, _, detail in cursor.fetchall()]
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'index' AND sql LIKE '% WHERE %'")
        of_what_is_open = {name for (name,) in cursor.fetchall()}
    made_on_the_way = {detail.split()[-1] for _, detail in lines if detail.startswith(("CO-ROUTINE", "MATERIALIZE"))}
    sorts = any("TEMP B-TREE" in detail for parent, detail in lines if not parent)
    stops = _stops_early(sql) and not sorts
    for parent, detail in lines:
        found = re.match(r"(SCAN|SEARCH) (\S+)(?: USING (AUTOMATIC )?.*?INDEX (\S+))?", detail)
        if found is None or "CONSTANT ROW" in detail:
            continue
        how, alias, automatic, index = found.groups()
        if alias in made_on_the_way or alias.startswith("(subquery"):
            continue
        if index in of_what_is_open or (stops and not parent and not automatic):
            continue
        for table in _tables_called(alias, sql):
            if how == "SCAN" or automatic or _finds_a_share(table, re.findall(r"(\w+)[=<>]", detail)):
                yield WholeTable(table, detail, sql)


def _stops_early(sql: str) -> bool:
    """Whether the outermost SELECT takes the first rows of all: with LIMIT, and nothing that passes rows over."""
    outermost = _without_brackets(sql)
    return "LIMIT" in outermost and not re.search(r"\b(WHERE|GROUP|HAVING|DISTINCT|UNION|COUNT)\b", outermost)


def _without_brackets(sql: str) -> str:
    before = ""
    while before != sql:
        before, sql = sql, re.sub(r"\([^()]*\)", " ", sql)
    return sql


def _tables_called(alias: str, sql: str) -> set[str]:
    """SQLite's plans name a table as the statement calls it; in brackets the same name may be another table's."""
    called = re.findall(rf'\b(?:FROM|JOIN)\s+"?(\w+)"?\s+(?:AS\s+)?"?{re.escape(alias)}"?(?!\w)', sql, re.IGNORECASE)
    return {table for table in called if table.upper() not in {"LEFT", "INNER"}} or {alias}


def _on_postgres(sql: str, values: Any) -> Iterator[WholeTable]:
    """A small table is walked because it is small, whatever indexes it has. So the plan is asked for twice: the second time
    only what goes by the condition of an index costs little. What is read whole both times has no index for it.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SELECT indexrelid::regclass::text FROM pg_index WHERE indpred IS NOT NULL")
        of_what_is_open = {name for (name,) in cursor.fetchall()}
        found = []
        for switched_off in (("seqscan", "hashjoin", "mergejoin"), ("indexscan", "indexonlyscan")):
            for way in switched_off:
                cursor.execute(f"SET LOCAL enable_{way} = off")
            cursor.execute(f"EXPLAIN (FORMAT JSON) {sql}", values)
            (plans,) = cursor.fetchone()
            found.append(
                [
                    each
                    for plan in (json.loads(plans) if isinstance(plans, str) else plans)
                    for each in _walks(plan["Plan"], of_what_is_open, table="", stops=False)
                ]
            )
        transaction.set_rollback(True)
    first, second = found
    for table, line in first:
        if table in {table for table, _ in second}:
            yield WholeTable(table, line, sql)


# Below a LIMIT these hand on row by row, so that what is beneath them stops with it.
_HANDS_ON = {"Limit", "Nested Loop", "Result", "Subquery Scan", "LockRows", "Memoize"}


def _walks(node: dict[str, Any], of_what_is_open: set[str], *, table: str, stops: bool) -> Iterator[tuple[str, str]]:
    kind, index, condition = node["Node Type"], node.get("Index Name", ""), node.get("Index Cond", "")
    table = node.get(
        "Relation Name", table
    )  # the part that looks into an index has it from the one that reads the rows
    if kind == "Seq Scan":
        yield table, kind
    elif index and index not in of_what_is_open and not (stops and "Filter" not in node):
        if not condition:
            yield table, f"{kind} along all of {index}"
        elif node["Plan Rows"] > A_SHARE and _finds_a_share(
            table, re.findall(r"\((\w+)\)?(?:::\w+)? (?:=|<|>|~|IS)", condition)
        ):
            yield table, f"{kind} in {index}: {condition}"
    stops = kind == "Limit" or (stops and kind in _HANDS_ON)
    for child in node.get("Plans", ()):
        # Only the first of two that are joined is read once; a subquery for a column stands beside them.
        main = child.get("Parent Relationship") in {"Outer", "Subquery"}
        yield from _walks(child, of_what_is_open, table=table, stops=stops and main)
