"""What a change is, what it costs and asks for, in words."""

from __future__ import annotations

from types import MappingProxyType

from advisor.base import units as u
from advisor.climate.shop import inputs as given
from advisor.climate.shop.changed_air import AsIs
from advisor.climate.shop.shop import Change
from advisor.planning.words import Words

FIRST = "The maker's data sheet and local codes come first."
NO_SPARK = "No glowing element or open motor near solvent vapour."
MOVED = MappingProxyType({"indoors": "moved into the shop", "outdoors": "moved outdoors"})
UNVENTED_MEANS = "bottled gas or paraffin"


def of_change(change: Change, words: Words) -> str:
    """Return the change in a few words: "electric heater 2 kW, Tue 06:00 to 18:00"."""
    parts = [MOVED[change.move]] if change.move else []
    if change.heater_kw > 0:
        parts.append(f"{change.heater_kind} heater {change.heater_kw:g} kW")
    if change.dehumidifier_l_per_day > 0:
        parts.append(f"dehumidifier {_rate(change.dehumidifier_l_per_day, words.units)}")
    if change.air_changes != 1.0:
        more = "doors open" if change.air_changes > 1 else "doors shut up"
        parts.append(f"{more} ({change.air_changes:g} times the air change)")
    if change.damp_litres > 0:
        water = u.format_volume(change.damp_litres, words.units)
        parts.append(f"{water} on {u.format_area(change.damp_m2, words.units)} of floor")
    if change.tent_m3 > 0:
        room = u.format_value(change.tent_m3, u.AIR_VOLUME, words.units)
        parts.append(f"tent of {room} round the work")
    what = " + ".join(parts) or "nothing changed"
    return f"{what}{_when(change, words)}" if parts else what


def _rate(l_per_day: float, units: u.Units) -> str:
    return u.format_value(l_per_day, u.WATER_RATE, units)


def _when(change: Change, words: Words) -> str:
    if change.from_s is None and change.until_s is None:
        return ""
    if change.until_s is None:
        assert change.from_s is not None
        return f", from {words.moment(change.from_s)}"
    if change.from_s is None:
        return f", until {words.moment(change.until_s)}"
    return f", {words.moment(change.from_s)} to {words.moment(change.until_s)}"


def of_kwh(electric: float, fuel: float) -> str:
    """Return what it draws: electricity and fuel told apart."""
    parts = []
    if electric > 0:
        parts.append(f"{electric:.0f} kWh of electricity" if electric >= 1
                     else f"{electric:.1f} kWh of electricity")  # fmt: skip
    if fuel > 0:
        parts.append(f"{fuel:.0f} kWh of fuel")
    return " and ".join(parts) or "no energy"


def headline(
    change: Change, go_h: float, go_h_now: float, kwh: tuple[float, float], words: Words
) -> str:
    """Return the answer in one line: what, how much more or less to paint in, at what cost."""
    gained = go_h - go_h_now
    effect = "as many hours to start in"
    if round(gained * 60):
        more = "more" if gained > 0 else "fewer"
        effect = f"{abs(gained):.1f} h {more} to start in, all coats together"
    return f"{of_change(change, words)}: {effect}, {of_kwh(*kwh)}"


def notes(change: Change, at: AsIs, words: Words) -> tuple[str, ...]:
    """Return the cautions of a change, each one line."""
    found = [*_move(change), *_heater(change, at, words), *_air(change), *_water(change)]
    return (*found, FIRST) if found else ()


def _move(change: Change) -> list[str]:
    if not change.move:
        return []
    dry = "Move it only while no film on it is open: before mixing or once it is tack-free."
    if change.move == "indoors":
        return [dry, "Colder than the shop's dew point it gets wet: let it warm up first."]
    return [dry, "Rain, sun, wind and what they blow about count out there."]


def _heater(change: Change, at: AsIs, words: Words) -> list[str]:
    if change.heater_kw <= 0:
        return []
    if change.heater_kind == "electric":
        return [NO_SPARK]
    flame = (
        "No flame near solvent vapour: heat first, off, air out, paint, let it clear, heat again."
    )
    if change.heater_kind == "vented":
        return [flame, "Flue it outside and hang a carbon monoxide alarm."]
    water_kg = given.heater_vapour_g_per_h(change) / 1000.0
    fresh = at.response.air_change_per_h * at.response.volume_m3 * change.air_changes
    rise = given.co2_rise_ppm(change.heater_kw, fresh)
    return [
        f"Unvented ({UNVENTED_MEANS}): {_mass(water_kg, words.units)} of water an hour into the "
        "air, which raises the dew point.",
        f"Its carbon dioxide (about {_round(rise)} ppm over outdoors in the long run) and water "
        "bring amine blush on epoxy.",
        "Carbon monoxide kills: hang an alarm, keep air coming in.",
        flame,
    ]


def _mass(kg: float, units: u.Units) -> str:
    return u.format_value(kg, u.MASS, units)


def _air(change: Change) -> list[str]:
    found = []
    if change.dehumidifier_l_per_day > 0:
        found.append("A dehumidifier wants closed doors, wet solvent wants fresh air: run it "
                     "before mixing and after the film is tack-free.")  # fmt: skip
    if change.air_changes < 1:
        found.append("Never with less fresh air while solvent is wet: vapour builds up.")
    if change.tent_m3 > 0:
        found.append("A tent holds solvent vapour: hang it clear of the film once it is "
                     "tack-free, with a way for air at the foot.")  # fmt: skip
    return found


def _water(change: Change) -> list[str]:
    if change.damp_litres <= 0:
        return []
    return ["A damp floor raises the dew point: read the air again before mixing."]


def _round(ppm: float) -> str:
    """Two figures are all it is worth."""
    return f"{float(f'{ppm:.2g}'):,.0f}".replace(",", " ")


def suggested(
    change: Change, opens: tuple[float, float], kwh: tuple[float, float], words: Words
) -> str:
    """Return a suggestion in words: what, which starts it opens, what it costs, what to mind."""
    begin, end = (words.moment(at_s) for at_s in opens)
    what = of_change(change, words)
    mind = _while_suggested(change)
    first = f"{what[0].upper()}{what[1:]}: opens {begin} to {end}, {of_kwh(*kwh)}."
    return " ".join((first, *mind, FIRST))


def _while_suggested(change: Change) -> list[str]:
    """What to mind: a suggestion is reckoned with the fresh air there is, and keeps it."""
    found = []
    if change.heater_kw > 0 or change.dehumidifier_l_per_day > 0:
        found.append(NO_SPARK)
    if change.dehumidifier_l_per_day > 0:
        found.append("Reckoned with doors and vents as they are: it would gain from shut ones, "
                     "but wet solvent wants its fresh air.")  # fmt: skip
    if change.tent_m3 > 0:
        found.append("Hang it clear of the film, only once it is tack-free, with a way for air "
                     "at the foot.")  # fmt: skip
    return found
