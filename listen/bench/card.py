"""The model card and the README's figures, written from what the benchmarks measured.

Takes `listen/neural/figures.yaml`, where each measurement stands with command, date, engine and counts, and
the templates beside it; returns what the card and the README should hold, and puts new measurements into the
file. Shares and rates with their intervals are worked out here; nothing is measured.
"""

from __future__ import annotations

import hashlib
import re
import subprocess
import traceback
from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any

import yaml
from jinja2 import Environment, FileSystemLoader, StrictUndefined, TemplateError
from jinja2.meta import find_undeclared_variables
from jinja2.nodes import Call, Const
from pydantic import AfterValidator, BaseModel, ConfigDict, StringConstraints, TypeAdapter, ValidationError

from listen.neural.weights import ADAPTER
from listen.shares import hourly, wilson
from vocab.errors import TraycallError
from vocab.files import write_atomically

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""The quick one, where it was built."""
FOLDER = ADAPTER.parent
FIGURES = FOLDER / "figures.yaml"
CARD = FOLDER / "MODEL_CARD.md"
README = FOLDER.parents[1] / "README.md"
START, END = "<!-- written by: python -m listen.bench card -->\n", "<!-- until here -->\n"
"""Around what is written in the README."""
_README_TEMPLATE = "README_FIGURES.md.jinja"
_HEAD = (
    "# What the benchmarks measured; `python -m listen.bench COMMAND --keep NAME` replaces an entry.\n"
    "# Templates beside this file, and `python -m listen.bench card`, make the model card of it.\n"
)
_INTENT = Path(str(files("vocab"))) / "intent_model" / "model.onnx"
_CALIBRATION = FOLDER.parent / "calibration" / "neural.json"
_BY_CHECKSUM = re.compile("adapter [0-9a-f]+, ")
"""How `engine` begins, and nothing that a person wrote does."""


class BadFigures(TraycallError):
    """The figures, or a document made from them, cannot be read or do not fit; the text says where."""


def _only_numbers(counts: dict[str, Any], where: str = "") -> dict[str, Any]:
    for key, value in counts.items():
        if isinstance(value, dict):
            _only_numbers(value, f"{where}{key}.")
        elif isinstance(value, bool) or not isinstance(value, int | float) or not value >= 0:
            raise ValueError(f"{where}{key} is {value!r}; write a number from 0")
    return counts


NAME = "^[a-z][a-z_]*$"
"""How a measurement is called; templates use it as the name of a variable."""
Counts = Annotated[dict[str, Any], AfterValidator(_only_numbers)]
"""Numbers from 0 by what they count, in groups such as systems and levels."""


class Measured(BaseModel):
    """One measurement. engine: as `engine` tells it, or in words where the checksums were not noted; commit:
    the code that measured, empty where it was not noted."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    command: str
    date: date
    engine: str
    commit: str = ""
    counts: Counts


_FILE = TypeAdapter(dict[Annotated[str, StringConstraints(pattern=NAME)], Measured])


def engine(adapter: Path | None = None) -> str:
    """The engine of today, or with another adapter, by the first digits of the SHA-256 of what was taught and
    fitted."""
    taught = {"adapter": adapter or ADAPTER, "intent": _INTENT, "calibration": _CALIBRATION}
    sums = {name: hashlib.sha256(file.read_bytes()).hexdigest()[:12] for name, file in taught.items()}
    return ", ".join(f"{name} {digits}" for name, digits in sums.items())


def commit() -> str:
    """The commit of the checkout, followed by "and changes" where some are not in it; "" outside of one."""
    git = ["git", "-C", str(README.parent)]
    try:
        ask = partial(subprocess.run, capture_output=True, text=True, check=True)
        number = ask([*git, "rev-parse", "--short=12", "HEAD"]).stdout.strip()
        changed = ask([*git, "status", "--porcelain", "--untracked-files=no", "--", "listen", "vocab"]).stdout
    except (OSError, subprocess.CalledProcessError):
        return ""
    kept = str(FIGURES.relative_to(README.parent))  # what this very run has kept is no change of the code
    return number + (" and changes" if any(kept not in line for line in changed.splitlines()) else "")


def not_of_this_engine() -> list[str]:
    """What is wrong with the README's figures: those that another engine gave, by the checksums noted. What
    an earlier engine gave and is called so in words is told as such in the README, and is not among them."""
    return [
        f"{name} was measured with {one.engine}, and this is {engine()}; measure it again (python -m "
        f'listen.bench everything --only {name}), or call its engine "earlier engine of {one.date}" in '
        f"{FIGURES.name}"
        for name, one in figures().items()
        if name in in_readme() and _BY_CHECKSUM.match(one.engine) and one.engine != engine()
    ]


def in_readme() -> frozenset[str]:
    """The measurements that the README shows."""
    page = Environment().parse(_text(FOLDER / _README_TEMPLATE))
    called = {
        str(one.args[0].value) for one in page.find_all(Call) if one.args and isinstance(one.args[0], Const)
    }
    return frozenset(figures()) & (find_undeclared_variables(page) | called)


