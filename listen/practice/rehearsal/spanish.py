"""How the dentist of a rehearsal talks in Spanish, and what the trainee is told.

Words that are understood in Spain and in America. Fields beside the name are those of
`vocab.language.spanish_nouns.forms`.
"""

from __future__ import annotations

from listen.practice.choices import FETCH, AnswerChoice
from listen.practice.rehearsal.lines import Lines
from listen.practice.rehearsal.outcomes import Came, Where
from listen.practice.rehearsal.wordings import Wordings
from vocab.pack.schema import Pack

PLAIN = (
    "{El} {}, por favor.",
    "{El} {}.",
    "Pásame {el} {}.",
    "Dame {el} {}.",
    "Alcánzame {el} {}.",
    "¿Me das {el} {}?",
    "¿Me pasas {el} {}?",
    "¿Me alcanzas {el} {}?",
    "¿Me puedes dar {el} {}?",
    "¿Me podrías pasar {el} {}?",
    "¿Puedes pasarme {el} {}?",
    "Necesito {el} {}.",
    "Voy a necesitar {el} {}.",
    "Quiero {el} {}.",
    "Tráeme {el} {}.",
    "Ahora {el} {}.",
    "Y ahora {el} {}.",
    "Vamos con {el} {}.",
    "Seguimos con {el} {}.",
    "A ver, {el} {}.",
)


def _plain(pack: Pack) -> tuple[str, ...]:
    """Openers of the shipped pack; its others stand before a name in only some sentences."""
    return PLAIN


LINES = Lines(
    plain=_plain,
    everyday=(
        "Bien, pues ahora quisiera {el} {}.",
        "Mira, aquí me vendría{n} bien {el} {}.",
        "¿Me buscas {el} {}, porfa?",
        "Perfecto. Entonces, {el} {} para mí.",
        "Cuando puedas me vas acercando {el} {}.",
        "Con esto ya está, gracias. Lo siguiente, {el} {}, por favor.",
        "¿Tienes {el} {} por ahí?",
        "Ya casi estamos, solo me falta{n} {el} {}.",
        "Perdona, ¿me arrimas {el} {}?",
        "Eh... aquí yo creo que voy a pedirte {el} {}, sí.",
        "Venga, pues pasamos {al} {}.",
    ),
    everyday_of_tools=(
        "Y ahora quiero {el} {} en la mano derecha.",
        "¿Me cambias esto por {el} {}, por favor?",
        "Déjame probar con {el} {}.",
        "Mmm, esta vez voy a entrar con {el} {}.",
        "Esto lo quiero repasar una vez con {el} {}.",
    ),
    passing=(
        "Yo esto lo veo bien seco, así que seguimos. {El} {}, por favor.",
        "Abre un poquito más, eso es, muy bien, y a mí me das {el} {}.",
        "Levanta un poco la barbilla. Gracias. ¿Me dejas {el} {}?",
        "Vamos por la mitad, lo estás haciendo muy bien. Y ahora {el} {}, por favor.",
        "Mantén la aspiración justo ahí, perfecto, y con la otra mano {el} {}.",
        "Sí, los llamo yo a mediodía, ahora no. ¿Por dónde íbamos? Ah, {el} {}, por favor.",
        "Cuidado con la mejilla. Bien. Para esta parte, mejor dame {el} {}.",
        "Ha quedado bonito, ¿verdad? Bueno, {el} {} y seguimos.",
        "Quédate así, sin moverte. Ahora que veo bien, pásame {el} {}.",
    ),
    passing_of_tools=(
        "En este lado noto algo áspero, ¿lo ves? Dame {el} {} y lo quito.",
        "No me gusta cómo está ese margen, así que pásame {el} {} y lo arreglamos.",
        "Es justo la esquina de atrás, ahí no llego bien, voy a necesitar {el} {}.",
    ),
    chatter=(
        "Lo estás haciendo muy bien, lo peor ya casi ha pasado.",
        "¿Al final arreglaron la calefacción de la sala dos?",
        "Esta mañana he venido todo el camino detrás de un tractor.",
        "Si algo te molesta, levanta la mano y paramos.",
        "Recuérdame que llame al laboratorio antes de que cierren.",
        "¿Sabes si ya llegó la persona de las tres y media?",
        "Siempre es esta esquina la que da guerra.",
        "Mi sobrina se casa en junio, en un pueblo de la sierra.",
        "Qué superficie más limpia, mira eso.",
        "¿Te da la luz en los ojos? Perdona, ahora la aparto.",
        "Otra vez hay alguien aparcado delante de la entrada.",
        "Le damos unos segundos y lo volvemos a mirar.",
        "Tenía que haberme traído algo de comer, qué hambre.",
        "Respira por la nariz, despacito, así.",
        "No, nada, tú sigue, estaba pensando en voz alta.",
    ),
    mentions=(
        "Es increíble lo que piden ahora por {el} {}.",
        "Yo estudié con alguien que jamás limpiaba bien {el} {}.",
        "El martes pasado estuvimos diez minutos buscando {el} {}.",
        "Al taller hubo que mandar dos veces {el} {}, hasta que quedó bien.",
        "Cuando estudiaba me daba miedo usar {el} {}.",
        "Me contaban que esta vez {el} {} vino en otra caja.",
        "En el capítulo seis hablan mucho de esto, {el} {} y todo lo demás, pero nadie lo explica bien.",
    ),
    corrections=(
        "No, perdona, lo otro. {El} {}.",
        "Eso no. Quería decir {el} {}.",
        "Espera, no. {El} {}, por favor.",
        "Mejor deja eso y dame {el} {}.",
        "Ay, no, primero necesito {el} {}.",
    ),
    drops=(
        "Uy, se me ha{n} caído. Dame otr{o}, por favor.",
        "Perdona, esto se ha ido al suelo. Otr{o}, por favor.",
        "Qué torpe soy. Al suelo. Necesito otr{o}.",
        "Ay, del guante al suelo. ¿Me das otr{o}?",
    ),
    backs=(
        "Toma, llévate {el} {}, por favor.",
        "Con {el} {} ya he terminado, te {lo} devuelvo.",
        "¿Me recoges {el} {}?",
        "{El} {} ya no me hace{n} falta, guárda{lo}, por favor.",
    ),
    keeps=(
        "{El} {} me {lo} quedo yo, {lo} quiero en la otra mano.",
        "De momento no suelto {el} {}.",
        "Me quedo con {el} {} en la izquierda, no me {lo} quites.",
    ),
    stays=(
        "Bueno, por ahora dejo {el} {} en la boca.",
        "{El} {} se queda{n} dentro, acuérdate.",
        "Quiero que {el} {} siga{n} en la boca hasta que yo diga.",
    ),
    taken_out=(
        "Ya he sacado {el} {} de la boca.",
        "Fuera {el} {} de la boca, ahí {lo} tienes de vuelta.",
    ),
)

