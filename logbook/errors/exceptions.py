"""What a service raises when it will not do what it was asked; nothing has changed then."""

from __future__ import annotations

from logbook.localization.locale import translate_word


class Refused(Exception):
    """A refusal in one sentence for the person who asked."""


class RefusedInput(Refused):
    """Input that cannot be taken: each path ("products.0.planned_rate") with what is wrong."""

    def __init__(self, errors: dict[str, list[str]]) -> None:
        self.errors = errors
        super().__init__(
            "; ".join(
                f"{translate_word(path)}: {' '.join(texts)}" for path, texts in errors.items()
            )
        )


class Conflict(Refused):
    """Somebody else changed it in the meantime, or the id stands for something else already."""


class NotAllowed(Refused):
    """The person's role does not carry this right."""


class NotThere(Refused):
    """Nothing of that id is in the actor's business; whether another has it is not said."""
