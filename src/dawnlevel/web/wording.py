"""The desk names commands in its advice; pages name themselves."""

import re

_PAGES: tuple[tuple[str, str], ...] = (
    (r": dawnlevel fish calm\.?", ", here or on any device."),
    (r"see `dawnlevel explain` for the measurement", "see Why for the measurement"),
    (r"`dawnlevel explain`", "Why"),
    (r"List (?:them|the records) with: dawnlevel log", "Look at the list of records."),
    (r": dawnlevel cup PH --method aerated --hours 1\.?", "."),
    (r"Check the date, or let the tank begin earlier: dawnlevel tank change .*", "Check the date."),
    (r' with --limit-reason "\.\.\."; the reason is recorded\.', "; the reason is recorded."),
    (r"; if it really happened twice, add --force\.", "."),
    (r" given with --store, DAWNLEVEL_STORE or DAWNLEVEL_DATA", ""),
    (r", or choose another store with --store", ""),
    (r": --column ph=\w+", "."),
    (r": --zone UTC", "."),
    (r"\s*\(dawnlevel [^)]*\)", ""),
    (r":\s*dawnlevel [^\n]*$", "."),
)
_COMMAND = re.compile(r"`?dawnlevel ([a-z]+)`?")


def in_web_words(text: str) -> str:
    """`text` with commands replaced by what a page offers instead; what is left of them by their names."""
    for pattern, words in _PAGES:
        text = re.sub(pattern, words, text, flags=re.DOTALL)
    return _COMMAND.sub(lambda found: found[1].capitalize(), text)
