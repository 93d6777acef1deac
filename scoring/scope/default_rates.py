"""The rate book a new organisation starts with.

Invented for the town of Alder Falls; magnitudes after public figures, undated to 2018: a 35 to 40 ft lateral by
open cut $4,000 to 15,000, trenchless $3,000 to 11,000 (West Bay Sanitary District); a liner about $3,000 a
lateral in bulk (Roseville MN 2014); 8 in liner about $104/ft (Carlsbad CA 2012). No contractor's prices.
"""

from typing import Any, Final


def _range(low: float, likely: float, high: float) -> dict[str, float]:
    return {"low": low, "likely": likely, "high": high}


def _rate(diameter_in: float, depth_ft: float, price: tuple[float, float, float]) -> dict[str, Any]:
    return {"diameter_up_to": diameter_in, "depth_up_to": depth_ft, "price": _range(*price)}


def _method(
    once: tuple[float, float, float],
    set_up: tuple[float, float, float],
    per_length: list[dict[str, Any]],
    minimum_ft: float,
    output_ft_per_day: float,
    set_up_days: float,
    extra: dict[str, dict[str, float]] | None = None,
) -> dict[str, Any]:
    return {
        "once": _range(*once),
        "set_up": _range(*set_up),
        "per_length": per_length,
        "surface_extra": extra or {},
        "minimum_length": minimum_ft,
        "output_per_day": output_ft_per_day,
        "set_up_days": set_up_days,
    }


_ANY_DEPTH: Final = 40
_STREET_EXTRA: Final = {"asphalt_street": _range(10, 15, 25), "concrete_street": _range(12, 18, 30)}

DEFAULT_RATE_BOOK: Final[dict[str, Any]] = {
    "id": "alder-falls-prices",
    "version": "1",
    "currency": "USD",
    "units": "us",
    "source": "invented for the town of Alder Falls, magnitudes after public figures",
    "methods": {
        "root_cutting_and_cleaning": _method(
            (90, 120, 180), (150, 200, 300), [_rate(12, _ANY_DEPTH, (2, 3, 5))], 10, 400, 0.1
        ),
        "descaling": _method((150, 200, 300), (350, 450, 650), [_rate(12, _ANY_DEPTH, (10, 15, 25))], 10, 80, 0.2),
        "spot_repair": _method(
            (300, 400, 600),
            (800, 1100, 1600),
            [
                _rate(6, 8, (60, 80, 110)),
                _rate(6, 12, (80, 110, 150)),
                _rate(6, _ANY_DEPTH, (120, 170, 250)),
                _rate(12, 8, (80, 110, 150)),
                _rate(12, 12, (105, 140, 190)),
                _rate(12, _ANY_DEPTH, (150, 210, 300)),
            ],
            4,
            8,
            0.5,
            _STREET_EXTRA,
        ),
        "sectional_liner": _method(
            (300, 400, 550),
            (900, 1200, 1600),
            [_rate(4, _ANY_DEPTH, (110, 150, 200)), _rate(12, _ANY_DEPTH, (130, 180, 240))],
            2,
            12,
            0.3,
        ),
        "full_liner": _method(
            (600, 800, 1100),
            (900, 1200, 1700),
            [
                _rate(4, _ANY_DEPTH, (45, 60, 85)),
                _rate(6, _ANY_DEPTH, (55, 75, 105)),
                _rate(12, _ANY_DEPTH, (80, 104, 140)),
            ],
            10,
            80,
            0.5,
        ),
        "pipe_bursting": _method(
            (700, 900, 1300),
            (800, 1000, 1400),
            [
                _rate(4, _ANY_DEPTH, (50, 70, 95)),
                _rate(6, _ANY_DEPTH, (60, 85, 115)),
                _rate(12, _ANY_DEPTH, (90, 120, 165)),
            ],
            10,
            60,
            0.5,
        ),
        "open_cut_replacement": _method(
            (700, 900, 1300),
            (900, 1200, 1800),
            [
                _rate(6, 8, (40, 55, 75)),
                _rate(6, 12, (55, 75, 105)),
                _rate(6, _ANY_DEPTH, (90, 130, 190)),
                _rate(12, 8, (55, 75, 105)),
                _rate(12, 12, (75, 100, 140)),
                _rate(12, _ANY_DEPTH, (120, 165, 235)),
            ],
            10,
            20,
            0.5,
            _STREET_EXTRA,
        ),
        "trap_removal": _method(
            (150, 200, 300), (1500, 2000, 2800), [_rate(12, _ANY_DEPTH, (60, 80, 110))], 4, 6, 0.5
        ),
        "inside_replacement": _method(
            (200, 300, 450), (700, 1000, 1500), [_rate(12, _ANY_DEPTH, (120, 170, 250))], 4, 8, 0.5
        ),
    },
    "items": {
        "excavation": _range(25, 35, 50),
        "bedding": _range(40, 55, 75),
        "backfill": _range(15, 22, 32),
        "spoil_haul": _range(12, 18, 26),
        "shoring": _range(1, 1.5, 2.5),
        "restoration": {
            "lawn": _range(6, 9, 14),
            "planting": _range(15, 25, 45),
            "concrete_walk": _range(70, 95, 130),
            "driveway": _range(60, 85, 120),
            "asphalt_street": _range(75, 110, 160),
            "concrete_street": _range(110, 150, 210),
            "building_slab": _range(90, 130, 190),
        },
        "pits": [
            {"depth_up_to": 8, "price": _range(900, 1200, 1600)},
            {"depth_up_to": 12, "price": _range(1300, 1700, 2300)},
            {"depth_up_to": _ANY_DEPTH, "price": _range(2200, 3000, 4200)},
        ],
        "clean_out": _range(900, 1300, 1900),
        "connection": _range(150, 220, 320),
        "permit": _range(150, 250, 450),
        "traffic_day": _range(350, 500, 800),
    },
    "trench": {
        "protection": "shored",
        "minimum_width": 2.5,
        "bedding": 4,
        "cover": 6,
        "cut_back": 1,
        "pit_length": 6,
        "pit_width": 4,
        "truck_volume": 10,
        "swell_percent": 30,
        "source": "width ASTM D2321 and a house minimum; bedding 4 in after several public codes; cut-back 1 ft"
        " by ordinance in several towns; swell as in a published example",
    },
}
