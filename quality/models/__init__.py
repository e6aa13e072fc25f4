"""What was found, and who says so."""

from quality.models.checks import CheckKind, CheckPoint, Judged
from quality.models.lot_holds import HeldShell, HoldOutcome, LotHold
from quality.models.materials import GlueBatch, GlueBatchPart, LotChange, LotKind, LotState, MaterialLot, MaterialUse
from quality.models.people import Person, Qualification, Role
from quality.models.photos import Photo
from quality.models.problems import Defect, Disposition, Problem, ProblemState, Severity
from quality.models.signoffs import Reading, SignOff, Voiding, Withdrawal
from quality.models.tablets import EnrolmentCode, EnrolmentTry, Tablet

__all__ = [
    "CheckKind",
    "CheckPoint",
    "Defect",
    "Disposition",
    "EnrolmentCode",
    "EnrolmentTry",
    "GlueBatch",
    "GlueBatchPart",
    "HeldShell",
    "HoldOutcome",
    "Judged",
    "LotChange",
    "LotHold",
    "LotKind",
    "LotState",
    "MaterialLot",
    "MaterialUse",
    "Person",
    "Photo",
    "Problem",
    "ProblemState",
    "Qualification",
    "Reading",
    "Role",
    "Severity",
    "SignOff",
    "Tablet",
    "Voiding",
    "Withdrawal",
]
