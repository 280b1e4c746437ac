"""Sets up a chair from what the command line or a web page was given.

It takes `ChairOptions` and gives a `Chair`: the pack, the tray and procedure chosen from it, and a way to
make its assistant. The engine is loaded only when it is asked for, so that typed requests are quick.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cache, cached_property
from pathlib import Path

from listen.assistant import Assistant
from listen.engine import Engine
from listen.readings import FEATURES, Calibration, Reader, load_calibration
from vocab.errors import TraycallError, nearest
from vocab.language.pronounce import Pronouncer, phone_distance
from vocab.layers import Vocabulary, layers_folder, open_vocabulary
from vocab.layers.draft import ClinicSettings
from vocab.lint.findings import HEARD_LANGUAGES
from vocab.pack.load import shipped_languages, shipped_names, shipped_pack
from vocab.pack.schema import Item, Pack, Procedure, Tray
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon
from vocab.requests.typed import Suggester

ENGLISH_VOSK = (
    "No English Vosk model is in the package registries; alphacephei.com/vosk/models has them "
    "(take a small one, unpack it, name its folder with --model)."
)


LEAST_NAME_P = 0.4
NEAR_SHARE = 0.06
SURE_NAME_P = 0.85
"""Below the first a look-up finds nothing; of what it finds, those near enough to the likeliest are offered,
and the likeliest alone where it is sure."""


class EngineName(StrEnum):
    """Which engine is used."""

    NEURAL = "neural"
    VOSK = "vosk"


class UnknownName(TraycallError):
    """A tray, procedure or item that does not exist; the text suggests near names."""


@dataclass(frozen=True)
class ChairOptions:
    """What a chair is set up with.

    pack: name of a shipped pack, or a folder; procedure: id, None where unknown (all are
    considered); tray: id, None takes the procedure's; model: folder of the Vosk model; layers: folder of
    the clinic's changes, None for the one that `traycall edit` uses; dentist: whose changes count, too.
    """

    pack: str = "operative"
    tray: str | None = None
    procedure: str | None = None
    engine: EngineName = EngineName.NEURAL
    model: Path | None = None
    layers: Path | None = None
    dentist: str | None = None


NOTHING_SAID = ClinicSettings({})


@dataclass(frozen=True)
class Chair:
    """A pack with the tray and procedure in use; `tray` and `procedure` are None where not chosen.

    clinic: the clinic's answers in its first hour: hand, makers' times, dentists; names: the look-up
    of the pack's names, if there is one already.
    """

    options: ChairOptions
    pack: Pack
    tray: Tray | None
    procedure: Procedure | None
    clinic: ClinicSettings = NOTHING_SAID

    names: Lexicon | None = field(default=None, repr=False, compare=False)

    @property
    def pronouncer(self) -> Pronouncer:
        """How words sound; every chair's is the same, so that each word is worked out once."""
        return _pronouncer()

    @cached_property
    def lexicon(self) -> Lexicon:
        """Names to items."""
        return self.names or Lexicon(self.pack, self.pronouncer)

    @cached_property
    def suggester(self) -> Suggester:
        """Names while they are typed."""
        return Suggester(self.lexicon)

    @property
    def calibration(self) -> Calibration:
        """The weights that belong to the engine."""
        return vosk_calibration() if self.options.engine is EngineName.VOSK else load_calibration()

    def assistant(self, engine: Engine | None = None) -> Assistant:
        """A fresh session; without an engine it answers text only."""
        chosen = None if self.procedure is None else [self.procedure.id]
        vosk = engine is not None and self.options.engine is EngineName.VOSK
        reader = Reader(self.pack, self.lexicon, vosk_calibration() if vosk else load_calibration())
        return Assistant(self.pack, reader, ProcedureModel(self.pack, chosen), engine, self.tray)

    def engine(self, pack: Pack | None = None) -> Engine:
        """Load the chosen engine, for this chair's pack unless another is given.

        Raises:
            TraycallError: the engine, its model or its folder is missing; the text says how to get it.
        """
        self.lexicon.prepare()  # otherwise the first utterance would wait for it
        if self.options.engine is EngineName.VOSK:
            return self._vosk(pack or self.pack)
        if self.options.model is not None:
            raise TraycallError("--model names a Vosk folder: add --engine vosk, or leave --model out.")
        from listen.neural.engine import NeuralEngine

        return NeuralEngine(pack or self.pack, cache_folder())

    def _vosk(self, pack: Pack) -> Engine:
        from listen.vosk.engine import VoskEngine
        from listen.vosk.stand_ins import Pronunciations

        if self.options.model is None:
            raise TraycallError(_which_vosk_model())
        say = self.pronouncer

        def from_dictionary(word: str) -> tuple[str, ...]:
            return say.phones(word) if say.in_dictionary(word) else ()

        sounds = Pronunciations(say.phones, from_dictionary, phone_distance)
        return VoskEngine.for_pack(self.options.model, pack, sounds)


