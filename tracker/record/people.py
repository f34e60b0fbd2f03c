"""People and what works in their name: users with a role, who is signed in, tokens of programs."""

from __future__ import annotations

import datetime
import time
import unicodedata
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from tracker.errors import PeopleError
from tracker.record import keeping, passwords
from tracker.record.connected import Connected
from tracker.record.kinds import TokenInfo, UserInfo
from tracker.record.schema import sessions, token_uses, tokens, users

Moment = datetime.datetime | None

ROLES = ("reads", "logs", "signs off", "administers")
"""What someone may do, least first; each may do all that stands before it."""

LONGEST_NAME = 60
SESSIONS_EACH = 20
SEEN_EVERY_S = 60.0
OF_A_TOKEN = " (token)"
"""What stands behind the name of a token where it says who kept a row; no user may be called so."""


def may(role: str, needed: str) -> bool:
    """Return whether a role includes what another may do."""
    return ROLES.index(role) >= ROLES.index(needed)


class People(Connected):
    """Who may do what, and who does it. Every change is a row that stays; the last of a name holds."""

    # -- users

    def users(self) -> list[UserInfo]:
        """Return the users by name, the disabled ones too."""
        with self._reading() as connection:
            last = select(func.max(users.c.id)).group_by(users.c.name)
            found = connection.execute(select(users).where(users.c.id.in_(last)))
            return sorted((_user(row) for row in found), key=lambda user: user.name.casefold())

    def add_user(self, name: str, role: str, password: str, *, by: str = "", now: Moment = None) -> UserInfo:
        """Keep a new user.

        Raises
        ------
        PeopleError
            If the name is taken or none, the role is not known, or the password is too weak.
        """
        called = checked_name(name)
        row = (checked_role(role), passwords.hash_of(password, called), 0)
        with self._writing() as ledger:
            there = _same_name(ledger.connection, called)
            if there is not None:
                raise PeopleError(f"there is a user {there!r} already; change that one, or take another name")
            ledger.append(users, [(called, *row, by, keeping.utc(now))])
            return _user(_last_user(ledger.connection, called))

    def change_user(
        self,
        name: str,
        *,
        role: str | None = None,
        password: str | None = None,
        disabled: bool | None = None,
        by: str = "",
        now: Moment = None,
    ) -> UserInfo:
        """Change a user: what is not named stays. A new password, and disabling, end all sessions of the user.

        Raises
        ------
        PeopleError
            If there is no such user, or no administrator would be left.
        """
        hashed = None if password is None else passwords.hash_of(password, name)
        with self._writing() as ledger:
            before = _last_user(ledger.connection, name)
            wanted = checked_role(role) if role is not None else str(before.role)
            off = int(before.disabled if disabled is None else disabled)
            if off or wanted != ROLES[-1]:
                _one_stays(ledger.connection, before.name)
            if (wanted, off) != (before.role, before.disabled) or hashed is not None:
                row = (before.name, wanted, hashed or before.password, off, by, keeping.utc(now))
                ledger.append(users, [row])
            if off or hashed is not None:
                ledger.connection.execute(delete(sessions).where(sessions.c.name == before.name))
            return _user(_last_user(ledger.connection, name))

    def user_with(self, name: str, password: str) -> UserInfo | None:
        """Return the user of a name and a password; None where they do not meet or the user is disabled.

        The answer takes as long for a name that nobody has.
        """
        with self._reading() as connection:
            same = _same_name(connection, name)
            row = None if same is None else _last_user(connection, same)
        right = passwords.matches(None if row is None else row.password, password)
        return _user(row) if right and row is not None and not row.disabled else None

    # -- who is signed in

    def begin_session(self, name: str, lasting: datetime.timedelta, *, now: Moment = None) -> str:
        """Sign a user in; return the secret that stands for it. Only its hash is kept."""
        secret = passwords.new_secret()
        moment = now or datetime.datetime.now(datetime.UTC)
        with self._writing() as ledger:
            user = _last_user(ledger.connection, name)
            if user.disabled:
                raise PeopleError(f"{name} is disabled")
            ledger.connection.execute(delete(sessions).where(sessions.c.ends <= keeping.utc(moment)))
            own = select(sessions.c.digest).where(sessions.c.name == user.name).order_by(sessions.c.begun.desc())
            old = ledger.connection.execute(own.offset(SESSIONS_EACH - 1)).scalars().all()
            ledger.connection.execute(delete(sessions).where(sessions.c.digest.in_(old)))
            row = {"digest": passwords.digest_of(secret), "name": user.name}
            when = {"begun": keeping.utc(moment), "ends": keeping.utc(moment + lasting)}
            ledger.connection.execute(insert(sessions).values(row | when))
        return secret

    def session_user(self, secret: str, *, now: Moment = None) -> UserInfo | None:
        """Return who a secret stands for, as the user is at this moment; None where nobody, or no longer."""
        query = select(sessions.c.name).where(
            sessions.c.digest == passwords.digest_of(secret), sessions.c.ends > keeping.utc(now)
        )
        with self._reading() as connection:
            name = connection.execute(query).scalar()
            row = None if name is None else _last_user(connection, name)
        return None if row is None or row.disabled else _user(row)

    def end_session(self, secret: str) -> None:
        """Sign out."""
        with self._writing() as ledger:
            ledger.connection.execute(delete(sessions).where(sessions.c.digest == passwords.digest_of(secret)))

    # -- tokens

    def tokens(self) -> list[TokenInfo]:
        """Return the tokens by name, with when each was last used; the revoked ones too."""
        last = select(func.max(tokens.c.id)).group_by(tokens.c.name)
        query = select(tokens, token_uses.c.used).outerjoin(token_uses, token_uses.c.name == tokens.c.name)
        with self._reading() as connection:
            found = [_token(row) for row in connection.execute(query.where(tokens.c.id.in_(last)))]
        return sorted(found, key=lambda token: token.name.casefold())

    def add_token(self, name: str, role: str, *, by: str = "", now: Moment = None) -> tuple[TokenInfo, str]:
        """Keep a new token; return it and its secret, which is never to be had again.

        Raises
        ------
        PeopleError
            If the name is taken or none, or the role is not one of a token (reads, logs).
        """
        called = checked_name(name)
        if checked_role(role) not in ROLES[:2]:
            raise PeopleError(f"a token never {role}; accepted are {' and '.join(ROLES[:2])}")
        secret = passwords.TOKEN_MARK + passwords.new_secret()
        with self._writing() as ledger:
            query = select(tokens.c.name).where(func.lower(tokens.c.name) == called.lower())
            if ledger.connection.execute(query).first() is not None:
                raise PeopleError(
                    f"there is, or was, a token {called!r}; take a name of its own, so that rows stay clear"
                )
            row = (called, role, passwords.digest_of(secret), 0, by, keeping.utc(now))
            ledger.append(tokens, [row])
            return _token(_last_token(ledger.connection, called)), secret

    def revoke_token(self, name: str, *, by: str = "", now: Moment = None) -> TokenInfo:
        """Revoke a token, for good; twice is once.

        Raises
        ------
        PeopleError
            If there is none of that name.
        """
        with self._writing() as ledger:
            row = _last_token(ledger.connection, name)
            if not row.revoked:
                ledger.append(tokens, [(row.name, row.role, row.digest, 1, by, keeping.utc(now))])
            return _token(_last_token(ledger.connection, name))

    def token_of(self, secret: str, *, now: Moment = None) -> TokenInfo | None:
        """Return the token of a secret, None where there is none or it was revoked; note that it was used.

        The moment of use is written once a minute at most.
        """
        with self._reading() as connection:
            query = select(tokens.c.name).where(tokens.c.digest == passwords.digest_of(secret))
            name = connection.execute(query).scalar()
            row = None if name is None else _last_token(connection, name)
        if row is None or row.revoked:
            return None
        self._seen(row.name, now)
        return _token(row)

    def _seen(self, name: str, now: Moment) -> None:
        before = self._last_seen.get(name)
        tick = time.monotonic()
        if before is not None and tick - before < SEEN_EVERY_S:
            return
        self._last_seen[name] = tick
        at = keeping.utc(now)
        with self._writing() as ledger:
            there = ledger.connection.execute(update(token_uses).where(token_uses.c.name == name).values(used=at))
            if there.rowcount == 0:
                ledger.connection.execute(insert(token_uses).values(name=name, used=at))


