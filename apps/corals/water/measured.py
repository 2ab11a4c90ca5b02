"""What a reading of the water measures, in one unit for each: so that readings can be compared."""

from dataclasses import dataclass

from apps.corals.water_models import WaterEvent

Kind = WaterEvent.Kind
# Alkalinity: 1 meq/L is 2.8 dKH; 50 mg/L of calcium carbonate are 1 meq/L (by definition).
DKH_OF_MEQ, MG_OF_MEQ = 2.804, 50.04
# Salinity by specific gravity at 25 °C: 1.0264 is 35 ppt, and near it it is straight (common
# practice, from memory).
PPT_AT, GRAVITY_AT, PPT_OF_GRAVITY = 35.0, 1.0264, 1330.0
# Conductivity of 35 ppt at 25 °C [mS/cm] (UNESCO 1983, from memory); straight enough near it.
MS_AT = 53.0
NUTRIENTS = {
    "nitrate": "nitrate", "no3": "nitrate", "phosphate": "phosphate", "po4": "phosphate",
    "nitrite": "nitrite", "no2": "nitrite", "ammonia": "ammonia", "nh3": "ammonia",
    "nh4": "ammonia",
}  # fmt: skip


@dataclass(frozen=True)
class Measured:
    """One reading in the unit that its words name: "temperature [°C]"."""

    words: str
    value: float


def measured_value(kind: str, *, value: float, unit: str, text: str = "") -> Measured | None:
    """Return the Measured of a reading, or None where its kind is no value or its unit unknown.

    `value` in the keeper's `unit`; of nutrients the unit or the `text` says which one it is.
    """
    plain = unit.strip().lower().removeprefix("°").strip()
    if kind == Kind.TEMPERATURE:
        celsius = {"c": value, "celsius": value, "f": (value - 32) / 1.8, "k": value - 273.15}
        return measured("temperature [°C]", celsius.get(plain))
    if kind == Kind.ALKALINITY:
        dkh = {"dkh": 1.0, "kh": 1.0, "meq/l": DKH_OF_MEQ, "mmol/l": DKH_OF_MEQ}
        dkh |= dict.fromkeys(("ppm", "mg/l", "mg/l caco3", "ppm caco3"), DKH_OF_MEQ / MG_OF_MEQ)
        return measured("alkalinity [dKH]", value * dkh[plain] if plain in dkh else None)
    if kind == Kind.SALINITY:
        return measured("salinity [ppt]", salinity_ppt(value, plain))
    if kind == Kind.CALCIUM:
        mg = {"mg/l": value, "ppm": value, "mg/l calcium": value, "mmol/l": 40.08 * value}
        return measured("calcium [mg/L]", mg.get(plain))
    if kind == Kind.PH:
        return measured("pH", value)
    if kind == Kind.NUTRIENTS:
        return nutrient(value, plain, text.lower())
    return None


def measured(words: str, value: float | None) -> Measured | None:
    """Return the Measured of a value, None without one."""
    return None if value is None else Measured(words, float(value))


def salinity_ppt(value: float, unit: str) -> float | None:
    """Return a salinity [ppt] of a value in ppt, PSU, specific gravity or mS/cm, else None."""
    if unit in ("ppt", "psu", "g/l", "g/kg", "‰"):
        return value
    if unit in ("sg", "specific gravity"):
        return PPT_AT + PPT_OF_GRAVITY * (value - GRAVITY_AT)
    return PPT_AT * value / MS_AT if unit in ("ms/cm", "ms") else None


def nutrient(value: float, unit: str, text: str) -> Measured | None:
    """Return the Measured of a nutrient that its unit or its text names, in mg/L."""
    words = f"{unit} {text}".replace(",", " ").split()
    name = next((NUTRIENTS[word] for word in words if word in NUTRIENTS), None)
    amount = unit.split()[0] if unit else ""
    if name is None or amount not in ("mg/l", "ppm", "ppb", "µg/l", "ug/l"):
        return None
    return Measured(f"{name} [mg/L]", value / 1000 if amount in ("ppb", "µg/l", "ug/l") else value)
