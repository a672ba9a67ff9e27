"""Sources of equilibrium constants, of water's properties, of dyes, electrodes and alkalinity."""

from dawnlevel.sources.source import Status, register

EQUILIBRIA = register(
    (
        "plummer_busenberg_1982",
        Status.CHECKED,
        "Plummer & Busenberg 1982, Geochim. Cosmochim. Acta 46, 1011: CO2 solubility, K1, K2, CaHCO3+ pair",
        "10.1016/0016-7037(82)90056-4",
    ),
    (
        "millero_1979",
        Status.SECOND_HAND,
        "Millero 1979: ion product of water (a refit of Harned & Owen 1958), K1, K2",
    ),
    ("harned_davis_1943", Status.SECOND_HAND, "Harned & Davis 1943: K1, as a rival"),
    (
        "harned_scholes_1941",
        Status.CHECKED,
        "Harned & Scholes 1941: K2, as printed in Neal, House & Down 1998",
    ),
    (
        "neal_house_down_1998",
        Status.CHECKED,
        "Neal, House & Down 1998, Sci. Total Environ. 210-211, 173: excess CO2 from pH and alkalinity",
    ),
    (
        "phreeqc_dat",
        Status.CHECKED,
        "phreeqc.dat, data file of PHREEQC: constants of carbonate, water, phosphate",
    ),
    (
        "wateq4f_dat",
        Status.CHECKED,
        "wateq4f.dat, data file of PHREEQC: MgHCO3+ and CaHCO3+ pairs, phosphate",
    ),
    (
        "weiss_1974",
        Status.SECOND_HAND,
        "Weiss 1974: CO2 solubility by fugacity, as a rival; virial from memory",
    ),
    (
        "weiss_price_1980",
        Status.FROM_MEMORY,
        "Weiss & Price 1980, Mar. Chem. 8, 347: vapour pressure of water",
    ),
    ("murray_riley_1971", Status.CHECKED, "Murray & Riley 1971: CO2 solubility, in the IUPAC-NIST database"),
    ("shedlovsky_macinnes_1935", Status.CHECKED, "Shedlovsky & MacInnes 1935: CO2 solubility, same database"),
    ("crc_handbook", Status.CHECKED, "CRC Handbook: CO2 solubility p. 8-90 (about 2 %), diffusivities"),
    ("kell_1975", Status.FROM_MEMORY, "Kell 1975: density of water"),
    ("malmberg_maryott_1956", Status.FROM_MEMORY, "Malmberg & Maryott 1956: permittivity of water"),
    ("davies", Status.FROM_MEMORY, "Davies equation for activity coefficients, with 0.3 I"),
    ("german_degree", Status.CHECKED, "Chemistry lexicon: 1 dH is 10 mg/L CaO, 17.8 mg/L CaCO3, 0.357 meq/L"),
    ("conductivity_rule", Status.FROM_MEMORY, "Textbook rule: ionic strength 1.6e-5 mol/L per uS/cm"),
    (
        "standard_atmosphere",
        Status.COMPUTED,
        "ICAO standard atmosphere: 1013.25 (1 - 2.25577e-5 z)^5.25588 hPa",
    ),
    ("short_rule", Status.COMMON_PRACTICE, "CO2 = 3 x KH x 10^(7 - pH): shown only to say how far it is off"),
)

DYES_AND_ELECTRODES = register(
    (
        "kolthoff_1930",
        Status.FROM_MEMORY,
        "Kolthoff 1930, J. Phys. Chem. 34, 1466: bromothymol blue pKa 7.30",
    ),
    (
        "yao_byrne_2001",
        Status.CHECKED,
        "Yao & Byrne 2001, ES&T 35, 1197: indicator pKa against ionic strength and temperature, sister dyes",
    ),
    (
        "yuan_degrandpre_2008",
        Status.CHECKED,
        "Yuan & DeGrandpre 2008, ES&T 42, 6092: pKa about 7.4; the dye shifts poorly buffered samples",
    ),
    ("hamer_1946", Status.CHECKED, "Hamer et al. 1946: phthalate buffer, pH 4.005 at 25 degC"),
    ("hetzer_1977", Status.CHECKED, "Hetzer et al. 1977: phthalate buffer against temperature"),
    ("nist_buffers", Status.FROM_MEMORY, "NIST/IUPAC standard buffers at 0 to 40 degC"),
    ("jis_z_8802", Status.SECOND_HAND, "JIS Z 8802: buffer pH, from an instrument maker"),
    ("hj_1147_2020", Status.SECOND_HAND, "HJ 1147-2020: buffer pH, from code citing the standard"),
    (
        "davison_gardner",
        Status.CHECKED,
        "Davison & Gardner: ten laboratories in poorly buffered fresh water, total error 0.2 pH",
    ),
    ("usgs_ph_checks", Status.CHECKED, "USGS 1979-89: field staff on check samples, robust sd 0.02 pH"),
    ("makers_acceptance", Status.SECOND_HAND, "Instrument makers: slope 85 to 105 %, offset within 30 mV"),
)

ALKALINITY = register(
    (
        "hruska_2003",
        Status.CHECKED,
        "Hruska et al. 2003, ES&T 37(9), 1788: 10.2 +/- 0.6 and 8.8 +/- 0.5 ueq of acid sites per mg DOC",
    ),
    ("fakhraei_driscoll_2015", Status.CHECKED, "Fakhraei & Driscoll 2015: organic acid pKa 2.54, 6.19, 7.52"),
    ("organic_pka_triple", Status.FROM_MEMORY, "Organic acid pKa 3.04, 4.42, 6.70 in equal thirds"),
    (
        "hunt_2011",
        Status.CHECKED,
        "Hunt et al. 2011, Biogeosciences 8, 3069: non-carbonate alkalinity, CO2 13-66 % high",
    ),
    (
        "abril_2015",
        Status.CHECKED,
        "Abril et al. 2015, Biogeosciences 12, 67: CO2 > 10 % high in 60 % of 761 samples",
    ),
)
