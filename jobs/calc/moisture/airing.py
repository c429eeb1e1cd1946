"""What air drawn from the shop through an opened cavity carries out, and the heat that this takes.

Source: balance of water and heat over the cavity, with enthalpy and volume of moist air by ASHRAE Handbook
Fundamentals 2017, chapter 1 (see air.py); the balance itself from memory. What it assumes is said in ASSUMES.
"""

from dataclasses import dataclass

from jobs.calc.moisture.air import (
    RH_RANGE_PCT,
    STANDARD_PRESSURE_PA,
    WATER_J_PER_KG_K,
    enthalpy_j_per_kg,
    humidity_ratio,
    volume_m3_per_kg,
)
from jobs.calc.moisture.ranges import check_range

FLOW_RANGE_M3_PER_H = (0.0, 100_000.0)
# Two hygrometers side by side may differ by this much. Planning value, no source.
HYGROMETER_PCT = 3.0
ASSUMES = "if it leaves the cavity as the air there was measured"
M3_PER_H_PER_CFM = 0.3048**3 * 60
LB_PER_KG, BTU_PER_H_PER_W = 1 / 0.45359237, 3.412142
# What a page speaks of: a flow of a size that one blower makes, in the shop's units.
FLOWS_M3_PER_H = {"us": 100 * M3_PER_H_PER_CFM, "metric": 100.0}
FLOW_WORDS = {"us": "100 cfm", "metric": "100 m³/h"}


@dataclass(frozen=True)
class Airing:
    """What passes through the cavity in an hour.

    dry_air_kg_per_h: of the air drawn in. water_kg_per_h: what it carries out; below 0 it leaves water behind.
    heat_w: what it takes up on its way, water as it evaporates included; below 0 it brings heat in.
    is_sure: whether the water in the two airs differs by more than a hygrometer can be off.
    """

    dry_air_kg_per_h: float
    water_kg_per_h: float
    heat_w: float
    is_sure: bool


def airing(
    shop_air: tuple[float, float],
    cavity_air: tuple[float, float],
    *,
    flow_m3_per_h: float,
    pressure_pa: float = STANDARD_PRESSURE_PA,
) -> Airing:
    """What a steady flow of the shop's air does that goes in as measured there and comes out as the cavity's was.

    shop_air, cavity_air: temperature [C] and relative humidity [%]. flow_m3_per_h: counted as it enters, 0 to 100 000.
    The water comes out of wood as warm as the cavity. Raises ValueError if a number is outside its range.
    """
    check_range("flow_m3_per_h", flow_m3_per_h, FLOW_RANGE_M3_PER_H)
    ratio_in, ratio_out = (humidity_ratio(*air, pressure_pa) for air in (shop_air, cavity_air))
    flow_kg_per_h = flow_m3_per_h / volume_m3_per_kg(shop_air[0], ratio_in, pressure_pa)
    gained = ratio_out - ratio_in
    # The water brings along the little heat that it held in the wood.
    heat_j_per_kg = (
        enthalpy_j_per_kg(cavity_air[0], ratio_out)
        - enthalpy_j_per_kg(shop_air[0], ratio_in)
        - gained * WATER_J_PER_KG_K * cavity_air[0]
    )
    return Airing(
        dry_air_kg_per_h=flow_kg_per_h,
        water_kg_per_h=flow_kg_per_h * gained,
        heat_w=flow_kg_per_h * heat_j_per_kg / 3600,
        is_sure=abs(gained) > _doubt(cavity_air, pressure_pa),
    )


def airing_words(
    shop_air: tuple[float, float],
    cavity_air: tuple[float, float],
    *,
    units: str,
    pressure_pa: float = STANDARD_PRESSURE_PA,
) -> str:
    """What 100 cfm (or 100 m3/h) of the shop's air would do in the cavity, in a sentence or two for a page.

    units: "us" or "metric". Raises ValueError if units is neither or a number is outside its range.
    """
    if units not in FLOW_WORDS:
        raise ValueError(f"units must be 'us' or 'metric', got {units!r}")
    found = airing(shop_air, cavity_air, flow_m3_per_h=FLOWS_M3_PER_H[units], pressure_pa=pressure_pa)
    flow = FLOW_WORDS[units]
    if not found.is_sure:
        return (
            "The shop's air holds as much water as the cavity's, as far as a hygrometer can tell: "
            f"drawing it through would neither dry nor wet much, {ASSUMES}."
        )
    if found.water_kg_per_h < 0:
        return (
            f"The shop's air holds more water than the cavity's: {flow} of it drawn through would leave about "
            f"{_water(-found.water_kg_per_h, units)} of water in there an hour, {ASSUMES}. "
            "Airing would wet it: dry the shop's air first."
        )
    return (
        f"{flow} of the shop's air drawn through the cavity carries out about "
        f"{_water(found.water_kg_per_h, units)} of water an hour and {_heat(found.heat_w, units)}, {ASSUMES}."
    )


def _water(kg: float, units: str) -> str:
    return f"{_rounded(kg * LB_PER_KG)} lb" if units == "us" else f"{_rounded(kg)} kg"


def _heat(watts: float, units: str) -> str:
    verb = "takes up" if watts > 0 else "brings in"
    amount = abs(watts)
    if units == "us":
        return f"{verb} about {_rounded(amount * BTU_PER_H_PER_W)} Btu of heat an hour"
    return f"{verb} about {_rounded(amount)} W of heat"


def _rounded(amount: float) -> str:
    """To two figures: the readings behind it are no better."""
    shown = float(f"{amount:.1e}")
    return f"{shown:,.0f}" if shown >= 10 else f"{shown:.2g}"


def _doubt(air: tuple[float, float], pressure_pa: float) -> float:
    """By how much the humidity ratio [kg/kg] may be off, going by the hygrometer."""
    temp_c, rh_pct = air
    lower_pct = min(rh_pct, RH_RANGE_PCT[1] - HYGROMETER_PCT)
    return humidity_ratio(temp_c, lower_pct + HYGROMETER_PCT, pressure_pa) - humidity_ratio(
        temp_c, lower_pct, pressure_pa
    )