def checked_name(name: str) -> str:
    """Return the name of a user or token as it is kept.

    Raises
    ------
    PeopleError
        If it is empty, too long, holds what cannot be printed, or ends like a token's.
    """
    called = " ".join(unicodedata.normalize("NFKC", name).split())
    if not called or len(called) > LONGEST_NAME or not called.isprintable() or called.endswith(OF_A_TOKEN.strip()):
        raise PeopleError(
            f"{name[:LONGEST_NAME]!r} is no name; accepted are 1 to {LONGEST_NAME} characters, such as: operator A"
        )
    return called


def same_of(name: str) -> str:
    """Return what is the same for every way to write one name.

    Examples
    --------
    >>> same_of(" Bench  2 ")
    'bench 2'
    """
    plain = " ".join(unicodedata.normalize("NFKC", name).split())
    return " ".join(unicodedata.normalize("NFKC", plain.casefold()).split())


def checked_role(role: str) -> str:
    """Return a role.

    Raises
    ------
    PeopleError
    """
    if role not in ROLES:
        raise PeopleError(f"{role!r} is no role; accepted are {', '.join(ROLES)}")
    return role


def _same_name(connection: Connection, name: str) -> str | None:
    """Return the user whose name differs in nothing but capitals and spaces, None where there is none."""
    wanted = same_of(name)
    found = connection.execute(select(users.c.name).distinct()).scalars()
    return next((there for there in found if same_of(there) == wanted), None)


def _last_user(connection: Connection, name: str) -> Row[Any]:
    query = select(users).where(users.c.name == name).order_by(users.c.id.desc()).limit(1)
    found = connection.execute(query).first()
    if found is None:
        raise PeopleError(f"there is no user {name!r}; tenthwise users list names them")
    return found


def _last_token(connection: Connection, name: str) -> Row[Any]:
    query = select(tokens, token_uses.c.used).outerjoin(token_uses, token_uses.c.name == tokens.c.name)
    found = connection.execute(query.where(tokens.c.name == name).order_by(tokens.c.id.desc()).limit(1)).first()
    if found is None:
        raise PeopleError(f"there is no token {name!r}; the list of tokens names them")
    return found


def _one_stays(connection: Connection, leaving: str) -> None:
    """Refuse to take away the last administrator."""
    last = select(func.max(users.c.id)).group_by(users.c.name)
    query = select(users.c.name).where(users.c.id.in_(last), users.c.role == ROLES[-1], users.c.disabled == 0)
    if connection.execute(query).scalars().all() == [leaving]:
        raise PeopleError(f"{leaving} is the last one who administers; give another user that role first")


def _user(row: Row[Any]) -> UserInfo:
    return UserInfo(name=row.name, role=row.role, disabled=bool(row.disabled), by=row.kept_by, at=row.kept_at)


def _token(row: Row[Any]) -> TokenInfo:
    return TokenInfo(
        name=row.name, role=row.role, revoked=bool(row.revoked), by=row.kept_by, at=row.kept_at, used=row.used or ""
    )
