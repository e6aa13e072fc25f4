"""What was found, and who says so."""

from quality.models.accounts import AccountChange, AccountEvent, TriesOf, WrongTries
from quality.models.api_keys import ApiKey, KeyOpens
from quality.models.checks import CheckKind, CheckPoint, Judged
from quality.models.kitting import Bag, BagState, Carton, CartonDrum, CheckedHow, StockMove, StockPart
from quality.models.lot_holds import HeldShell, HoldOutcome, LotHold
from quality.models.made_here import LotComponent, LotRoute, LotRouteStep, LotSignOff, MadeLot
from quality.models.materials import GlueBatch, GlueBatchPart, LotChange, LotKind, LotState, MaterialLot, MaterialUse
from quality.models.people import Person, Qualification, Role
from quality.models.photos import Photo
from quality.models.problems import Defect, Disposition, Problem, ProblemState, Severity
from quality.models.requests import (
    CustomerRequest,
    RequestCounter,
    RequestEvent,
    RequestKind,
    RequestLine,
    RequestState,
)
from quality.models.seals import DaySeal
from quality.models.signoffs import Reading, SignOff, Voiding, Withdrawal
from quality.models.tablets import EnrolmentCode, EnrolmentTry, Tablet

__all__ = [
    "AccountChange",
    "AccountEvent",
    "ApiKey",
    "Bag",
    "BagState",
    "Carton",
    "CartonDrum",
    "CheckKind",
    "CheckPoint",
    "CheckedHow",
    "CustomerRequest",
    "DaySeal",
    "Defect",
    "Disposition",
    "EnrolmentCode",
    "EnrolmentTry",
    "GlueBatch",
    "GlueBatchPart",
    "HeldShell",
    "HoldOutcome",
    "Judged",
    "KeyOpens",
    "LotChange",
    "LotComponent",
    "LotHold",
    "LotKind",
    "LotRoute",
    "LotRouteStep",
    "LotSignOff",
    "LotState",
    "MadeLot",
    "MaterialLot",
    "MaterialUse",
    "Person",
    "Photo",
    "Problem",
    "ProblemState",
    "Qualification",
    "Reading",
    "RequestCounter",
    "RequestEvent",
    "RequestKind",
    "RequestLine",
    "RequestState",
    "Role",
    "Severity",
    "SignOff",
    "StockMove",
    "StockPart",
    "Tablet",
    "TriesOf",
    "Voiding",
    "Withdrawal",
    "WrongTries",
]
