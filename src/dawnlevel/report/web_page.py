"""The hand-over as one HTML file: no script, no other file, fit for screen and print."""

from base64 import b64encode
from functools import cache
from hashlib import sha256
from pathlib import Path

from dawnlevel.desk.handover.handover_views import HandoverPack
from dawnlevel.report.brand import NO_BRAND, Brand

_FOLDER = Path(__file__).parent / "templates"
_MEDIA = {"png": "image/png", "svg": "image/svg+xml"}


def handover_html(pack: HandoverPack, brand: Brand = NO_BRAND) -> str:
    """The page; the same views give the same text."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # noqa: PLC0415 - takes a moment
    from markupsafe import Markup  # noqa: PLC0415 - the same

    from dawnlevel.report.sheet import make_pack  # noqa: PLC0415 - loads the drawing library

    made = Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters["drawn"] = lambda svg: Markup(_quiet(svg))  # noqa: S704 - drawn by us, its words escaped
    return made.get_template("handover.html").render(
        pack=make_pack(pack, brand),
        style=Markup(_style()),  # noqa: S704 - our own file
        brand_image=_inline(brand),
    )


def style_hash() -> str:
    """The style's hash, as a content policy names what a page may be dressed in."""
    return f"'sha256-{b64encode(sha256(_style().encode()).digest()).decode()}'"


@cache
def _style() -> str:
    return (_FOLDER / "handover.css").read_text(encoding="utf-8")


def _quiet(svg: str) -> str:
    """The drawing, left out of what is read aloud: the words under it say it."""
    return svg.replace("<svg ", '<svg aria-hidden="true" focusable="false" ', 1)


def _inline(brand: Brand) -> str:
    if not brand.image:
        return ""
    return f"data:{_MEDIA[brand.kind]};base64,{b64encode(brand.image).decode()}"
