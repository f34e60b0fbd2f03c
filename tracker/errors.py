"""What can go wrong, as one tree.

::

    TrackerError (ValueError)        anything a user can put right
    ├── LengthError                  a text that is not a length
    ├── JobError                     a job.toml that does not make sense
    ├── ReadingsError                a readings file that cannot be read at all
    ├── LimitsError                  a class, grade or size outside the tables
    ├── NotEnoughData                the data cannot answer; says what is missing
    │   └── OneSideOnly              a piece known to go, or not to go, and nothing bounds its other side
    ├── RecordError                  the record cannot be read or written
    │   ├── RecordDamaged            what is kept does not hold together
    │   └── RecordTooNew             written by a newer program
    ├── PeopleError                  a user, role, password or token that cannot be taken
    └── OutsideModel                 a case the mechanics do not cover

A message says what was found, where, what would be accepted, and what to do next.
"""


class TrackerError(ValueError):
    """Anything a user can put right; the message is written for them."""


class LengthError(TrackerError):
    """A text that is not a length."""


class JobError(TrackerError):
    """A job description that does not make sense."""


class ReadingsError(TrackerError):
    """A readings file that cannot be read at all."""


class LimitsError(TrackerError):
    """A class, grade or size outside the tables."""


class NotEnoughData(TrackerError):
    """The data cannot answer the question; the message says what is missing and how much."""


class OneSideOnly(NotEnoughData):
    """A piece is known from one side only, and the others of its batch do not bound it: it has no size."""


class RecordError(TrackerError):
    """The record cannot be read or written."""


class NotInRecord(RecordError):
    """What was asked for by its number is not in the record."""


class RecordDamaged(RecordError):
    """What is kept does not hold together."""


class RecordTooNew(RecordError):
    """The record was written by a newer program."""


class PeopleError(TrackerError):
    """A user, role, password or token that cannot be taken."""


class OutsideModel(TrackerError):
    """A case that the mechanics behind a computation do not cover."""
