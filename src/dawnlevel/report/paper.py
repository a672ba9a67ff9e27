"""The hand-over as a PDF: tagged (PDF/UA-1), fonts embedded, the same bytes from the same records."""

import json
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from dawnlevel.desk.handover.handover_views import HandoverPack
from dawnlevel.errors import BadInputError
from dawnlevel.report.brand import NO_BRAND, Brand

if TYPE_CHECKING:
    from dawnlevel.report.sheet import Sheet

TEMPLATE = Path(__file__).parent / "templates" / "handover.typ"
FONT = "Source Sans Pro"


def handover_pdf(pack: HandoverPack, brand: Brand = NO_BRAND) -> bytes:
    """The PDF. Raises BadInputError where the brand's picture cannot be read, or letters not be printed.

    Its date is that of the latest record, and only fonts that come with the program are used, so that the
    same records give the same bytes (for the same versions of the libraries).
    """
    return _compiled(_sheet(pack, brand), brand, pack.as_of)[0]


def handover_pngs(pack: HandoverPack, brand: Brand = NO_BRAND, ppi: float = 100.0) -> list[bytes]:
    """Its pages as PNG pictures, as they will be printed; `ppi` pixels an inch."""
    return _compiled(_sheet(pack, brand), brand, pack.as_of, ppi)


def _sheet(pack: HandoverPack, brand: Brand) -> "Sheet":
    from dawnlevel.report.sheet import make_pack  # noqa: PLC0415 - loads the drawing library

    return make_pack(pack, brand, FONT)


def _fonts() -> list[str]:
    """Where the letters are."""
    found = find_spec("font_source_sans_pro")
    places = [] if found is None else list(found.submodule_search_locations or ())
    return [str(Path(place) / "files") for place in places]


def _compiled(pack: "Sheet", brand: Brand, as_of: datetime, ppi: float | None = None) -> list[bytes]:
    """The pages, in a folder of their own that holds the template and the brand's image."""
    import typst  # noqa: PLC0415 - takes a moment to load

    with TemporaryDirectory() as folder:
        name = f"brand.{brand.kind}" if brand.image else ""
        if name:
            (Path(folder) / name).write_bytes(brand.image)
        source = Path(folder) / "handover.typ"
        source.write_bytes(TEMPLATE.read_bytes())
        inputs = {"pack": json.dumps(pack, ensure_ascii=False), "brand": name}
        try:
            made = typst.compile(
                str(source),
                root=folder,
                font_paths=_fonts(),
                ignore_system_fonts=True,
                format="pdf" if ppi is None else "png",
                ppi=ppi,
                sys_inputs=inputs,
                pdf_standards="ua-1" if ppi is None else [],
                timestamp=int(as_of.timestamp()),
            )
        except typst.TypstError as error:
            raise _told(str(error), has_image=bool(name)) from error
    return [made] if isinstance(made, bytes) else list(made)


def _told(said: str, *, has_image: bool) -> Exception:
    """What stands in the way of the paper, where it can be something that was given; else a fault of ours."""
    if "could not be displayed" in said:
        return BadInputError(
            "Some letters cannot be printed.",
            where="tank's name or brand text",
            cure="Use Latin, Greek or Cyrillic letters, or write a page: -o plan.html.",
        )
    if has_image:
        return BadInputError(
            "The picture cannot be read.", where="brand image", cure="Give a sound PNG or SVG file."
        )
    return AssertionError(said)
