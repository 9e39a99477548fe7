"""What the session after an image return should be like, and why, in words.

Figures are common practice (no source) or our defaults; a person reads and changes them before a
request is made of them. Needs are named, never a diagnosis.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Max, Q, QuerySet

from sites.access import sites_visible
from sites.clock import date_words
from sites.models import (
    Cause,
    MissingCode,
    Profile,
    Request,
    Response,
    Session,
    Site,
    Skill,
    User,
)
from sites.selectors.lately import scanner_yields, site_yields
from sites.selectors.lengths import expected_minutes, longer_profile
from sites.selectors.shares import Share

SKILL = "difficult_capture"
HAND_CARE_DAYS = 7  # ours: hand care before a capture that stayed short for dry or worn skin
SKIN = {Cause.DRY, Cause.WORN}
HANDLING = {
    Cause.MOIST,
    Cause.PRESSURE,
    Cause.SMEAR,
    Cause.ROLL_SHORT,
    Cause.PLACEMENT,
    Cause.SEQUENCE,
}
GLASS = {Cause.RESIDUE, Cause.DEVICE}
AGAIN = "A second capture of the same fingers comes back in 15 to 25 of 100 cases (common practice)"


@dataclass(slots=True)
class Advice:
    """The recommended session; ``reasons`` are whole sentences, ``release`` the first day to book.

    ``avoid`` names a station whose scanner does worse than the site: planning does not know it, the
    desk does.
    """

    profile: Profile
    skills: list[Skill]
    sites: list[Site]
    release: date
    due: date
    avoid: str = ""
    reasons: list[str] = field(default_factory=list)

    @property
    def words(self) -> str:
        """The reasons as one text."""
        return "\n".join(self.reasons)


def rework_advice(*, response: Response, today: date) -> Advice:
    """Recommend the session that should follow an image return, in a fixed number of queries."""
    returned = response.submission.request
    session = response.submission.session
    found = Advice(
        profile=returned.profile,
        skills=list(returned.skills.all()),
        sites=[row.site for row in returned.at_sites.select_related("site").order_by("travel")],
        release=today,
        due=today + timedelta(days=returned.terms.rework_days),
    )
    skilled(found)
    longer(found)
    elsewhere(found, session, today)
    rested(found, session, today)
    return found


def rework_places(*, user: User, returned: Request) -> QuerySet[Site]:
    """Sites that somebody can choose for rework: those in view, and those it had before."""
    own = Q(pk__in=sites_visible(user).order_by().values("pk"))
    return Site.objects.filter(own | Q(for_requests__request=returned)).distinct()


def skilled(found: Advice) -> None:
    """Ask for a technician who is skilled in difficult capture, where a site has one."""
    skill = Skill.objects.filter(code=SKILL, technicians__isnull=False).distinct().first()
    if skill is None:
        found.reasons.append("No technician is marked as skilled in difficult capture.")
        return
    if skill not in found.skills:
        found.skills.append(skill)
    found.reasons.append(f"{AGAIN}: a technician skilled in difficult capture.")


def longer(found: Advice) -> None:
    """The next longer kind of session with the same captures."""
    profile = longer_profile(found.profile)
    if profile is None:
        found.reasons.append("There is no longer kind of session with the same captures.")
        return
    usual, more = expected_minutes(found.profile), expected_minutes(profile)
    found.reasons.append(
        f"A longer session: {profile}, {more:.0f} minutes on average in place of {usual:.0f}."
    )
    found.profile = profile


def elsewhere(found: Advice, session: Session, today: date) -> None:
    """Leave out the site where sets come back more than elsewhere, and name a scanner that does."""
    station = session.appointment.station
    whole, by_site = site_yields(today=today)
    here = by_site.get(station.site_id)
    if low(here, whole):
        others = [site for site in found.sites if site.pk != station.site_id]
        said = f"At {station.site} {passed(here)} were accepted at once, {passed(whole)} over all"
        if others:
            found.sites = others
            found.reasons.append(f"{said}: another site.")
        else:
            found.reasons.append(f"{said}; no other site can take it.")
    site, by_scanner = scanner_yields(site=station.site_id, today=today)
    if session.scanner_id and low(by_scanner.get(session.scanner_id), site):
        found.avoid = str(station)
        found.reasons.append(
            f"Scanner {session.scanner}: {passed(by_scanner[session.scanner_id])} were accepted at "
            f"once, {passed(site)} at the site: use another one than at {station}."
        )


def low(one: Share | None, all_of_them: Share) -> bool:
    """Whether a yield is surely lower: its whole 95 % interval lies below the other's value."""
    if one is None or one.high is None or all_of_them.value is None:
        return False
    return one.high < all_of_them.value


def passed(share: Share | None) -> str:
    """``45 of 60 sets``."""
    return "no sets" if share is None else f"{share.hits} of {share.n} sets"


def rested(found: Advice, session: Session, today: date) -> None:
    """Days before the first day to book: for healing, or for care of the hands."""
    review = session.missing.filter(code=MissingCode.UNPRINTABLE).aggregate(day=Max("review_on"))
    if review["day"] is not None:
        found.release = max(today, review["day"])
        found.reasons.append(
            f"A finger could not be printed: not before {date_words(found.release)}, the day on "
            "which it is looked at again. Never print over a fresh cut, a blister or a bandage."
        )
    else:
        causes = Counter(
            Cause(cause)
            for cause in session.attempts.exclude(cause="").values_list("cause", flat=True)
        )
        cared(found, causes, today)
    if found.release > found.due:
        found.release = found.due
        found.reasons.append("That is past the due date: agree on a later one with the programme.")


def cared(found: Advice, causes: Counter[Cause], today: date) -> None:
    """Hand care where the skin was the cause, or no cause is known; else what helps instead."""
    skin = sum(causes[each] for each in SKIN)
    others = {
        "how the fingers met the glass": sum(causes[each] for each in HANDLING),
        "the scanner": sum(causes[each] for each in GLASS),
    }
    if causes and skin < max(others.values()):
        cause = max(others, key=lambda each: others[each])
        helps = {
            "how the fingers met the glass": "coach, roll slowly, lift after each roll",
            "the scanner": "clean and calibrate it, and have it looked at",
        }[cause]
        found.reasons.append(f"Most retakes came from {cause}: {helps}. No days to wait.")
        return
    found.release = today + timedelta(days=HAND_CARE_DAYS)
    retakes = "1 retake" if skin == 1 else f"{skin} retakes"
    why = f"{retakes} for dry or worn skin" if skin else "No cause of retakes is known"
    found.reasons.append(
        f"{why}: {HAND_CARE_DAYS} days of hand care first (ours), at least twice a day."
    )
