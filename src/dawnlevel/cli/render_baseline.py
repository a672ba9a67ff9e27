"""The baseline cup as text."""

from dawnlevel.desk.advice.baseline import CupGuideView, CupView, wait_text
from dawnlevel.desk.phrases import chance


def guide_page(view: CupGuideView) -> str:
    """How to take a baseline here."""
    water = "KH not counted yet" if view.kh_dkh is None else f"KH {view.kh_dkh:g}"
    lines = [f"{view.tank}: a baseline cup ({water})", ""]
    for way in view.ways:
        lines += [
            f"{way.label} ({way.method.value}): 9 in 10 are ready after {wait_text(way.wait_h)}.",
            f"  {way.how}",
        ]
    lines += [
        "",
        "Read it as it is poured and again at the tank's temperature, then ask:",
        "  dawnlevel degassed 7.6 --method aerated --hours 2h --first 6.7",
    ]
    return "\n".join(lines)


def cup_page(view: CupView) -> str:
    """The verdict on a cup."""
    return "\n".join(
        (
            view.verdict,
            view.reason,
            view.next_step,
            f"Chance that it is within 0.05 pH of its rest: {chance(view.chance_degassed)}.",
        )
    )
