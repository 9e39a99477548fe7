"""How long kinds of session take on average, by their own figures."""

from __future__ import annotations

from collections import Counter

from sites.models import Profile


def expected_minutes(profile: Profile) -> float:
    """Mean length in minutes: setup, captures with their retakes and remedies, wrap-up.

    A capture is tried until it is good, at most ``max_attempts`` times: with a chance r of a
    retake the mean number of tries is 1 + r + ... + r^(max - 1), a geometric sum.
    """
    seconds = 0.0
    for capture in profile.captures.all():
        tries = sum(capture.retake**k for k in range(profile.max_attempts))
        seconds += capture.count * (capture.seconds * tries + profile.remedy_seconds * (tries - 1))
    return profile.setup_mean + seconds / 60 + profile.wrapup_minutes


def longer_profile(profile: Profile) -> Profile | None:
    """The next longer kind of session that takes the same captures; None where there is none."""
    wanted, usual = captures_of(profile), expected_minutes(profile)
    longer = [
        (expected_minutes(each), each.code, each)
        for each in Profile.objects.exclude(pk=profile.pk).prefetch_related("captures")
        if captures_of(each) == wanted
    ]
    found = min((each for each in longer if each[0] > usual), default=None)
    return None if found is None else found[2]


def captures_of(profile: Profile) -> Counter[str]:
    """How many captures of each kind."""
    counts: Counter[str] = Counter()
    for capture in profile.captures.all():
        counts[capture.kind] += capture.count
    return counts
