"""The best free times for one caller, out of a plan that stands."""

from planner.engine.booking.offers.desk import OfferDesk
from planner.engine.booking.offers.result import (
    Chance,
    Charges,
    Displacement,
    Held,
    Offer,
    Offers,
)

__all__ = ["Chance", "Charges", "Displacement", "Held", "Offer", "OfferDesk", "Offers"]