WORDINGS = Wordings(
    item="{el} {}",
    called="{el} {} ({usual})",
    at="{name}, {places}",
    met="{where}: correcto",
    met_in="{where}: correcto, {seconds} s",
    slow="{where}: no en {seconds} s",
    instead="{where}, no {other}.",
    no_other="{name}, al suelo, y en la bandeja no queda más: {fetch}",
    left="No se pedía nada, y no has hecho nada.",
    alarm="No se pedía nada. «{said}»",
    taken_back="Retirado antes de que pudieras pasarlo.",
    unheard="Esto no se ha podido decir en voz alta, así que no cuenta.",
    fetch=AnswerChoice(
        FETCH.id,
        "una unidad estéril de fuera de la bandeja",
        ("una unidad estéril", "una estéril", "uno estéril", "traer uno estéril"),
    ),
    listen="Escucha.",
    unclear="No queda claro. Da el hueco otra vez.",
    once_more="Otra vez",
    fetch_one="Traer uno estéril",
    type_slot="o escribe el hueco",
    place="El número o el lugar de un hueco",
    enter="Pasar",
    not_heard="Aquí se responde sin hablar: la voz solo se entiende en inglés.",
    count="El recuento: ¿dónde está ahora?",
    count_note=(
        "Según lo que has oído; lo que se pasó volvió con la petición siguiente, si no oíste otra cosa. "
        "Junto al sillón todo se cuenta a mano; deciden las normas del lugar y la persona responsable."
    ),
    done="Listo",
    places={
        Where.BACK: "de vuelta en la bandeja",
        Where.OUT: "todavía con el dentista",
        Where.MOUTH: "en la boca",
        Where.FELL: "se cayó",
    },
    how=(
        "Escribe el hueco («7», «caja de fresas 3») o el nombre y pulsa Intro. «vuelve»: lo devuelven. "
        "«traer»: uno estéril de fuera de la bandeja. «repite»: oírlo otra vez. «fin»: terminar aquí. Si "
        "solo hablan, nada."
    ),
    back=("vuelve", "de vuelta", "devuelto", "guardar", "guardado", "a su sitio"),
    fetched=("traer", "traigo otro", "traigo otra", "estéril", "traer uno estéril", "traer una estéril"),
    end=("fin", "terminar", "parar"),
    came={
        Came.RIGHT: "correcto",
        Came.WRONG: "incorrecto",
        Came.SLOW: "demasiado lento",
        Came.TAKEN_BACK: "retirado a tiempo",
        Came.LEFT: "sin tocar nada",
        Came.ALARM: "falsa alarma",
        Came.UNHEARD: "no se oyó",
    },
    of="{some} de {all}",
    alarms="falsas alarmas",
    half_within="la mitad de las correctas en",
    the_count="el recuento",
    and_one=", y otra unidad ",
    you_said="{where}; dijiste: {answered}",
    nothing="nada",
    nothing_to_count="No había nada que contar.",
    line_by_line="Frase por frase",
    course="Cuánto esperó cada petición, a lo largo del tiempo; la lista de abajo dice lo mismo",
    course_note=(
        "Todo el ensayo de izquierda a derecha: cuanto más alto, más tardaste. La línea de trazos marca una "
        "duda de {slow} s; el otro color es incorrecto o demasiado lento, y los puntos hacia abajo, una "
        "falsa alarma."
    ),
    bar_note=(
        "La barra es lo que tardaste desde el final de la frase; el ancho entero son {longest} s, y la "
        "marca, tu tiempo habitual. A partir de {slow} s cuenta como duda."
    ),
    hesitated="con duda",
    asked_again="repetido",
    to_remember="para recordar",
)
