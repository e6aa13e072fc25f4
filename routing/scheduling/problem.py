"""What a plan is made from and what it says. Times are whole minutes from the start of the plan.

Work happens inside the hours of its station and of the person who does it, and is not broken off; dwells run through
nights and closed days.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Window = tuple[int, int]  # from, until (excluded), minutes from the start of the plan


@dataclass(frozen=True, slots=True)
class Task:
    """One step of one shell that is still to be done, or is being done."""

    key: int  # the operation
    station: str
    work_min: int  # at least 1; of a step in work, what is left of it
    dwell_min: int = 0  # after the work, through the night, before the next step
    earliest_min: int = 0  # end of a dwell that runs already
    mould: str = ""  # the mould it is pressed in; held during the work and for mould_min after it
    mould_min: int = 0
    campaign: str = ""  # colour or mould; between two different ones the place at the station is changed over
    room: str = ""  # the drying room it stands in while it dwells
    in_work_by: str = ""  # who is at it now: it begins at 0, with this person
    title: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """One shell with the steps that are left, in their order."""

    key: str  # serial
    kit: str  # order
    tasks: tuple[Task, ...]
    earliest_min: int = 0


@dataclass(frozen=True, slots=True)
class Kit:
    """An order: late when its last drum is."""

    key: str
    due_min: int
    weight: int = 1


@dataclass(frozen=True, slots=True)
class StationHours:
    code: str
    places: int
    setup_min: int  # between two campaigns at one place
    windows: tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class Worker:
    key: str
    stations: frozenset[str]
    windows: tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    horizon_min: int
    kits: tuple[Kit, ...]
    jobs: tuple[Job, ...]
    stations: tuple[StationHours, ...]
    workers: tuple[Worker, ...] = ()  # empty: people are no limit
    moulds: Mapping[str, int] = field(default_factory=dict)  # how many of each
    mould_taken: Mapping[str, tuple[int, ...]] = field(default_factory=dict)  # until when those in use now are held
    rooms: Mapping[str, int] = field(default_factory=dict)  # places of each drying room
    room_taken: Mapping[str, tuple[int, ...]] = field(default_factory=dict)  # until when what stands there now stays


@dataclass(frozen=True, slots=True)
class Placed:
    """Where and when a task is done."""

    task: int
    job: str
    start_min: int
    end_min: int
    place: int  # at the station, from 0
    worker: str = ""


@dataclass(frozen=True, slots=True)
class Schedule:
    placed: tuple[Placed, ...]
    lateness: int  # weighted, in minutes: the sum over kits of weight · how late its last drum is
    flow: int  # sum over shells of when each is done, minutes
    bound: int  # no schedule has less weighted lateness
    found_by: str
    is_optimal: bool = False
    left_out: tuple[str, ...] = ()  # serials that find no place within the horizon
    deterministic_time: float = 0.0

    @property
    def gap(self) -> float:
        """How far above the bound the lateness may be, 0 … 1."""
        return 0.0 if self.lateness == 0 else (self.lateness - self.bound) / self.lateness
