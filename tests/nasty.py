"""Text that broke something somewhere once, and whatever Hypothesis finds beside it."""

from hypothesis import strategies as st

BROKE = (
    "9" * 5_000,
    f"give me {'9' * 5_000} burs",
    "1² burs please",
    "-" + "1" * 400,
    "²",
    "٣",
    "1e999",
    "nan",
    "\ud800",
    "\x00",
    "\x1b[31mred",
    "a\nb",
    "\u202emirror",
    "../x",
    "..\\x",
    "/",
    "",
    " ",
    "-",
    "--",
    "'\"<script>",
    "=1+1",
    "[" * 300,
    "{}" * 40,
    "mirror " * 400,
    "ä" * 60,
    "2025-99-99",
    "%s%n",
)

nasty = st.one_of(st.sampled_from(BROKE), st.text(max_size=40), st.integers().map(str))
"""One piece of it."""
