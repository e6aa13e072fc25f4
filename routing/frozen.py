"""The frozen spec of a shell as it is worked to, kept by each process: it never changes, and reading one takes longer than
all else that a tap reads. What was used last stays longest."""

from __future__ import annotations

from collections import OrderedDict
from contextlib import suppress
from functools import partial
from typing import Any

from django.db import connection, transaction

from routing.models import Shell, ShellSpec
from routing.prepared import Prepared

MOST = 100  # of some tens of kilobytes each
_READ = Prepared(lambda shell, revision: ShellSpec.objects.filter(shell=shell, revision=revision).order_by())
# Database, shell, its serial, revision. The serial tells a drum from that of another database which was put in the place of
# this one under a running server, as a restored folder is: numbers of rows begin anew there.
_Key = tuple[str, int, str, int]
_kept: OrderedDict[_Key, dict[str, Any]] = OrderedDict()


def current_spec(shell: Shell) -> ShellSpec:
    """What the shell is made to now. Its inputs and results are shared with all that ask later, by the first that is returned
    as well: nobody may change them."""
    key = str(connection.settings_dict["NAME"]), shell.pk, shell.serial, shell.spec_revision
    values = _kept.get(key)
    if values is not None:
        with suppress(KeyError):  # another thread has made room meanwhile
            _kept.move_to_end(key)
        return ShellSpec.from_db(connection.alias, list(values), list(values.values()))
    spec = _READ.first(shell=shell.pk, revision=shell.spec_revision)
    if spec is None:
        raise ShellSpec.DoesNotExist(f"{shell.serial} has no spec of revision {shell.spec_revision}.")
    values = {field.attname: getattr(spec, field.attname) for field in ShellSpec._meta.concrete_fields}
    transaction.on_commit(partial(_keep, key, values))  # one that was made in a transaction that fails never was
    return spec


def _keep(key: _Key, values: dict[str, Any]) -> None:
    _kept[key] = values
    while len(_kept) > MOST:
        with suppress(KeyError):  # other threads have emptied it meanwhile
            _kept.popitem(last=False)
