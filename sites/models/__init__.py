"""The record's models, one noun a file."""

from sites.models.account import Role, User
from sites.models.api import ApiCall, ApiToken
from sites.models.appointment import Appointment, AppointmentEvent
from sites.models.audit import AuditEntry
from sites.models.care import CareKind, CareOutcome, CareRule, CareWindow
from sites.models.codes import Algorithm, Cause, FingerPosition, ImpressionType, MissingCode
from sites.models.hold import Hold
from sites.models.intake import (
    ExternalReference,
    FindingKind,
    Intake,
    IntakeBlock,
    IntakeFinding,
    IntakeStep,
)
from sites.models.leftout import LeftOut
from sites.models.notice import (
    REACHED,
    TO_DO,
    Notice,
    NoticeKind,
    NoticeState,
    NoticeText,
    Supply,
)
from sites.models.occupancy import Occupancy
from sites.models.planrun import OPEN_RUNS, PlanResult, PlanRun, RunState
from sites.models.price import PricePart, SitePrice
from sites.models.profile import CaptureKind, Profile, ProfileCapture
from sites.models.programme import Programme, ProgrammeVersion
from sites.models.purge import Purge
from sites.models.request import Request, RequestSite, RequestTime
from sites.models.restore import Restore
from sites.models.runpart import PartState, RunPart
from sites.models.session import (
    Attempt,
    MissingFinger,
    Override,
    OverrideKind,
    Session,
    SessionEnd,
)
from sites.models.site import Closure, OpeningHours, Reserve, Site, SpecialHours
from sites.models.station import Downtime, Scanner, ScannerPlacement, Station
from sites.models.subject import HomeArea, Subject, TravelTime
from sites.models.submission import ExceptionRoute, Response, ResponseKind, Submission
from sites.models.technician import Absence, Break, Certification, Shift, Technician
from sites.models.threshold import Threshold
from sites.models.waiting import DayPart, Proposal, ProposalAnswer, Waiting, WaitingEnd
from sites.models.words import Feature, Skill
from sites.step import ACTIVE, OCCUPIES, Step

__all__ = [
    "ACTIVE",
    "OCCUPIES",
    "OPEN_RUNS",
    "REACHED",
    "TO_DO",
    "Absence",
    "Algorithm",
    "ApiCall",
    "ApiToken",
    "Appointment",
    "AppointmentEvent",
    "Attempt",
    "AuditEntry",
    "Break",
    "CaptureKind",
    "CareKind",
    "CareOutcome",
    "CareRule",
    "CareWindow",
    "Cause",
    "Certification",
    "Closure",
    "DayPart",
    "Downtime",
    "ExceptionRoute",
    "ExternalReference",
    "Feature",
    "FindingKind",
    "FingerPosition",
    "Hold",
    "HomeArea",
    "ImpressionType",
    "Intake",
    "IntakeBlock",
    "IntakeFinding",
    "IntakeStep",
    "LeftOut",
    "MissingCode",
    "MissingFinger",
    "Notice",
    "NoticeKind",
    "NoticeState",
    "NoticeText",
    "Occupancy",
    "OpeningHours",
    "Override",
    "OverrideKind",
    "PartState",
    "PlanResult",
    "PlanRun",
    "PricePart",
    "Profile",
    "ProfileCapture",
    "Programme",
    "ProgrammeVersion",
    "Proposal",
    "ProposalAnswer",
    "Purge",
    "Request",
    "RequestSite",
    "RequestTime",
    "Reserve",
    "Response",
    "ResponseKind",
    "Restore",
    "Role",
    "RunPart",
    "RunState",
    "Scanner",
    "ScannerPlacement",
    "Session",
    "SessionEnd",
    "Shift",
    "Site",
    "SitePrice",
    "Skill",
    "SpecialHours",
    "Station",
    "Step",
    "Subject",
    "Submission",
    "Supply",
    "Technician",
    "Threshold",
    "TravelTime",
    "User",
    "Waiting",
    "WaitingEnd",
]