@cache
def _pronouncer() -> Pronouncer:
    return Pronouncer()


def vosk_calibration() -> Calibration:
    """The embedded engine's weights with Vosk's scale and evidence set by hand, not fitted.

    Among some twenty Korean utterances requests scored from 6 nats below free speech upwards, other
    sentences 18 to 42 below (see `listen.vosk.engine`); there is no English model to fit on.
    """
    weights = tuple(0.35 if feature == "evidence" else 0.0 for feature in FEATURES)
    return replace(load_calibration(), scale=0.5, unlike=0.0, request_bias=5.0, request_weights=weights)


def open_chair(options: ChairOptions) -> Chair:
    """Load the pack with the clinic's and the dentist's changes, and look up tray and procedure.

    Raises:
        TraycallError: the pack is broken, or a name does not exist.
    """
    vocabulary = vocabulary_of(options)
    options = replace(options, dentist=vocabulary.dentist)  # a dentist given by name has an id from here on
    composed = vocabulary.composed()
    pack = composed.pack
    procedure = None if options.procedure is None else find_procedure(pack, options.procedure)
    tray_id = options.tray or (procedure.tray if procedure else None)
    tray = None if tray_id is None else find_tray(pack, tray_id)
    return Chair(options, pack, tray, procedure, composed.settings)


def vocabularies(named: Sequence[str], engine: EngineName) -> tuple[str, ...]:
    """The vocabularies of a server: those named, then every other shipped one in a language that the embedded
    engine understands. For the Vosk engine, whose model decides on the language, only those named.
    """
    chosen = tuple(dict.fromkeys(named))
    if engine is EngineName.VOSK:
        return chosen or (ChairOptions.pack,)
    shipped = [name for name, language in shipped_languages().items() if language in HEARD_LANGUAGES]
    usual = sorted(shipped, key=lambda name: name != ChairOptions.pack)
    return (*chosen, *(name for name in usual if name not in chosen))


def open_chairs(options: ChairOptions, packs: Sequence[str]) -> tuple[Chair, ...]:
    """A chair for each of several vocabularies; the procedure is chosen in the first that has it.

    Args:
        options: `pack` is not used; `layers` is for the first vocabulary, and holds a folder for each other.

    Raises:
        TraycallError: as `open_chair`.
    """
    chairs: dict[str, Chair] = {}
    for pack in packs:
        layers = options.layers if options.layers is None or not chairs else options.layers / Path(pack).name
        chair = open_chair(replace(options, pack=pack, procedure=None, layers=layers))
        chairs.setdefault(chair.pack.id, chair)
    if options.procedure is None:
        return tuple(chairs.values())
    for key, chair in chairs.items():
        procedure = next((p for p in chair.pack.procedures if p.id == options.procedure), None)
        if procedure is not None:
            tray = find_tray(chair.pack, procedure.tray)
            own = replace(chair.options, procedure=procedure.id)
            chairs[key] = replace(chair, options=own, procedure=procedure, tray=tray)
            return tuple(chairs.values())
    known = [p.id for chair in chairs.values() for p in chair.pack.procedures]
    raise UnknownName(_no_such("procedure", options.procedure, known))


