"""Defects of coatings and what may have caused them, as the trade knows it.

Common practice throughout; the direction of each is told in data sheets and public guides, the
figures are general knowledge of the trade (from memory) and no limit of any data sheet. Causes
of a defect stand with the usual one first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from advisor.planning.timeline import Phase
from advisor.record import cause_checks as c
from advisor.record.cause_checks import Check, over, thick_film, under

ON, DRY, DEW = Phase.APPLICATION, Phase.TO_TACK_FREE, Phase.TO_DEW_SAFE
PRACTICE = "common practice of the trade"


@dataclass(frozen=True)
class Suspect:
    """A possible cause: what would speak for it, how much each weighs, and what to do next."""

    name: str
    checks: tuple[tuple[float, Check], ...]
    next_step: str
    source: str = PRACTICE


_WASH = ("Let it harden, wash with warm water and a scrub pad, rinse, dry, test with water, and "
         "only then sand 80 to 180; never sand first")  # fmt: skip
_CUT = "Do not polish a thin film: let it cure 24 to 72 h, wet-sand 320 to 400, recoat under cover"
_FLAT = "Let it cure, sand flat, fill, and go over it in thinner coats"
_PEEL = "Cross-cut test; strip to what is sound, key 180 to 320, wipe, recoat inside the window"
_SOFT = "Give it time, warmth and air; do not recoat; scrape off what is still soft in 2 to 4 weeks"
_SAND = "Sand 320 to 400 and recoat with slower thinner, cooler or in the shade"

_DEW_ON_FILM = ((3.0, c.wetted), (2.0, under("margin", 2.0, "K", DEW)))
_CHILLED = ((2.0, under("margin", 5.0, "K", ON)), (1.0, over("rh", 85.0, "%", DRY)))
_DIRTY = ((1.0, c.not_wiped), (2.0, c.failed_water_break))

#: What may be behind each defect of `kinds.DEFECTS`.
SUSPECTS: Mapping[str, tuple[Suspect, ...]] = MappingProxyType({
    "amine blush": (
        Suspect("moisture on the curing epoxy", (
            (2.0, c.blush_air), (2.0, under("margin", 3.0, "K", DRY)), (2.0, c.wetted),
            (3.0, c.IS_EPOXY)), _WASH),
        Suspect("fumes of a heater without a flue", ((3.0, c.burner), (3.0, c.IS_EPOXY)), _WASH),
        Suspect("induction cut short", ((2.0, c.short_induction), (3.0, c.IS_EPOXY)), _WASH),
        Suspect("film too thick", ((1.0, thick_film()), (3.0, c.IS_EPOXY)), _WASH),
    ),
    "gloss loss": (
        Suspect("dew or fog before the film could take it", _DEW_ON_FILM, _CUT),
        Suspect("humid air while it dried", ((1.5, over("rh", 85.0, "%", DEW)),), _CUT),
        Suspect("solvent left in the coat below", ((2.0, c.too_early),), _CUT),
        Suspect("film too thick", ((1.0, thick_film()),), _CUT),
        Suspect("batch past its pot life", ((1.5, c.old_batch),), _CUT),
    ),
    "bubbles or pinholes": (
        Suspect("moisture in the air with the hardener", (
            (2.0, over("rh", 80.0, "%", DRY)), (2.0, c.IS_TWO_PART_GLOSS)),
            _FLAT + "; throw away hardener that is cloudy or crystalline"),
        Suspect("film too thick", ((2.0, thick_film(100.0)),), _FLAT),
        Suspect("skinned over in the heat", ((1.5, over("hot", 30.0, "°C", DRY)),), _FLAT),
        Suspect("damp timber or filler", ((2.0, c.damp_timber),), _FLAT),
        Suspect("air driven out of the surface", ((1.5, c.rising),), _FLAT),
    ),
    "solvent pop": (
        Suspect("skinned over in the heat", ((2.0, over("hot", 30.0, "°C", DRY)),),
                "Let it cure twice as long, sand through the popped layer, thinner coats"),
        Suspect("over the coat below too early", ((2.0, c.too_early),),
                "Let it cure twice as long, sand through the popped layer, keep the minimum"),
        Suspect("film too thick", ((2.0, thick_film()),),
                "Let it cure twice as long, sand through the popped layer, thinner coats"),
    ),
    "white haze": (
        Suspect("the wet film chilled to its dew point", _CHILLED,
                "Warm dry air may clear a light haze; else sand and recoat with slower thinner"),
        Suspect("dew on the film", _DEW_ON_FILM,
                "Warm dry air may clear a light haze; else sand and recoat under cover"),
        Suspect("too much thinner", ((1.0, c.over_thinned),),
                "Sand and recoat, with slower thinner inside the data sheet's share"),
    ),
    "dry spray": (
        Suspect("droplets dried in hot air",
                ((2.0, over("air", 28.0, "°C", ON)), (3.0, c.IS_SPRAY)), _SAND),
        Suspect("wind", ((2.0, over("wind", 4.0, "m/s", ON)), (3.0, c.IS_SPRAY)), _SAND),
    ),
    "brush drag or lap lines": (
        Suspect("the wet edge set in the heat", ((2.0, over("hot", 28.0, "°C", ON)),), _SAND),
        Suspect("the wet edge set in dry air", ((1.5, under("rh", 35.0, "%", ON)),), _SAND),
        Suspect("moving air", ((1.0, over("wind", 0.5, "m/s", ON)),), _SAND),
        Suspect("batch near or past its pot life", ((1.5, c.old_batch),), _SAND),
    ),
    "sags": (
        Suspect("film too thick", ((2.0, thick_film()),), "Let it cure, block sand, thinner coats"),
        Suspect("cold paint put on thick", (
            (1.5, c.cold_mix), (1.0, under("surface", 12.0, "°C", ON))),
            "Let it cure, block sand; warm the tins to 18 to 22 °C the night before"),
        Suspect("too much thinner", ((2.0, c.over_thinned),),
                "Let it cure, block sand, keep to the data sheet's share"),
    ),
    "soft film": (
        Suspect("too cold to cure", ((2.0, under("surface", 10.0, "°C", DRY)),), _SOFT),
        Suspect("over the coat below too early", ((2.0, c.too_early),), _SOFT),
        Suspect("film too thick", ((1.5, thick_film()),), _SOFT),
        Suspect("humid air while it dried", ((1.0, over("rh", 85.0, "%", DRY)),), _SOFT),
        Suspect("batch past its pot life", ((1.5, c.old_batch),), _SOFT),
    ),
    "peeling": (
        Suspect("bond of the coat below had closed", (
            (3.0, c.too_late), (1.0, c.not_keyed)), _PEEL),
        Suspect("damp surface at the start", (
            (2.0, c.wet_at_start), (1.0, under("margin", 3.0, "K", ON))), _PEEL),
        Suspect("dust, oil or blush under it", _DIRTY, _PEEL),
    ),
    "wrinkling": (
        Suspect("strong solvent over a coat that was not cured", (
            (2.5, c.too_early), (2.5, c.forbidden)),
            "Stop; let it harden for days, then sand or strip and put a barrier between"),
        Suspect("film too thick", ((1.5, thick_film()),), _SOFT),
    ),
    "fisheyes": (
        Suspect("silicone, oil or wax on the surface", _DIRTY,
                "Stop; wipe off wet with the system's thinner, dewax with two rags, sand; "
                "never chase it with more coats"),
        Suspect("condensation that left salt or soot", ((1.0, c.wet_at_start),),
                "Wash, rinse, dry, sand"),
    ),
    "dust nibs": (
        Suspect("slow to dry in the cold", ((1.5, under("surface", 12.0, "°C", DRY)),),
                "Sand 400 to 600"),
        Suspect("moving air", ((1.5, over("wind", 1.0, "m/s", DRY)),),
                "Sand 400 to 600; fan off until dust-free"),
        Suspect("dust left on the surface", ((1.0, c.not_wiped),),
                "Sand 400 to 600; damp the floor and read again before painting"),
    ),
    "flash rust": (
        Suspect("bare steel stood too long", (
            (2.0, c.late_after_preparation(4.0)), (3.0, c.IS_STEEL)),
            "Blast or abrade again and prime within 4 h"),
        Suspect("damp air on bare steel", (
            (1.5, over("rh", 60.0, "%", ON)), (2.0, c.wet_at_start), (3.0, c.IS_STEEL)),
            "Blast or abrade again and prime within 4 h, in dry air"),
    ),
    "outgassing bubbles": (
        Suspect("the surface warmed while it went on", ((2.5, c.rising),),
                "Coat on a steady or falling temperature, with a thin sealing coat first"),
        Suspect("damp timber or filler", ((2.0, c.damp_timber),),
                "Dry it out, then a thin sealing coat first"),
    ),
    "poor adhesion": (
        Suspect("damp surface at the start", (
            (2.0, c.wet_at_start), (1.5, under("margin", 3.0, "K", ON))), _PEEL),
        Suspect("bond of the coat below had closed", (
            (2.5, c.too_late), (1.0, c.not_keyed)), _PEEL),
        Suspect("dust, oil or blush under it", _DIRTY, _PEEL),
        Suspect("batch past its pot life", ((1.0, c.old_batch),), _PEEL),
    ),
    "cracking": (
        Suspect("film too thick", ((2.0, thick_film()),), "Sand or scrape to sound; thin coats"),
        Suspect("hot surface", ((1.0, over("hot", 30.0, "°C", DRY)),),
                "Sand or scrape to sound; thin coats, out of the heat"),
        Suspect("wind", ((1.0, over("wind", 4.0, "m/s", DRY)),),
                "Sand or scrape to sound; thin coats, out of the wind"),
    ),
})  # fmt: skip
