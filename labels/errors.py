"""The one error of the room."""


class LabelError(ValueError):
    """Something about a label, a stock or a photo is wrong, and the reader can mend it.

    Attributes:
        message: What is wrong, naming the thing and the value.
        hint: How to mend it; empty when the message says it already.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()
