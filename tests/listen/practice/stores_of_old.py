"""A practice store as the first version made it, before there were versions, codes and one name a trainee."""

from __future__ import annotations

from datetime import datetime

import sqlalchemy as sa

TABLES = sa.MetaData()
TRAINEE = sa.Table(
    "trainee",
    TABLES,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.String(40), nullable=False, unique=True),
    sa.Column("since", sa.DateTime(timezone=True), nullable=False),
)
ANSWER = sa.Table(
    "answer",
    TABLES,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("trainee_id", sa.ForeignKey("trainee.id", ondelete="CASCADE"), nullable=False),
    sa.Column("token", sa.String(64), nullable=False),
    sa.Column("at", sa.DateTime(timezone=True), nullable=False),
    sa.Column("topic", sa.String(200), nullable=False),
    sa.Column("right", sa.Boolean, nullable=False),
    sa.Column("choice", sa.String(200)),
    sa.Column("asked_name", sa.String(200)),
    sa.Column("said", sa.String(400), nullable=False),
    sa.Column("response_s", sa.Float),
    sa.Column("unsure", sa.Boolean, nullable=False),
    sa.Column("rating", sa.Integer, nullable=False),
    sa.Column("by", sa.String(10), nullable=False),
    sa.Index("answer_once", "trainee_id", "token", unique=True),
    sa.Index("answer_by_time", "at"),
)
MEMORY = sa.Table(
    "memory",
    TABLES,
    sa.Column("trainee_id", sa.ForeignKey("trainee.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("topic", sa.String(200), primary_key=True),
    sa.Column("state", sa.Integer, nullable=False),
    sa.Column("step", sa.Integer),
    sa.Column("stability", sa.Float),
    sa.Column("difficulty", sa.Float),
    sa.Column("due", sa.DateTime(timezone=True), nullable=False),
    sa.Column("last_review", sa.DateTime(timezone=True)),
)
OBSERVATION = sa.Table(
    "observation",
    TABLES,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("trainee_id", sa.ForeignKey("trainee.id", ondelete="CASCADE"), nullable=False),
    sa.Column("point", sa.String(100), nullable=False),
    sa.Column("passed", sa.Boolean, nullable=False),
    sa.Column("observer", sa.String(40), nullable=False),
    sa.Column("at", sa.DateTime(timezone=True), nullable=False),
)


class OldStore:
    """Writes what the first version wrote."""

    def __init__(self, url: str) -> None:
        self.engine = sa.create_engine(url.replace("postgresql:", "postgresql+psycopg:"))
        TABLES.create_all(self.engine)

    def add(self, name: str, since: datetime) -> int:
        """A trainee; the number."""
        with self.engine.begin() as connection:
            new = sa.insert(TRAINEE).values(name=name, since=since).returning(TRAINEE.c.id)
            return int(connection.execute(new).scalar_one())

    def record(self, trainee: int, **answer: object) -> None:
        """An answer as it was stored."""
        with self.engine.begin() as connection:
            connection.execute(sa.insert(ANSWER).values(trainee_id=trainee, **answer))

    def remember(self, trainee: int, topic: str, **memory: object) -> None:
        """A memory as it was stored."""
        with self.engine.begin() as connection:
            connection.execute(sa.insert(MEMORY).values(trainee_id=trainee, topic=topic, **memory))

    def observe(self, trainee: int, **seen: object) -> None:
        """An observation as it was stored."""
        with self.engine.begin() as connection:
            connection.execute(sa.insert(OBSERVATION).values(trainee_id=trainee, **seen))
