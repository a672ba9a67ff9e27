"""Form fields: read all of them, gather every message, and keep what was typed.

    form = Form(given)                       # the posted fields, names to texts
    ph = form.read("ph", partial(read_amount, PH))
    if form.is_good: ...                     # else render the page again with `form`, status 422

A template shows `form.typed(name)` in the field and `form.problem(name)` beside it.
"""

from collections.abc import Callable, Mapping
from typing import TypeVar

from dawnlevel.errors import BadInputError, DawnlevelError, OutOfRangeError
from dawnlevel.web.wording import in_web_words

Value = TypeVar("Value")
TEXT_LIMIT = 2000


class Form:
    """What was typed into a form, and what is wrong with it. An empty one stands for a form not sent yet.

    `name` tells apart the forms of a page: only the one that was sent shows its messages.
    """

    def __init__(self, given: Mapping[str, str] | None = None, name: str = "") -> None:
        self.given = {key: text[:TEXT_LIMIT] for key, text in (given or {}).items()}
        self.name = name
        self.problems: dict[str, str] = {}

    @property
    def is_good(self) -> bool:
        """Whether nothing is wrong so far."""
        return not self.problems

    def typed(self, field: str, default: str = "") -> str:
        """What stands in a field."""
        return self.given.get(field, default)

    def problem(self, field: str) -> str:
        """What is wrong with a field; empty where nothing is."""
        return self.problems.get(field, "")

    def add_problem(self, field: str, error: DawnlevelError) -> None:
        """Show an error beside a field."""
        self.problems[field] = in_web_words(f"{error.what} {error.cure}".strip())

    def read(self, field: str, reader: Callable[[str], Value], missing: str = "") -> Value | None:
        """The field's value as `reader` takes it; None, with a message, where it cannot.

        `missing` is what to say where the field is empty; without it an empty field is None in silence.
        """
        text = self.typed(field).strip()
        if not text:
            if missing:
                self.problems[field] = missing
            return None
        try:
            return reader(text)
        except DawnlevelError as error:
            self.add_problem(field, error)
            return None

    def attempt(self, field: str, action: Callable[[], Value]) -> Value | None:
        """What `action` returns; where it refuses its input, None, with the message beside `field`."""
        try:
            return action()
        except (BadInputError, OutOfRangeError) as error:
            self.add_problem(field, error)
            return None
