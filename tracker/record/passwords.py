"""Passwords and tokens: what is kept of them is a hash, from which they cannot be read back."""

from __future__ import annotations

import functools
import hashlib
import secrets
import threading
import unicodedata
from typing import TYPE_CHECKING

from tracker.errors import PeopleError

if TYPE_CHECKING:
    from argon2 import PasswordHasher

SHORTEST, LONGEST = 12, 200
AT_ONCE = 2
"""Hashes worked out at once: each takes 64 MiB for a moment, so a flood of sign-ins must not take all the memory."""

TOKEN_BYTES = 32
TOKEN_MARK = "tw-"

_turns = threading.BoundedSemaphore(AT_ONCE)


@functools.cache
def hasher() -> PasswordHasher:
    """Return what works hashes out.

    References
    ----------
    RFC 9106 (Argon2), section 4, second recommended option: Argon2id, 3 passes, 64 MiB, 4 lanes
    (tests/tracker/record/test_people.py).
    """
    from argon2 import PasswordHasher
    from argon2.profiles import RFC_9106_LOW_MEMORY

    return PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)


def checked_password(text: str, name: str) -> str:
    """Return a password in the form that is hashed.

    Raises
    ------
    PeopleError
        If it is too short, too long, or holds little more than the name.

    References
    ----------
    NIST SP 800-63B: a length is asked for, no mixture of characters; Unicode is normalised (NFKC) first. The length
    itself is our own choice.
    """
    plain = unicodedata.normalize("NFKC", text)
    if not SHORTEST <= len(plain) <= LONGEST:
        raise PeopleError(
            f"the password has {len(plain)} characters; accepted are {SHORTEST} to {LONGEST}, such as four words"
        )
    if "\x00" in plain or len(set(plain.casefold())) < 4 or plain.casefold().replace(name.casefold(), "") in ("", " "):
        raise PeopleError("this password is easily guessed (the name, or few different characters); choose another")
    return plain


def hash_of(text: str, name: str) -> str:
    """Return the hash under which a new password is kept.

    Raises
    ------
    PeopleError
        As `checked_password`.
    """
    plain = checked_password(text, name)
    with _turns:
        return hasher().hash(plain)


def matches(kept: str | None, text: str) -> bool:
    """Return whether a password is the one of a hash; without a hash the answer is no, and takes as long."""
    from argon2.exceptions import VerificationError

    plain = unicodedata.normalize("NFKC", text[: LONGEST + 1])
    with _turns:
        try:
            found = hasher().verify(kept or _nobodys(), plain)
        except VerificationError:
            return False
    return found and kept is not None


@functools.cache
def _nobodys() -> str:
    return hasher().hash(secrets.token_hex(16))


def new_secret() -> str:
    """Return a new random text that nobody can guess (256 bits)."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def digest_of(secret: str) -> str:
    """Return what is kept of a random secret: its SHA-256. It has too many values to be tried out, so no salt."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
