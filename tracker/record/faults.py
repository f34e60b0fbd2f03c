"""What the database says, in plain words."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from tracker.errors import RecordDamaged, RecordError

SQLITE_WORDS = {
    "SQLITE_FULL": "the disk is full; free some space, then send it again",
    "SQLITE_READONLY": "it is read-only here; make the file and its folder writable, or name another with --record",
    "SQLITE_BUSY": "another program has kept it locked; close that program, or wait and try again",
    "SQLITE_LOCKED": "another program has kept it locked; close that program, or wait and try again",
    "SQLITE_IOERR": "the disk did not take or give what was asked; look at the disk and its free space, then try again",
    "SQLITE_CANTOPEN": "it cannot be opened; the folder must exist and be readable and writable",
    "SQLITE_PERM": "this user may not open it; give the user the right to read and write it",
    "SQLITE_TOOBIG": "one text is far too long for it",
    "SQLITE_NOMEM": "there is not enough memory",
}
DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
NOTHING_HALF = "Nothing of this step was kept, and what was kept before is untouched."


@contextlib.contextmanager
def in_plain_words(where: str) -> Iterator[None]:
    """Turn what the database raises into a `RecordError` that a person can act on.

    Raises
    ------
    RecordDamaged
        If the file is no longer a whole database.
    RecordError
        For every other refusal of the database.
    """
    try:
        yield
    except UnicodeEncodeError as error:
        raise RecordError(f"a text holds half a character ({error.object[error.start : error.end]!r})") from error
    except DBAPIError as error:
        raise said_plainly(error.orig, where) from error
    except SQLAlchemyError as error:
        raise RecordError(f"the record {where} refused this: {error}") from error
    except sqlite3.Error as error:
        raise said_plainly(error, where) from error
    except Exception as error:
        if type(error).__module__.startswith("psycopg"):
            raise said_plainly(error, where) from error
        raise


def said_plainly(error: BaseException | None, where: str) -> RecordError:
    """Return the fault that stands for an error of the database driver."""
    name = getattr(error, "sqlite_errorname", None) or ""
    if any(name.startswith(word) for word in DAMAGED):
        return RecordDamaged(
            f"the record {where} is damaged ({error}). Keep the file as it is, and put a copy back with: restore COPY"
        )
    for start, words in SQLITE_WORDS.items():
        if name.startswith(start):
            return RecordError(f"the record {where} was not written: {words}. {NOTHING_HALF}")
    if type(error).__module__.startswith("psycopg"):
        return _postgres_words(error, where)
    return RecordError(f"the record {where} refused this: {error}. {NOTHING_HALF}")


def _postgres_words(error: BaseException | None, where: str) -> RecordError:
    state = getattr(error, "sqlstate", None)
    first = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
    if state is None or state.startswith(("08", "57")):
        return RecordError(
            f"the record at {where} does not answer ({first}). What was acknowledged is kept;"
            " send the rest again when the server is back."
        )
    if state.startswith("XX"):
        return RecordDamaged(f"the record at {where} is damaged: {first}")
    if state.startswith("53"):
        return RecordError(f"the record at {where} has no room left ({first}). {NOTHING_HALF}")
    if state in ("25006", "42501"):
        return RecordError(f"the record at {where} may only be read here ({first}). {NOTHING_HALF}")
    if state in ("55P03", "40P01", "40001"):
        return RecordError(f"the record at {where} is held by another program; try again. {NOTHING_HALF}")
    return RecordError(f"the record at {where} refused this: {first}. {NOTHING_HALF}")