def figures() -> dict[str, Measured]:
    """All measurements by name, in written order.

    Raises:
        BadFigures: the file is missing or damaged.
    """
    try:
        return _valid(yaml.load(_text(FIGURES), Loader=_LOADER))
    except yaml.YAMLError as error:
        raise BadFigures(f"{FIGURES} is not valid YAML: {error}") from error


def check_name(name: str) -> None:
    """Make sure that a measurement of this name may be kept.

    Raises:
        BadFigures: the name is not of small letters and underscores, or the file is damaged.
    """
    figures()
    if not re.fullmatch(NAME, name):
        raise BadFigures(f"{name!r} names no measurement; use small letters and underscores")


def keep(name: str, measured: Measured) -> None:
    """Put a measurement into the file, in place of the one of that name.

    Raises:
        BadFigures: the file is damaged, or the name is not of small letters and underscores; the file stays.
    """
    plain = _FILE.dump_python(_valid(figures() | {name: measured}), exclude_defaults=True)
    text = yaml.safe_dump(plain, sort_keys=False, default_flow_style=None, width=110, allow_unicode=True)
    write_atomically(FIGURES, (_HEAD + text).encode())


def _valid(plain: object) -> dict[str, Measured]:
    try:
        return _FILE.validate_python(plain)
    except ValidationError as error:
        problems = (f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in error.errors())
        raise BadFigures("\n".join(f"{FIGURES}: {problem}" for problem in problems)) from error


def documents() -> dict[Path, str]:
    """What the model card and the README should hold.

    Raises:
        BadFigures: the file is damaged or lacks what a template asks for, or the README has no place for it.
    """
    known = figures()
    before, start, rest = _text(README).partition(START)
    _, end, after = rest.partition(END)
    if not (start and end):
        raise BadFigures(f"{README}: the lines {START.strip()} and {END.strip()} are missing; put them back")
    return {
        CARD: _filled("MODEL_CARD.md.jinja", known),
        README: before + start + _filled(_README_TEMPLATE, known) + end + after,
    }


def differs(path: Path, text: str) -> bool:
    """Whether a document is not what it should be, or is missing."""
    return not path.exists() or _text(path) != text


def _filled(template: str, known: Mapping[str, Measured]) -> str:
    page = Environment(
        loader=FileSystemLoader(FOLDER, encoding="utf-8"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=lambda value: f"{value:,}" if isinstance(value, int) else value,
    )
    page.globals |= {
        "percent": percent,
        "interval": interval,
        "share": share,
        "an_hour": an_hour,
        "each": each,
        "measurements": known,
        "day": lambda name: known[name].date,
        "command": lambda name: known[name].command,
        "made_by": lambda name: _made_by(known[name]),
        "at_commit": lambda name: f"commit {known[name].commit}" if known[name].commit else "",
    }
    try:
        return page.get_template(template).render({name: one.counts for name, one in known.items()})
    except (TemplateError, LookupError, TypeError, ValueError, ZeroDivisionError) as error:
        at = [f.lineno for f in traceback.extract_tb(error.__traceback__) if f.filename.endswith(template)]
        line = f", line {at[-1]}" if at else ""
        raise BadFigures(f"the figures do not fit {FOLDER / template}{line}: {error}") from error


def _made_by(one: Measured) -> str:
    return "the present engine" if one.engine == engine() else f"the engine of {one.date}"


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadFigures(f"{file} cannot be read ({error}); the card is made in a checkout") from error


# ---------------------------------------------------------------- how a number is written


def percent(k: int, n: int, digits: int = 1) -> str:
    """ "97.5"."""
    return f"{100 * wilson(k, n).value:.{digits}f}"


def interval(k: int, n: int) -> str:
    """Wilson's, 95 %: "87.1-99.6", "0-1.0" or "97.5-100" (per cent)."""
    found = wilson(k, n)
    return _range(100 * found.low, 100 * found.high)


def share(k: int, n: int) -> str:
    """ "97.5 % (39; 87.1-99.6)"."""
    return f"{percent(k, n)} % ({k:,}; {interval(k, n)})"


def an_hour(k: int, hours: float) -> str:
    """ "1.3 an hour; 0.4-3.1"; of none "0-3.0 an hour"."""
    rate = hourly(k, hours)
    likely = _range(rate.low, rate.high)
    return f"{rate.value:.1f} an hour; {likely}" if k else f"{likely} an hour"


def each(
    groups: Mapping[str, Mapping[str, int]], key: str, of: str = "", digits: int = 1, at: Sequence[str] = ()
) -> str:
    """ "86, 76 and 60": one number of each group, as per cent of another if that is given.

    Args:
        at: only of these groups.
    """
    some = [groups[name] for name in at or groups]
    found = [percent(one[key], one[of], digits) if of else f"{one[key]:,}" for one in some]
    return " and ".join(part for part in (", ".join(found[:-1]), *found[-1:]) if part)


def _range(low: float, high: float) -> str:
    return "-".join(f"{end:.0f}" if end in (0, 100) else f"{end:.1f}" for end in (low, high))
