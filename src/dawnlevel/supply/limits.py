"""Published limits for CO2 in the air people breathe, each with its date, and what bodies feel."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ExposureLimit:
    """One published limit.

    Attributes:
        name: whose limit, and of which kind.
        fraction: share of CO2 in the air [-].
        over: the time it is meant for, in words.
        dated: the year or years it dates from, in words.
        in_force: whether it stands today, as far as the source tells.
        source: key of the sources registry.
    """

    name: str
    fraction: float
    over: str
    dated: str
    in_force: bool
    source: str


LIMITS = (
    ExposureLimit("OSHA permissible exposure limit", 0.005, "8-hour mean", "since 1971", True, "osha_pel"),
    ExposureLimit(
        "NIOSH recommended limit", 0.005, "10-hour mean", "Pocket Guide, 2007", True, "niosh_guide"
    ),
    ExposureLimit("NIOSH short-term limit", 0.03, "15 minutes", "Pocket Guide, 2007", True, "niosh_guide"),
    ExposureLimit("UK workplace limit", 0.005, "8-hour mean", "EH40/2005", True, "uk_eh40"),
    ExposureLimit("UK short-term limit", 0.015, "15 minutes", "EH40/2005", True, "uk_eh40"),
    ExposureLimit("EU indicative limit", 0.005, "8-hour mean", "2006", True, "eu_indicative_limit"),
    ExposureLimit(
        "NIOSH immediately dangerous to life or health", 0.04, "30 minutes", "1994", True, "niosh_idlh"
    ),
    ExposureLimit("NIOSH, older document", 0.01, "10-hour mean", "1976", False, "niosh_1976"),
    ExposureLimit("NIOSH, older ceiling", 0.03, "10 minutes", "1976", False, "niosh_1976"),
    ExposureLimit(
        "OSHA, struck down in court", 0.01, "8-hour mean", "1989, struck down 1992", False, "niosh_1976"
    ),
    ExposureLimit(
        "OSHA, struck down in court", 0.03, "15 minutes", "1989, struck down 1992", False, "niosh_1976"
    ),
)
"""The figures are those that a health risk evaluation and NIOSH's 1976 document quote (see each source's
status). The dates of OSHA's table, the Pocket Guide, EH40 and the EU list, and the 10 hours of NIOSH's mean,
are from memory, not checked. Limits are for healthy adults at work, not for homes, children or sleepers."""

SYMPTOMS = (
    (0.01, "slightly faster breathing"),
    (0.02, "breathing half as fast again, headache if it lasts"),
    (0.03, "twice the breathing, laboured, mild narcosis"),
    (0.04, "four times the breathing, choking"),
    (0.05, "very laboured breathing, sight and hearing suffer, unconscious in minutes"),
    (0.10, "unconscious fast"),
    (0.17, "unconscious within a minute, death"),
)
"""What people feel from a share of CO2 [-] on. A gas maker's data sheet of 2009 up to 10 %; the last row from
tables quoted second-hand."""


def symptoms_at(fraction: float) -> str:
    """What people feel at a share of CO2 [-]; empty below 1 %. Source: `SYMPTOMS`."""
    found = [words for low, words in SYMPTOMS if fraction >= low]
    return found[-1] if found else ""
