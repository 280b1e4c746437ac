"""Spanish: number words, word stems and talk at the chair, for look-up and practice by text.

Only tables and what reads them, without accents where words are compared. Articles, cues and courtesies of
requests stand in the pack's own speech file; the reader of requests otherwise works as for English. No engine
of this program hears Spanish.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from vocab.language.tables import (
    AnswerWords,
    ChoiceWords,
    CountWords,
    ReturnWords,
    Tables,
    TimerReplies,
    TimerWords,
    TypedWords,
)


def _words(text: str) -> list[str]:
    return text.split()


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


def _phrases(text: str) -> tuple[str, ...]:
    return tuple(phrase.strip() for phrase in text.split(","))


def _done(stems: str) -> str:
    """Participles in their four forms, as one of the alternatives of a template: "caido|caida|..."."""
    return "|".join(stem + ending for stem in stems.split() for ending in ("o", "a", "os", "as"))


def _after_and_before(parts: Iterable[str]) -> tuple[str, ...]:
    """Each said after a name and before it: "el espejo se ha caído", "se ha caído el espejo"."""
    return tuple(template for part in parts for template in (f"N {part}", f"{part} N"))


UNITS = _words("cero uno dos tres cuatro cinco seis siete ocho nueve")
TEENS = _words("diez once doce trece catorce quince dieciseis diecisiete dieciocho diecinueve")
TWENTIES = _words(
    "veinte veintiuno veintidos veintitres veinticuatro veinticinco veintiseis veintisiete veintiocho "
    "veintinueve"
)
_TENS = _words("treinta cuarenta cincuenta sesenta setenta ochenta noventa")
TENS = {word: 10 * i for i, word in enumerate(_TENS, 3)}
_HUNDREDS = _words(
    "cien doscientos trescientos cuatrocientos quinientos seiscientos setecientos ochocientos novecientos"
)
HUNDREDS = {"ciento": 100, **{word: 100 * i for i, word in enumerate(_HUNDREDS, 1)}}
AND = "y"
PLAIN = _words(
    "con del las los para por sin una unas unos grande pequeno corto corta largo larga recto recta fino "
    "fina mesial distal"
)
"""Words in a name that tell nothing by themselves."""

_SMALL = {word: i for i, word in enumerate((*UNITS, *TEENS, *TWENTIES)) if word not in ("uno",)}
"""Uno is left as it is: it is an article and a pronoun far more often than a number."""
_WORD = re.compile(r"[^\W\d_]+")
_ARTICLES = _set("el la los las un una unos unas")
_BEFORE_NAMES = _words("el la los las un una unos unas otro otra otros otras")
_ENDS_BARE = frozenset("cdlnrsyz")
"""Letters that a word may end in; a plural then adds "es"."""


def with_digits(text: str) -> str:
    """Lower-case text with number words from 2 to 999 as digits.

    >>> with_digits("la fresa trescientos treinta y cinco y dos gasas")
    'la fresa 335 y 2 gasas'
    """
    found = list(_WORD.finditer(text))
    words = [without_accents(match.group()) for match in found]
    out, end, at = [], 0, 0
    while at < len(found):
        value, after = _number(text, found, words, at)
        if after > at:
            out += [text[end : found[at].start()], str(value)]
            end = found[after - 1].end()
        at = max(after, at + 1)
    return "".join([*out, text[end:]])


def stem(word: str) -> str:
    """What singular and plural of a word share, without accents.

    >>> stem("algodones") == stem("algodón"), stem("luces") == stem("luz")
    (True, True)
    """
    word = without_accents(word)
    if len(word) > 3 and word.endswith("s"):
        word = word[:-1]
    if len(word) > 3 and word.endswith("e") and word[-2] in _ENDS_BARE:
        word = word[:-1]
    return word[:-1] + "c" if word.endswith("z") else word


def before_a_name(phrase: str) -> tuple[str, ...]:
    """What stands before a name, as it may be said and typed: with every article, where the phrase may stand
    before one, and without accents. A phrase that ends in an article has one always.

    >>> "dame los" in before_a_name("dame"), "no las" in before_a_name("no el")
    (True, True)
    """
    first, _, last = phrase.rpartition(" ")
    always = last in _ARTICLES and bool(first)
    begun = first if always else phrase
    said = (*(() if always else (phrase,)), *(f"{begun} {word}" for word in _BEFORE_NAMES))
    return _typed(said)


def of_a_name(phrase: str) -> tuple[str, ...]:
    """What is said of a name that follows ("el otro lado del explorador"), as it may be said and typed."""
    return _typed((phrase, *(f"{phrase} {word}" for word in ("de", "del", "de la", "de los", "de las"))))


def as_typed(phrase: str) -> tuple[str, ...]:
    """A phrase with its accents and without them."""
    return _typed((phrase,))


def _typed(phrases: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*phrases, *map(without_accents, phrases))))


def _number(text: str, found: list[re.Match[str]], words: list[str], at: int) -> tuple[int, int]:
    """A number that starts at a word, and the index after it; the same index for none."""
    if words[at] in HUNDREDS:
        value, after = HUNDREDS[words[at]], at + 1
        if after < len(words) and _touch(text, found, after):
            tail, after_tail = _below_hundred(text, found, words, after)
            return value + tail, after_tail
        return value, after
    return _below_hundred(text, found, words, at)


def _below_hundred(text: str, found: list[re.Match[str]], words: list[str], at: int) -> tuple[int, int]:
    word = words[at]
    if word in _SMALL:
        return _SMALL[word], at + 1
    if word not in TENS:
        return 0, at
    joined = at + 2 < len(words) and words[at + 1] == AND and words[at + 2] in UNITS[1:]
    if joined and _touch(text, found, at + 1) and _touch(text, found, at + 2):
        return TENS[word] + UNITS.index(words[at + 2]), at + 3
    return TENS[word], at + 1


def _touch(text: str, found: list[re.Match[str]], at: int) -> bool:
    """Only spaces lie between a word and the one before it."""
    return not text[found[at - 1].end() : found[at].start()].strip()


def without_accents(word: str) -> str:
    """A word in plain letters: people often leave accents out."""
    return "".join(c for c in unicodedata.normalize("NFD", word) if not unicodedata.combining(c))


# --- talk at the chair (listen.chairside) ------------------------------------------------------------------

_HESITATIONS = _set("eh em ehm mm hm uh um ah")
_TIMER = "temporizador|cronometro|timer|reloj"
_START = (
    "pon|ponga|ponme|pongame|poner|inicia|iniciame|inicieme|inicie|iniciar|arranca|arranque|arrancar|activa|active|activar|empieza|comienza|"
    "lanza|enciende"
)
_STOP = (
    "para|pare|parar|deten|detenga|detener|quita|quite|quitar|apaga|apague|apagar|cancela|cancele|cancelar"
)
_LEFT = "queda|falta"

TIMERS = TimerWords(
    forms={
        "start": (
            f"{_START} {_TIMER} [para] N",
            f"{_START} [en] marcha {_TIMER} [para] N",
            f"{_START} {_TIMER} [para] N en marcha",
            f"{_START} tiempo [para] N",
            "cronometra|cronometre|cronometrar N",
            "toma|tome|mide|mida|cuenta tiempo [para] N",
            f"{_TIMER} [para] N",
            "tiempo para N",
            f"{_START} {_TIMER} [en] [marcha]",
            f"{_START} [en] marcha {_TIMER}",
            f"{_START} tiempo",
            "toma|tome|mide|mida|cuenta tiempo",
            "empieza|comienza contar",
            "cronometra|cronometre|cronometrar [esto|eso]",
            "cronometralo",
        ),
        "stop": (
            f"{_STOP} {_TIMER} [para] N",
            f"{_STOP} tiempo [para] N",
            f"{_TIMER} [para] N fuera",
            f"fuera {_TIMER} N",
            f"{_STOP} {_TIMER}",
            f"{_STOP} tiempo",
            f"fuera {_TIMER}",
        ),
        "tell": (
            f"cuanto [tiempo] [mas] {_LEFT} [para|en|con] {_TIMER} N",
            f"cuanto [tiempo] [mas] {_LEFT} [para|en|con] N",
            f"cuanto [tiempo] [mas] {_LEFT} [para|en|con] {_TIMER}",
            "cuantos segundos quedan|faltan [para|en|con] N",
            "tiempo restante [para|en|con] N",
            "tiempo restante [en] temporizador|cronometro|timer",
        ),
    },
    briefly=_phrases(
        "cuánto, cuánto queda, cuánto falta, cuánto tiempo, cuánto tiempo queda, cuánto tiempo falta, "
        "cuánto más, cuánto tiempo más, cuántos segundos, cuántos segundos quedan, cuántos segundos faltan, "
        "qué tiempo queda, tiempo restante, falta mucho, queda mucho"
    ),
    aliases={
        "acido": "grabado",
        "grabado acido": "grabado",
        "grabar": "grabado",
        "lampara": "fotocurado",
        "luz": "fotocurado",
        "curado": "fotocurado",
        "curar": "fotocurado",
        "fotocurar": "fotocurado",
        "fotopolimerizado": "fotocurado",
        "fotopolimerizacion": "fotocurado",
        "polimerizado": "fotocurado",
        "polimerizacion": "fotocurado",
        "anestesia": "anestesico",
        "topica": "topico",
        "gel": "topico",
        "anestesia topica": "anestesico topico",
        "bonding": "adhesivo",
        "bond": "adhesivo",
        "frotado": "adhesivo",
        "composite": "resina",
        "fluido": "fluida",
        "flow": "fluida",
        "bulk": "resina",
        "sellante": "sellador",
        "fisuras": "sellador",
        "forro": "hidroxido",
        "liner": "hidroxido",
        "provisorio": "provisional",
        "provisoria": "provisional",
        "temporal": "provisional",
        "curacion": "obturacion",
        "incremento": "resina",
        "capa": "resina",
        "mezclado": "mezcla",
        "mezclar": "mezcla",
        "batido": "mezcla",
        "vibrado": "mezcla",
        "vibrador": "mezcla",
        "amalgamador": "mezcla",
        "fraguar": "fraguado",
        "endurecer": "fraguado",
        "endurecimiento": "fraguado",
        "vidrio": "ionomero",
    },
    timer=_set("temporizador cronometro timer"),
    singular={
        "temporizadores": "temporizador",
        "cronometros": "cronometro",
        "timers": "timer",
        "relojes": "reloj",
    },
    every=_set("todos todas"),
    dropped=_ARTICLES | _HESITATIONS | _set("de del a al"),
    skipped=_set(
        "por favor porfa porfavor ahora ya gracias vale ok okay y bien entonces pues venga puedes puede "
        "podrias podria me nos le"
    ),
)

_BACK = ("de vuelta", "de regreso", _done("devuelt"))
_FALLEN = (f"{_done('caid')}|cayo|cayeron|resbalo|resbalaron",)
_CAME_OFF = "solto|soltaron|salio|salieron"
_FLOOR = "al|en [el] suelo|piso"
_GONE = f"{_done('agotad acabad terminad gastad')}|acabo|acabaron|agoto|agotaron|termino|terminaron"
_BROKEN = _done("rot partid rasgad desgarrad fracturad rajad")
_BROKE = "rompio|rompieron|partio|partieron|rasgo|rasgaron|desgarro|fracturo"
_PUT_IN = _done("puest colocad metid")
_TAKEN_OUT = _done("retirad sacad quitad")
_OUT = "fuera|afuera"
_IN = "dentro|adentro"
_TRAY = "en|a [la] bandeja"

TIMER_REPLIES = TimerReplies(
    none_running="No hay ningún temporizador en marcha.",
    one_running="No hay ningún temporizador en marcha para {name}.",
    stopped="Temporizador parado: {names}.",
    started="{name}: {seconds:g} segundos, el tiempo fijado por la clínica.",
    left="{name}: quedan {seconds:.0f} segundos.",
    over="{name}: tiempo cumplido.",
    which="¿Qué temporizador: {first} o {last}? Diga el nombre completo.",
    which_of_all="¿Qué temporizador? Diga su nombre, por ejemplo «pon el temporizador de grabado del "
    "esmalte».",
    known="Hay tiempo fijado para: {names}.",
    no_time="No hay tiempo fijado para {name}. Fije primero el tiempo que indica el fabricante del "
    "material en uso; "
    "no viene ninguno puesto.",
    cautions={
        "grabado": "En dentina, como mucho unos 15 segundos; aspiración lista antes de lavar.",
        "grabado para el sellador": "En esmalte sin tallar, a menudo de 15 a 30 segundos; aspiración "
        "lista antes "
        "de lavar.",
        "grabado del esmalte": "Aspiración lista antes de lavar.",
        "fotocurado": "No mire el haz; ponga la pantalla naranja delante de los ojos.",
        "anestésico tópico": "Seque antes la mucosa.",
    },
)

RETURNS = ReturnWords(
    forms={
        "returned": (
            *_after_and_before(_BACK),
            f"N {_done('vuelt')}|volvio|volvieron",
            "vuelto|volvio|volvieron N",
            "N vuelve|vuelven [a] [la] [bandeja]",
            "devuelvo N",
            "devolvi|devolvimos N",
            "acabo|acabamos de devolver N",
            "recibido|recogido N",
            "N recogido|recogida|recogidos|recogidas",
            "aqui tienes|tiene|va|esta|estan N de vuelta",
            "aqui tienes|tiene|va|esta|estan de vuelta N",
            "toma|tome|coge|coja|ten N de vuelta",
            "terminado|acabado|listo|lista con N",
            "termine|acabe|terminamos|acabamos con N",
            "llevate|llevese N",
        ),
        "dropped": (
            *_after_and_before(_FALLEN),
            f"N {_done('caid')}|cayo|cayeron {_FLOOR}",
            f"{_done('caid')}|cayo|cayeron N {_FLOOR}",
            f"{_done('caid')}|cayo|cayeron {_FLOOR} N",
            "N acaba|acaban de caer",
            "N acaba|acaban de caerse",
            "acaba|acaban de caer N",
            "acaba|acaban de caerse N",
            "dejado caer N",
            f"tirado N {_FLOOR}",
            f"N {_FLOOR}",
            "N tocado|toco|tocaron [el] suelo|piso",
            "tocado|toco|tocaron [el] suelo|piso N",
            f"N fue {_FLOOR}",
            f"fue N {_FLOOR}",
            *_after_and_before((f"{_done('contaminad')}|contamino|contaminaron",)),
            "contamine N",
        ),
        "wiped": (
            f"N {_done('limpiad')}",
            "limpiado N",
            "acabo|acabamos de limpiar N",
        ),
        "used_up": (
            f"N {_done('vaci')}",
            *_after_and_before((_GONE,)),
            "era|es [el] ultimo|ultima N",
            "tirado|botado N",
        ),
        "in_mouth": (
            f"N {_IN}",
            f"{_IN} N",
            "N en [la] boca",
            "N en [su] sitio",
            *_after_and_before((_PUT_IN,)),
            *_after_and_before(("entro|entraron",)),
            "puse|pusimos|meti|metimos N",
        ),
        "out_of_mouth": (
            f"N {_OUT}",
            f"{_OUT} N",
            "N fuera de [la] boca",
            *_after_and_before((_TAKEN_OUT,)),
            *_after_and_before((_CAME_OFF,)),
        ),
        "broken": (
            *_after_and_before((_BROKEN, _BROKE)),
            f"{_BROKEN}|{_BROKE} N en 2",
            f"N {_BROKEN}|{_BROKE} en 2",
            "rompi|rompimos N",
            "N en 2 [trozos|pedazos|partes]",
            "N en trozos|pedazos",
        ),
        "short": (
            "falta|faltan N",
            "N falta|faltan",
            *_after_and_before((f"{_done('perdid')}|perdio|perdieron",)),
            "perdimos|perdi N",
            "no encuentro|encontramos N",
            "N no aparece|aparecen",
            "no aparece|aparecen N",
        ),
        "added": (
            "anade|anado|anadimos|anadido|agrega|agrego|agregamos|agregado N [en|a] [la] [bandeja]",
            f"N {_done('anadid agregad')} [en|a] [la] [bandeja]",
            f"pon|ponga|pongo|ponemos|puesto N {_TRAY}",
            f"nuevo|nueva|otro|otra N {_TRAY}",
            f"N nuevo|nueva|nuevos|nuevas|esteril|esteriles {_TRAY}",
            "abierto|abri|abrimos N",
            "traido|traje|traigo N",
            "repuesto|sustituido|reemplazado N",
            f"N {_done('repuest sustituid reemplazad')}",
        ),
        "passed": (
            f"N {_done('pasad entregad')}",
            "pasado|entregado|dado N",
            "entregue|di|dimos N",
            "doctor|doctora|dentista [ya] tiene N",
        ),
    },
    all_of=(
        "quedamos|quedado|quede|estamos sin N",
        "no queda|quedan [mas] N",
        "no hay [mas] N",
    ),
    alone={
        "wiped": ("limpiado", "[ya] [esta] limpiado"),
        "used_up": ("agotado", "[se] [ha] acabado", "se acabo"),
        "dropped": ("caido", "se [me] ha caido", "se [me] cayo"),
    },
    undo=(
        "deshacer",
        "deshaz|deshaga [eso|esto]",
        "deshazlo",
        "deshaz|borra|anula [lo] [el] ultimo",
        "borra|anula|quita eso",
        "borralo",
        "anulalo",
    ),
    please=("N por favor", "N porfa", "N porfavor"),
    orders=_set("llevate llevese pon ponga anade agrega deshaz deshaga borra anula"),
    pointers=("eso|esto|ese|esa|este|aquel|aquello", "esos|esas|estos|estas"),
    joiners=_set("y e"),
    dropped=frozenset(),
    articles=_ARTICLES,
    endings=_set("ahora ya gracias perdon vale ok"),
    openers=_HESITATIONS
    | _set("ahora ya gracias perdon vale ok oh uy ay ups bueno pues y entonces bien vaya"),
    contracted={},
    subjects=_set("yo se me nos te le les lo ha han he hemos ya"),
    auxiliaries=_set("esta estan ha han fue fueron se me nos le les ya he hemos quedo todo toda todos todas"),
    questions=_set(
        "donde quien quienes que cuando como cual cuales cuanto cuanta cuantos cuantas por si puede puedes "
        "podria podrias has habeis esta estan deberia"
    ),
    not_here=_set(
        "no nunca jamas tampoco todavia aun casi hasta mi mis tu tus su sus necesito quiero dame deme "
        "pasame paseme pasa pase favor puedes puede podria vamos cuando si"
    ),
    every=_set("todo toda todos todas ambos ambas"),
    more=_set("mas otro otra otros otras nuevo nueva nuevos nuevas"),
    more_after=_set("mas nuevo nueva nuevos nuevas esteril esteriles"),
    misheard=("vuelta", "caido", "limpiado"),
    as_written=frozenset(),
    wipe="limpia",
    wipe_it="límpialo",
    wipe_one="limpia {}",
)

CHOICES = ChoiceWords(
    places={
        "1": ("primero|primera|1|uno|una|izquierda|arriba",),
        "2": ("segundo|segunda|2",),
        "3": ("tercero|tercera|3",),
        "last": ("ultimo|ultima|abajo",),
        "middle": ("medio|centro|central", "en medio"),
        "right": ("derecha",),
    },
    one=(),
    frame=_ARTICLES - _set("un una")
    | _HESITATIONS
    | _set(
        "de del a numero opcion ese esa este esta eso es por favor porfa quiero prefiero elijo "
        "escojo tomo coge dame deme pasame paseme"
    ),
    yes=_phrases(
        "sí, sí por favor, sí eso, sí ese, sí esa, eso mismo, ese mismo, esa misma, correcto, correcta, "
        "exacto, eso es, así es, de acuerdo, vale, confirmado, confirmada, confirmo, confirmar, leído, "
        "leída, etiqueta leída, leída la etiqueta, la etiqueta está leída, comprobado, comprobada"
    ),
    none=(
        "no",
        "no gracias",
        "ninguno|ninguna [de] [los|las] [2|3]",
        "ninguno|ninguna de estos|estas|esos|esas|ellos|ellas",
        "ni uno|una ni otro|otra",
        "ni el uno ni el otro",
        "ni la una ni la otra",
        "dejalo|olvidalo|cancela|cancelar|cancelalo",
        "esos|esas|estos|estas no",
        "nada",
    ),
)

# --- answers in a drill (listen.practice.answers) -----------------------------------------------------------

ANSWERS = AnswerWords(
    hesitations=_phrases(
        "eh, em, mm, hm, ah, pues, bueno, a ver, vamos a ver, déjame pensar, déjame ver, espera, vale, "
        "entonces"
    ),
    frames=_phrases(
        "es, son, eso es, esto es, ese es, esa es, se llama, se llaman, sería, serían, está, están, va, "
        "van, la respuesta es, yo diría, yo diría que, yo diría que es, diría que, diría que es, se refiere "
        "a, va colocado, va colocada"
    ),
    hedges=_phrases(
        "creo, creo que, creo que es, creo que son, creo que está, creo que va, creo que se llama, me "
        "parece que, me parece que es, supongo que, supongo que es, quizá, quizás, quizá es, quizás es, "
        "quizá sea, tal vez, tal vez es, tal vez sea, a lo mejor, a lo mejor es, puede que sea, podría ser, "
        "puede ser, debe de ser, será, probablemente, probablemente es, no sé si es"
    ),
    usual=("es", "eso es", "sería"),
    placed=("está", "va"),
    articles=("el", "la", "los", "las", "un", "una", "unos", "unas"),
    places=_phrases(
        "en, en el, en la, en hueco, en el hueco, en el hueco número, el hueco, el hueco número, hueco, "
        "hueco número, en el número, el número, número"
    ),
    about=("unos", "unas", "como", "casi", "aproximadamente", "alrededor de", "más o menos"),
    doubts=_phrases(
        "creo, creo yo, supongo, me parece, o no, no estoy seguro, no estoy segura, quizá, quizás"
    ),
    endings=("por favor", "más o menos"),
    unknown=_phrases(
        "no sé, no lo sé, ni idea, no tengo ni idea, no me acuerdo, no lo recuerdo, no recuerdo, se me "
        "olvidó, se me ha olvidado, lo he olvidado, no estoy seguro, no estoy segura, paso, dímelo, "
        "sáltala"
    ),
    repeat=_phrases(
        "otra vez, repite, repita, repítelo, repítela, repítemelo, puedes repetir, puede repetir, puedes "
        "repetirlo, puedes repetirla, me lo repites, dilo otra vez, una vez más, de nuevo, cómo, qué, qué "
        "has dicho, cómo has dicho, perdón, perdona, mande"
    ),
    please=("por favor", "porfa"),
    between=_phrases("en, en el, en la, en hueco, en el hueco, va en el hueco número, van, al, a, por"),
    doubtful=_phrases(
        "creo, supongo, quizá, quizás, tal vez, a lo mejor, puede que, podría ser, puede ser, "
        "probablemente, no sé, no estoy seguro, no estoy segura, me parece, diría, o algo así, más o "
        "menos, si no me equivoco, igual es, será"
    ),
    at_a_loss=_phrases(
        "ni idea, no sé, no lo sé, no me acuerdo, no recuerdo, no lo recuerdo, se me olvidó, se me ha "
        "olvidado, lo he olvidado, me he quedado en blanco, en blanco, paso, me rindo, dímelo, no me sale, "
        "no caigo, la siguiente, ayuda, una pista, no estoy seguro, no estoy segura"
    ),
    once_more=_phrases(
        "otra vez, repite, repita, repítelo, repítela, repetir, de nuevo, una vez más, más despacio, "
        "perdón, perdona, no he oído, no te he oído, no he entendido, no entiendo, qué has dicho, cuál era "
        "la pregunta"
    ),
    denied=_phrases("no, no es, no está en, no va en, no puede ser, nunca"),
    landmarks=_phrases(
        "al lado de, al lado del, junto a, junto al, cerca de, cerca del, detrás de, detrás del, delante "
        "de, delante del, después de, después del, antes de, antes del, entre, desde, en vez de, en lugar "
        "de, que, donde"
    ),
    joining=("o", "o quizá", "o quizás", "o tal vez", "y"),
    taken_back=_phrases("no, espera, quiero decir, mejor dicho, digo"),
    assured=_phrases("no hay duda, no me cabe duda, no lo dudo, no sé, no estoy seguro, no estoy segura"),
    one="uno",
    before_one=frozenset(),
    after_one=_set("de"),
    units={
        "mm": "milimetro",
        "um": "micra",
        "micrometro": "micra",
        "micron": "micra",
        "s": "segundo",
        "seg": "segundo",
        "sg": "segundo",
        "min": "minuto",
        "revolucion": "vuelta",
        "revolucione": "vuelta",
        "giro": "vuelta",
        "uno": "1",
    },
    unit_words=_set("milimetro micra segundo porciento grado vuelta minuto"),
    small_words=_set(
        "el la los las un unos unas de del en es son entre hasta como casi aproximadamente alrededor "
        "mas menos por que"
    ),
    spelled={"por ciento": "porciento", "%": "porciento", "rpm": "vueltas por minuto"},
    thousands=".,",
    thousand="mil",
    joined=AND,
    to="a",
)

COUNTS = CountWords(
    whole=(
        *_done("complet").split("|"),
        "todo aqui",
        "todas aqui",
        "todos aqui",
        "todo esta",
        "todos",
        "todas",
    ),
    but=_phrases(
        "pero falta, pero faltan, pero sin, a falta de, excepto, salvo, menos, falta, faltan, sin, pero"
    ),
    gone=_phrases("falta, faltan, de menos"),
    joiners=_set("y e"),
    dropped=_set("el la los las esta estan es son pues bueno de del"),
    kit="caja",
)

TYPED = TypedWords(
    short={"xfa": "por favor", "pf": "por favor", "porfa": "por favor", "q": "que", "pa": "para"},
    openings={},
    orders=_set("trae traiga saca saque acerca acerque alcanza alcance"),
    articles=_set("el la los las un una unos unas mi su"),
    behind=_set("para porque pues como ya mientras cuando voy vamos estoy esta hay tiene en si"),
    purpose=_set("para que"),
    so=_phrases("así que, asi que, entonces, por eso"),
    joining=_set("y e mas tambien luego o u"),
    telling=_set(
        "es era fue son eran esta estaba estan estaban ha han habia tiene tenia hace hizo va iba "
        "fueron quien "
        "cuyo viene vino queda quedo puede podria parece necesita rompio cayo no"
    ),
    denials=_set("no ni nunca nada nadie sin tampoco ayer ningun ninguna"),
    small=_set(
        "yo me te tu usted ella nosotros ellos lo le eso esto esa ese esta este aqui ahi alli quien "
        "que donde cual "
        "no ni pon ponga ven venga es era ser estar ha han haber tener hace puede y o pero"
    ),
    vague=_set("algo cosa cosas eso"),
    after_vague=_set("para que con de"),
)

TABLES = Tables(TIMERS, TIMER_REPLIES, RETURNS, CHOICES, ANSWERS, COUNTS, TYPED)
