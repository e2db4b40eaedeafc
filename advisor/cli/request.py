"""From options to what the use cases take."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from typing import TextIO
from zoneinfo import ZoneInfo

from advisor.base.errors import InputError
from advisor.physics.uncertainty import SensorSpread
from advisor.planning.case import Site
from advisor.planning.hours import parse_hours
from advisor.planning.words import Words
from advisor.work.coat_setup import CoatSetup
from advisor.work.conditions import Conditions, load_conditions
from advisor.work.moments import parse_moment, time_zone
from advisor.work.product_choice import choose_previous, choose_product


@dataclass(frozen=True)
class Call:
    """One call of the program: its options, the clock, where to write."""

    options: argparse.Namespace
    now_s: float
    out: TextIO

    @property
    def given_zone(self) -> ZoneInfo | None:
        """The zone named, None where none was."""
        name = self.options.time_zone
        return None if name is None else time_zone(name)

    @property
    def zone(self) -> ZoneInfo:
        """The zone to print in."""
        return self.given_zone or ZoneInfo("UTC")

    def words(self, about_s: float | None = None) -> Words:
        """Return the reader's units and clock; moments on the day of `about_s` go without it."""
        return Words(self.options.units, self.zone, about_s)

    def moment(self, option: str) -> float | None:
        """Return the UTC seconds of a time option, None where it was not given."""
        text = getattr(self.options, option, None)
        name = "--from" if option == "from_time" else f"--{option}"
        return None if text is None else parse_moment(text, self.given_zone, name)

    def conditions(self) -> Conditions:
        """Read the file of conditions."""
        options = self.options
        return load_conditions(
            options.conditions,
            time_zone=options.time_zone,
            station=options.station,
            surface_lag_h=options.surface_lag_h,
            date_order=options.date_order,
        )


#: A command: takes the call, returns the exit code.
Command = Callable[[Call], int]


def coat_setup(call: Call) -> CoatSetup:
    """Gather the coat; InputError for options that do not go together."""
    options = call.options
    method = options.method
    previous = None
    if options.previous is not None:
        previous = choose_previous(
            options.previous, options.database, call.given_zone, reverse=options.reverse
        )
    elif options.reverse:
        raise InputError("--reverse: found no --previous; accepted: both together")
    return CoatSetup(
        product=choose_product(options.product, options.database).by_method(method),
        apply_h=apply_hours(options),
        previous=previous,
        site=_site(options),
        hours=None if options.working_hours is None else parse_hours(options.working_hours),
        zone=call.zone,
        mix_temp_c=options.mix_temp,
        spread=sensor_spread(options),
        certain=options.certain,
        method=method,
        burner=options.burner,
        fast_thinner=options.fast_thinner,
        bare_steel=options.substrate == "steel" and previous is None,
        dried_s=call.moment("dried"),
        prepared_s=call.moment("prepared"),
        timber_moisture_pct=getattr(options, "timber_moisture", None),
        tin_temp_c=getattr(options, "tin_temp", None),
    )


def apply_hours(options: argparse.Namespace) -> float:
    """Hours of application: as given, or area over pace; one patch where nothing is given."""
    area, pace, hours = options.area_m2, options.pace_m2_per_h, options.apply_hours
    if hours is not None:
        if area is not None or pace is not None:
            raise InputError(
                "--apply-hours: found --area-m2 or --pace-m2-per-h as well; accepted: "
                "--apply-hours alone, or area and pace together"
            )
        return float(hours)
    if (area is None) != (pace is None):
        missing = "--area-m2" if area is None else "--pace-m2-per-h"
        raise InputError(f"{missing}: found none; accepted: area and pace together")
    if area is None:
        return 0.0
    found = float(area) / float(pace)
    if found > 1000:
        raise InputError(f"--area-m2 over --pace-m2-per-h: found {found:g} h; accepted: up to 1000")
    return found


def sensor_spread(options: argparse.Namespace) -> SensorSpread:
    """Return the instruments' errors, wider for infra-red without matt tape."""
    spread = SensorSpread.from_half_widths(
        options.air_accuracy, options.rh_accuracy, options.surface_accuracy
    )
    untaped = getattr(options, "surface_kind", "contact") in ("ir-gloss", "ir-metal")
    return spread.with_untaped_infrared() if untaped else spread


def _site(options: argparse.Namespace) -> Site:
    wind = options.wind_limit
    if wind is not None and not options.outdoors:
        raise InputError("--wind-limit: found no --outdoors; accepted: both together")
    return Site(options.outdoors, wind, options.trend)
