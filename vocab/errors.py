"""The one kind of error a user is meant to read: its text says what is wrong and what to do."""


class TraycallError(Exception):
    """Something the person at the keyboard can put right; printed without a traceback, exit code 2."""