def vocabulary_of(options: ChairOptions) -> Vocabulary:
    """The pack with its layers, to be read or edited.

    Raises:
        TraycallError: there is no such pack, it is broken, or the layers belong to another one.
    """
    return open_vocabulary(options.pack, options.layers, options.dentist)


def layers_of(options: ChairOptions, pack: Pack) -> Path:
    """The folder of the layers over a pack."""
    return options.layers or layers_folder(pack.id)


def find_tray(pack: Pack, tray_id: str) -> Tray:
    """The tray with this id, or `UnknownName` with the ids there are."""
    known = [tray.id for tray in pack.trays]
    if tray_id not in known:
        raise UnknownName(_no_such("tray", tray_id, known))
    return pack.tray(tray_id)


def find_procedure(pack: Pack, procedure_id: str) -> Procedure:
    """The procedure with this id, or `UnknownName` with the ids there are."""
    known = [procedure.id for procedure in pack.procedures]
    if procedure_id not in known:
        raise UnknownName(_no_such("procedure", procedure_id, known))
    return pack.procedure(procedure_id)


def find_items(pack: Pack, lexicon: Lexicon, text: str) -> tuple[Item, ...]:
    """The items that an id, a name or part of a name means, likeliest first.

    Raises:
        UnknownName: nothing has a name like it.
    """
    if text in pack.by_id:
        return (pack.item(text),)
    candidates = lexicon.find(text)
    if sum(c.p for c in candidates) < LEAST_NAME_P:
        names = (name.text for item in pack.items for name in item.names)
        raise UnknownName(
            f"no item is called {text!r}{nearest(text, names)}; `traycall item` lists them all."
        )
    near = tuple(pack.item(c.item) for c in candidates if c.p >= candidates[0].p * NEAR_SHARE)
    return near[:1] if candidates[0].p > SURE_NAME_P else near


def _no_such(what: str, wanted: str, known: list[str]) -> str:
    listed = ", ".join(known) or "none in this vocabulary"
    if elsewhere := _field_with(what, wanted):
        return (
            f"no {what} is called {wanted!r} in this vocabulary. It is in that of {elsewhere}: add "
            f"--vocabulary {elsewhere}."
        )
    return f"no {what} is called {wanted!r}{nearest(wanted, known)}; there are: {listed}."


def _field_with(what: str, wanted: str) -> str | None:
    """The vocabulary that comes with traycall and has a procedure or tray of this id; None for none."""
    for name in shipped_names():
        pack = shipped_pack(name)
        if wanted in (one.id for one in (pack.procedures if what == "procedure" else pack.trays)):
            return name
    return None


@cache
def cache_folder() -> Path:
    """The folder for what is made once from model and vocabulary: the user's cache folder or, where that
    cannot be written, one that is deleted at exit. Nothing that anybody said goes there."""
    from listen.neural.cache import default_cache  # imports the model's libraries

    folder = default_cache()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        pass
    else:
        if os.access(folder, os.W_OK):
            return folder
    passing = Path(tempfile.mkdtemp(prefix="traycall-"))
    atexit.register(shutil.rmtree, passing, ignore_errors=True)
    return passing


def vosk_folders() -> Iterator[Path]:
    """Model folders in the places where the Vosk library itself looks for them."""
    given = os.environ.get("VOSK_MODEL_PATH")
    for place in (given, "/usr/share/vosk", "~/AppData/Local/vosk", "~/.cache/vosk"):
        folder = Path(place).expanduser() if place else None
        if folder is not None and folder.is_dir():
            yield from sorted(inner for inner in folder.iterdir() if (inner / "am/final.mdl").is_file())


def _which_vosk_model() -> str:
    found = [str(folder) for folder in vosk_folders()]
    here = f" On this machine: {', '.join(found)}." if found else ""
    return f"--engine vosk needs --model FOLDER, an unpacked Vosk model.{here} {ENGLISH_VOSK}"
