"""A consultant's own words and picture on a hand-over."""

from dataclasses import dataclass

from dawnlevel.errors import BadInputError

_PNG = b"\x89PNG\r\n\x1a\n"
_MOST_BYTES = 5_000_000
_MOST_LETTERS = 120


@dataclass(frozen=True, slots=True)
class Brand:
    """Words, and a picture's content of the `kind` png or svg; empty: none."""

    text: str = ""
    image: bytes = b""
    kind: str = "png"


NO_BRAND = Brand()


def read_brand(text: str, image: bytes, name: str) -> Brand:
    """The brand of these words and the picture file called `name`, told by its content.

    Raises BadInputError for words or pictures too large, and for a picture that is neither PNG nor SVG.
    """
    if len(text) > _MOST_LETTERS:
        raise BadInputError(
            f"The brand's text has {len(text)} letters.",
            where="brand text",
            cure=f"Give at most {_MOST_LETTERS}.",
        )
    if len(image) > _MOST_BYTES:
        raise BadInputError(
            f"The picture has {len(image) / 1e6:.0f} MB.", where=name, cure="Give one below 5 MB."
        )
    if not name:
        return Brand(text.strip())
    if image.startswith(_PNG):
        return Brand(text.strip(), image, "png")
    if b"<svg" in image[:4096]:
        return Brand(text.strip(), image, "svg")
    raise BadInputError("The picture is neither PNG nor SVG.", where=name, cure="Save it as PNG or SVG.")
