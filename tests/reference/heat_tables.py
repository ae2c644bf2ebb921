"""Published values for heat, sun and air; each with its source."""

from __future__ import annotations

#: US National Weather Service heat index chart: air F, humidity %, heat index F.
NWS_CHART: tuple[tuple[int, int, int], ...] = (
    (86, 60, 91), (88, 70, 100), (90, 40, 91), (90, 50, 95), (90, 60, 100), (90, 70, 106),
    (90, 100, 132), (92, 60, 105), (94, 50, 103), (96, 50, 108), (96, 65, 121), (98, 55, 117),
    (100, 40, 109), (100, 55, 124), (102, 50, 124), (104, 40, 119), (106, 45, 130),
    (108, 45, 137), (110, 40, 136), (84, 90, 98), (86, 90, 105),
)  # fmt: skip

#: The full procedure (SR 90-23) where the chart leaves its terms out: F, %, F.
NWS_FULL: tuple[tuple[int, int, float], ...] = (
    (80, 100, 89.3), (82, 90, 92.0), (82, 95, 94.0), (84, 95, 100.9),
    (100, 5, 92.50), (95, 10, 89.45), (110, 10, 104.39), (104, 8, 97.16),
)  # fmt: skip

#: Liljegren WBGT: air C, humidity %, wind at 10 m, sun W/m2, hPa, thermofeel 2.3.0 (direct share
#: 0.7, sun overhead), pywbgt 3.0.7 (original C code, its own direct share).
LILJEGREN: tuple[tuple[float, float, float, float, float, float, float], ...] = (
    (25, 50, 2, 800, 1013, 24.67, 24.85),
    (30, 50, 2, 800, 1013, 28.84, 29.00),
    (30, 70, 2, 600, 1013, 30.21, 30.90),
    (35, 30, 3, 900, 1013, 29.66, 29.43),
    (35, 50, 1, 900, 1013, 35.17, 34.53),
    (40, 15, 3, 900, 950, 30.04, 29.80),
    (40, 30, 5, 900, 1013, 32.78, 32.54),
    (30, 80, 1, 0, 1013, 27.84, 27.85),
)

#: ISO 2533 standard atmosphere: m, C, hPa, kg/m3.
ISO_2533: tuple[tuple[float, float, float, float], ...] = (
    (0, 15.0, 1013.25, 1.225),
    (1000, 8.5, 898.8, 1.112),
    (2000, 2.0, 795.0, 1.007),
    (3000, -4.5, 701.2, 0.909),
    (4000, -11.0, 616.6, 0.819),
    (5000, -17.5, 540.5, 0.736),
)

#: Environment Canada wind chill chart, 2001: air C, wind km/h, chill C.
WIND_CHILL: tuple[tuple[float, float, int], ...] = (
    (0, 20, -5), (0, 60, -9), (-10, 30, -20), (-20, 50, -35), (5, 40, -1), (-30, 80, -52),
)  # fmt: skip
