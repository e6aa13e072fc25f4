"""What was found, and who says so."""

from quality.models.checks import CheckKind, CheckPoint
from quality.models.people import Person, Qualification, Role
from quality.models.problems import Defect, Problem, ProblemState
from quality.models.signoffs import Reading, SignOff, Withdrawal

__all__ = [
    "CheckKind",
    "CheckPoint",
    "Defect",
    "Person",
    "Problem",
    "ProblemState",
    "Qualification",
    "Reading",
    "Role",
    "SignOff",
    "Withdrawal",
]
