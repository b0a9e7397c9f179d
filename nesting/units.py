"""What people type for lengths, areas, leather weights and angles, to numbers and back.

Arithmetic is exact (fractions) until the last step. Files hold millimetres, mm², ounces and degrees.
Definitions: the international inch is 25.4 mm exactly, so 1 ft² = 92 903.04 mm²; an ounce of leather
is 1/64 in of thickness (ASTM D1814). Every function raises InputError with the mend on a text that
holds no clear quantity.
"""

from __future__ import annotations

import re
from fractions import Fraction

from nesting.errors import InputError
from nesting.quantities import number, plain, shown, terms

INCH_MM = Fraction(254, 10)
FOOT_MM = 12 * INCH_MM
FT2_MM2 = FOOT_MM**2
DM2_MM2 = Fraction(10_000)
OUNCE_MM = INCH_MM / 64
"""Thickness of one ounce of leather, ASTM D1814."""

LENGTHS: dict[str, Fraction] = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), Fraction(1)),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), Fraction(10)),
    **dict.fromkeys(("dm", "decimetre", "decimetres", "decimeter", "decimeters"), Fraction(100)),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Fraction(1000)),
    **dict.fromkeys(("in", "inch", "inches", '"'), INCH_MM),
    **dict.fromkeys(("ft", "foot", "feet", "'"), FOOT_MM),
    **dict.fromkeys(("yd", "yard", "yards"), 3 * FOOT_MM),
}
_SQUARE_NAMES = {
    "mm": ("millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("centimetre", "centimetres", "centimeter", "centimeters"),
    "dm": ("decimetre", "decimetres", "decimeter", "decimeters"),
    "m": ("metre", "metres", "meter", "meters"),
    "in": ("inch", "inches"),
    "ft": ("foot", "feet"),
}
AREAS: dict[str, Fraction] = {
    spelling: LENGTHS[unit] ** 2
    for unit, names in _SQUARE_NAMES.items()
    for spelling in (
        f"{unit}2",
        f"{unit}^2",
        *(f"{square} {word}" for square in ("sq", "square") for word in (unit, *names)),
        f"sq{unit}",
    )
}
_DEGREES = ("deg", "degree", "degrees", "°")


def parse_length(text: str, default_unit: str | None = None, *, positive: bool = False) -> float:
    """Millimetres from ``8 1/2 in``, ``8.5"``, ``215 mm``, ``1 ft 3 in``, ``0.5 m``, ...

    A number alone is refused unless ``default_unit`` says what it is; zero unless not ``positive``.
    """
    return float(length_mm(text, default_unit, positive=positive))


def length_mm(text: str, default_unit: str | None = None, *, positive: bool = False) -> Fraction:
    """As ``parse_length``, exact."""
    spelt, text = plain(text), shown(text)
    parts = terms(spelt, text, "length", "8 1/2 in or 215 mm")
    total, last = Fraction(0), None
    for count, unit in parts:
        word = unit or (default_unit if len(parts) == 1 and default_unit else "")
        size = _unit(word, LENGTHS, text, "length", "mm, cm, m, in, ft")
        if last is not None and size >= last:
            raise InputError(f'"{text}": give the larger unit first and each once, as in "1 ft 3 in"')
        total, last = total + count * size, size
    if total > 1_000_000:
        raise InputError(f'"{text}" is more than a kilometre; check the number and its unit')
    return _sized(total, text, positive, "length")


def parse_area(text: str, default_unit: str | None = None, *, positive: bool = False) -> float:
    """Square millimetres from ``7 1/4 ft2``, ``7.25 sq ft``, ``65 dm²``, ``0.6 m2``, ...

    Leather is stamped to the tenth of a foot in places and to the quarter in others, where the digit
    after the point counts quarters: "5.2" is 5.2 or 5 1/2 ft² (Roberts & Etherington, *Bookbinding
    and the Conservation of Books*). A single digit 1, 2 or 3 after the point of square feet is
    therefore refused unless ``tenths`` or ``quarters`` stands behind it.
    """
    return float(area_mm2(text, default_unit, positive=positive))


def area_mm2(text: str, default_unit: str | None = None, *, positive: bool = False) -> Fraction:
    """As ``parse_area``, exact."""
    (spelt, reading), text = _stamp_reading(plain(text)), shown(text)
    parts = terms(spelt, text, "area", "7 1/4 ft2 or 65 dm2")
    if len(parts) != 1:
        raise InputError(f'"{text}" is not one area; write it like 7 1/4 ft2 or 65 dm2')
    count, unit = parts[0]
    size = _unit(unit or default_unit or "", AREAS, text, "area", "ft2, in2, m2, dm2, cm2, mm2")
    if size == FT2_MM2:
        count = _stamped_feet(spelt, count, reading, text)
    elif reading:
        raise InputError(f'"{text}": {reading} are a way to stamp square feet; leave the word out')
    return _sized(count * size, text, positive, "area")


def _stamp_reading(spelt: str) -> tuple[str, str]:
    for reading in ("tenths", "quarters"):
        if spelt.endswith(reading):
            return spelt.removesuffix(reading).rstrip(" ,"), reading
    return spelt, ""


def _stamped_feet(spelt: str, count: Fraction, reading: str, text: str) -> Fraction:
    stamp = re.match(r"([0-9]*)\.([0-9])(?![0-9])", spelt)
    if reading == "quarters":
        if stamp is None or int(stamp[2]) > 3:
            raise InputError(
                f'"{text}": quarters are stamped 5.0, 5.1, 5.2 or 5.3; write a fraction, 5 1/2 ft2'
            )
        return int(stamp[1] or 0) + Fraction(int(stamp[2]), 4)
    if stamp is not None and not reading and stamp[2] in "123":
        quarters = {"1": "1/4", "2": "1/2", "3": "3/4"}[stamp[2]]
        tenths, fourths = f"{stamp[1]}.{stamp[2]}", f"{stamp[1]} {quarters}".lstrip()
        raise InputError(
            f'"{text}" may be {tenths} or {fourths} square feet: some stamp tenths, some quarters; '
            f'write "{tenths} ft2 tenths" or "{fourths} ft2"'
        )
    return count


def parse_weight(text: str) -> tuple[float, float]:
    """Ounces, thinnest and thickest, from ``4-5 oz``, ``4 oz`` or ``1.6-2.0 mm``."""
    form = "write it like 4-5 oz or 1.6-2.0 mm"
    spelt, text = re.sub(r" ?(?:–|—|\bto\b) ?", "-", plain(text)), shown(text)
    found = re.fullmatch(r"([^-]*?) ?(oz|ounces?|mm)?(?: ?- ?([^-]*?))? ?(oz|ounces?|mm)\.?", spelt)
    if found is None or (found[2] and (found[3] is None or found[2] != found[4])):
        raise InputError(f'"{text}" is not a leather weight; {form}')
    size = OUNCE_MM if found[4] == "mm" else Fraction(1)
    ends = [_weight_number(part, text, form) / size for part in (found[1], found[3]) if part is not None]
    if ends[0] > ends[-1] or ends[0] <= 0:
        raise InputError(f'"{text}": the thinner comes first and is more than nothing; {form}')
    return float(ends[0]), float(ends[-1])


def _weight_number(part: str, text: str, form: str) -> Fraction:
    if re.fullmatch(r"\d+/\d+", part):
        low, high = part.split("/")
        raise InputError(
            f'"{text}" may be a fraction or {low} to {high}; write "{low}-{high} oz" or a decimal'
        )
    value = number(part)
    if value is None:
        raise InputError(f'"{text}" is not a leather weight; {form}')
    return value


def split_sizes(text: str) -> list[str]:
    """The sizes in ``900 mm x 600 mm``, each still to be parsed; ``×`` and ``by`` do as well."""
    return [part.strip() for part in re.split(r"\s+x\s+|\s*×\s*|\s+by\s+", text.strip())]


def parse_angle(text: str, *, signed: bool = False) -> float:
    """Degrees from ``15 deg``, ``15°`` or ``15``; below zero only where ``signed``."""
    spelt, text = plain(text), shown(text)
    below = signed and spelt.startswith("-")
    parts = terms(spelt[1:] if below else spelt, text, "angle", "15 deg")
    value, unit = parts[0]
    if len(parts) != 1 or unit not in ("", *_DEGREES):
        raise InputError(f'"{text}" is not an angle; write it in degrees, like 15 deg')
    return float(-value if below else value)


def oz_to_mm(ounces: float) -> float:
    """Thickness in mm of so many ounces (ASTM D1814: 1 oz = 1/64 in)."""
    return ounces * float(OUNCE_MM)


def mm_to_oz(thickness_mm: float) -> float:
    """Ounces of a thickness in mm (ASTM D1814)."""
    return thickness_mm / float(OUNCE_MM)


def format_length(length: float) -> str:
    """Millimetres for people: ``215.9 mm``."""
    return f"{round(length, 2) + 0.0:.2f}".rstrip("0").rstrip(".") + " mm"


def format_inches(length: float, denominator: int = 16) -> str:
    """Millimetres as inches to the nearest 1/``denominator``: ``8 1/2 in``."""
    parts = round(Fraction(length) / INCH_MM * denominator)
    whole, rest = divmod(abs(parts), denominator)
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(str(Fraction(rest, denominator)))
    return ("-" if parts < 0 else "") + " ".join(words) + " in"


def format_both(length: float) -> str:
    """Millimetres to a tenth, and inches, for people of either habit: ``215.9 mm (8 1/2 in)``.

    Inches are to 1/16, below one inch to 1/32, below a quarter to 1/64, with ``≈`` where that is off
    by more than 0.1 mm.
    """
    step = INCH_MM / (16 if length >= INCH_MM else 32 if 4 * length >= INCH_MM else 64)
    off = abs(round(Fraction(length) / step) * step - Fraction(length))
    about = "≈ " if off > Fraction(1, 10) else ""
    return f"{format_length(round(length, 1))} ({about}{format_inches(length, int(INCH_MM / step))})"


def format_area(area: float) -> str:
    """Square millimetres for people: ``7.25 ft² (67.4 dm²)``, one digit more below a square foot."""
    more = int(area < FT2_MM2)
    return f"{area / float(FT2_MM2):.{2 + more}f} ft² ({area / float(DM2_MM2):.{1 + more}f} dm²)"


def format_weight(ounces: tuple[float, float]) -> str:
    """A range of ounces with its thickness: ``4-5 oz (1.6-2.0 mm)``."""
    low, high = ounces
    if low == high:
        return f"{low:g} oz ({oz_to_mm(low):.1f} mm)"
    return f"{low:g}-{high:g} oz ({oz_to_mm(low):.1f}-{oz_to_mm(high):.1f} mm)"


def _unit(unit: str, known: dict[str, Fraction], text: str, what: str, list_of: str) -> Fraction:
    if not unit:
        raise InputError(f'"{text}" has no unit; write one of {list_of} behind the number')
    if unit not in known:
        raise InputError(f'"{text}": "{unit}" is not a unit of {what} known here; use {list_of}')
    return known[unit]


def _sized(value: Fraction, text: str, positive: bool, what: str) -> Fraction:
    if positive and value == 0:
        raise InputError(f'"{text}": the {what} must be more than zero')
    return value
