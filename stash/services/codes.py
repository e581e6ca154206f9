"""New codes, drawn at random and never given out twice."""

from __future__ import annotations

import secrets

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Code
from stash.errors import StorageError
from stash.kernel.codes import ALPHABET, PAYLOAD_LENGTH, code_from_payload

_TRIES = 1000


def new_code(session: Session) -> str:
    """Draw a code that no place, machine or lot has.

    Args:
        session: The transaction it will be used in.

    Raises:
        StorageError: No free code was found, which means that nearly all are taken.
    """
    for _ in range(_TRIES):
        code = code_from_payload("".join(secrets.choice(ALPHABET) for _ in range(PAYLOAD_LENGTH)))
        if code is not None and session.execute(select(Code.code).where(Code.code == code)).first() is None:
            return str(code)
    raise StorageError("No free code is left", "Remove places, machines or lots that are no longer needed.")
