"""Groups of roles, and the sites at which a role holds."""

from __future__ import annotations

from typing import TypeAlias

from django.contrib.auth.models import AnonymousUser
from django.db.models import Q, QuerySet

from sites.models.account import Role, User
from sites.models.site import Site

Who: TypeAlias = User | AnonymousUser

DESK = (Role.COORDINATOR, Role.SITE_LEAD)
FLOOR = (Role.TECHNICIAN, Role.SITE_LEAD)
HOUSE = (Role.COORDINATOR, Role.SITE_LEAD, Role.TECHNICIAN)
"""Roles that hold at the sites they cover, and nowhere where none is named."""

EVERYWHERE = (Role.MANAGER, Role.AUDITOR, Role.ADMINISTRATOR)
"""Roles that see every site, whatever their login covers."""

EVERYBODY = (*HOUSE, *EVERYWHERE)


def signed_in(user: Who | None) -> bool:
    """Whether this is a login that is switched on."""
    return isinstance(user, User) and user.is_active


def is_administrator(user: Who | None) -> bool:
    """Whether somebody may set everything up."""
    return (
        isinstance(user, User)
        and user.is_active
        and (user.is_superuser or user.role == Role.ADMINISTRATOR)
    )


def has_role(user: Who | None, roles: tuple[Role, ...]) -> bool:
    """Whether a login that is switched on has one of these roles; an administrator has them all."""
    if not isinstance(user, User) or not user.is_active:
        return False
    return is_administrator(user) or user.role in roles


def sees_everywhere(user: Who | None) -> bool:
    """Whether somebody's view does not end at the sites of their login."""
    return has_role(user, EVERYWHERE)


def home_sites(user: User) -> QuerySet[Site]:
    """The sites at which a scoped role holds: those covered, for a technician also of own shifts.

    May name a site twice: meant for ``__in``.
    """
    own = Q(users=user)
    if user.role == Role.TECHNICIAN:
        own |= Q(shifts__technician__login=user)
    return Site.objects.filter(own).order_by()
