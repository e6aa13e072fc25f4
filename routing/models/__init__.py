"""What must be made, and where it is."""

from routing.models.capacity import Absence, Closure, DryingRoom, Mould, Outage, Shift, Weekday
from routing.models.climate import RoomReading
from routing.models.cutting import CuttingJob, CuttingJobState
from routing.models.drums import DrumModel, EdgeProfile, ProductLine
from routing.models.finishes import Drawdown, Finish, FinishCoat, WrapSheet
from routing.models.hardware import Fitting, HardwareSet, Part
from routing.models.history import RecordKind, ShellRecord
from routing.models.lay_ups import Glue, GluePart, LayUp, LayUpPlate, Plate, PressCycle, Species
from routing.models.orders import KitLine, KitOrder, OrderState, SerialCounter, Shell, ShellSpec, ShellState
from routing.models.plan import Plan, PlannedStep, PlanState
from routing.models.prints import TravelerPrint
from routing.models.route import (
    DwellKind,
    Operation,
    OperationState,
    RouteStep,
    RouteTemplate,
    Station,
    StationKind,
    StepRepeat,
)
from routing.models.shop import PaperSize, Shop

__all__ = [
    "Absence",
    "Closure",
    "CuttingJob",
    "CuttingJobState",
    "Drawdown",
    "DrumModel",
    "DryingRoom",
    "DwellKind",
    "EdgeProfile",
    "Finish",
    "FinishCoat",
    "Fitting",
    "Glue",
    "GluePart",
    "HardwareSet",
    "KitLine",
    "KitOrder",
    "LayUp",
    "LayUpPlate",
    "Mould",
    "Operation",
    "OperationState",
    "OrderState",
    "Outage",
    "PaperSize",
    "Part",
    "Plan",
    "PlanState",
    "PlannedStep",
    "Plate",
    "PressCycle",
    "ProductLine",
    "RecordKind",
    "RoomReading",
    "RouteStep",
    "RouteTemplate",
    "SerialCounter",
    "Shell",
    "ShellRecord",
    "ShellSpec",
    "ShellState",
    "Shift",
    "Shop",
    "Species",
    "Station",
    "StationKind",
    "StepRepeat",
    "TravelerPrint",
    "Weekday",
    "WrapSheet",
]
