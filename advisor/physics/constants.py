"""Constants that more than one room of physics and climate needs, each once."""

from __future__ import annotations

#: 0 °C in kelvins: exact.
ZERO_C_K = 273.15
#: Gas constant of water vapour, J/(kg K): 8.314462618 J/(mol K) over 18.0153 g/mol.
VAPOUR_J_KG_K = 461.523
#: Density (kg/m³) and heat capacity (J/(kg K)) of room air (common practice).
AIR_KG_M3, AIR_J_KG_K = 1.2, 1005.0
#: Heat that air carries, Wh/(m³ K): 0.335, the third of the trade.
AIR_WH_M3_K = AIR_KG_M3 * AIR_J_KG_K / 3600.0
