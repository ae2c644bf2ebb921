"""Climate tables: ITU-R grids and fitted coefficients."""

from terrain.text.catalogue import N_

ATTRIBUTION = N_(
    "Climate: maps of ITU-R Recommendations P.1510-1, P.836-6, P.837-7 and P.1511-2 (itur 0.4, "
    "MIT), fitted to WMO climate normals 1991-2020 (NOAA NCEI accession 0253808) and CLIMAT "
    "averages (Deutscher Wetterdienst)"
)
