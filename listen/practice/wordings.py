"""What a trainee is asked and told in a drill, in the language of the pack.

A language code gives its `Wordings`, or the English ones if it has none. Names, steps and clues come from
the pack; the terminal and the pages around a drill stay English. To add a language, add its `Wordings` to
`BY_LANGUAGE`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Wordings:
    """Sentences; braces stand for what the pack holds or what was counted.

    requests: how a dentist asks; kinds: what stands above a question, by drill; sides: what is said for the
    first and for the second of two pictures; stands: where a kit stands, by `KitPlace` and "tray" for none of
    these, as it is shown and then what else is said for it; sketches: what stands under each sketch of
    `listen.practice.sketches`, and what it shows, for those who do not see it. How people answer stands
    in the tables of `vocab.language`.
    """

    # asked
    requests: tuple[str, ...]
    kinds: Mapping[str, str]
    sides: tuple[tuple[str, ...], tuple[str, ...]]
    stands: Mapping[str, tuple[str, ...]]
    sketches: Mapping[str, tuple[str, str]]
    which_slot: str
    where_in_kit: str
    where_kit: str
    kit_stands: str
    what_called: str
    which_of_two: str
    next_request: str
    next_after: str
    pass_item: str
    pass_upper: str
    pass_lower: str
    pass_source: str
    pass_legend: str
    fault: str
    lay: str
    lay_spoken: str
    listen: str
    # answers, right and wrong
    slot: str
    number: str
    either: str
    called: str
    next_step: str
    missing: str
    swapped: str
    stranger: str
    # told
    right: str
    wrong: str
    again: str
    unclear: str
    or_else: str
    repeat: str
    answered: str
    aside: str
    left_for_later: str
    name_right: str
    slot_right: str
    both_wrong: str
    not_there: str
    slot_is_for: str
    belongs_in: str
    asked_for_in: str
    objected: str
    still_open: str
    slots: str
    score: str
    pace: str
    done: str
    look_again: str
    nothing_answered: str
    learnt: str
    day_by_day: str
    known_now: str
    comes_again: str
    tomorrow: str
    in_days: str
    and_more: str
    no_voice: str
    not_heard: str
    # a story that is heard
    story_read: str
    story_hear: str
    story_again: str
    story_ask_again: str
    story_play: str
    story_no_voice: str
    story_silent: str
    story_was: str
    # what is typed or touched
    type_answer: str
    type_placing: str
    take_one: str
    to_be_laid: str
    empty: str
    what_belongs: str
    touch_fault: str
    choose: str
    recall: str
    number_keys: str
    as_it_came: str
    dont_know: str
    i_was_right: str


ENGLISH = Wordings(
    requests=("{}, please.", "Could I have the {}, please?", "Hand me the {}.", "I need the {}.", "{}."),
    kinds={
        "slot": "Where is it?",
        "name": "What is it called?",
        "apart": "Which of the two?",
        "next": "What comes next?",
        "lay": "Lay the row",
        "fault": "What is wrong here?",
        "fact": "Numbers",
        "pass": "How is it passed?",
    },
    sides=(("left", "left one", "first one"), ("right", "right one", "second one")),
    stands={
        "chair": ("at the chair", "chair", "chairside", "beside the chair"),
        "counter": ("on the counter", "counter"),
        "tray": ("on the tray itself", "on the tray", "tray"),
    },
    sketches={
        "grasp=pen": ("pen grasp", "A hand holds it between thumb and two fingers, as a pen is held."),
        "grasp=palm": ("palm grasp", "A fist around the handle, the thumb closed over the fingers."),
        "grasp=palm and thumb": (
            "palm and thumb grasp",
            "A fist around the handle, the thumb stretched out along the instrument.",
        ),
        "hand=working": ("to the working hand", "It is brought to the hand that the operator works with."),
        "hand=other": ("to the other hand", "It is brought to the operator's other hand."),
        "end=offered": ("{offered} first", "It is held out to the operator with the {offered} in front."),
        "end=part": ("{part} first", "It is held out to the operator with the {part} in front."),
        "exchange=one hand": (
            "one-hand exchange",
            "One hand of the assistant takes the used instrument and gives the next.",
        ),
        "exchange=two hands": (
            "two-hand exchange",
            "One hand of the assistant takes the used instrument, the other gives the next.",
        ),
        "exchange=neutral zone": (
            "neutral zone",
            "It lies on a tray between the two, and nothing goes from hand to hand.",
        ),
        "faces=up": ("{part} up", "The {part} points up, to the upper teeth."),
        "faces=down": ("{part} down", "The {part} points down, to the lower teeth."),
        "where=chest": ("over the chest", "It changes hands low over the patient's chest."),
        "where=face": ("over the face", "It changes hands over the patient's face."),
    },
    which_slot='"{said}" Which slot?',
    where_in_kit='"{said}" {kit}: which place?',
    where_kit="{kit}: where does it stand?",
    kit_stands="{kit}: {where}.",
    what_called="{clue} What is it called?",
    which_of_two='"{said}" Which of the two?',
    next_request="What will be asked for next?",
    next_after="{procedure}. Asked for, one after the other: {items}. What will be asked for next?",
    pass_item="The dentist asks for the {item}. How do you pass it?",
    pass_upper="The dentist asks for the {item} for an upper tooth. How do you pass it?",
    pass_lower="The dentist asks for the {item} for a lower tooth. How do you pass it?",
    pass_source="Common practice, no source; your local rules decide.",
    pass_legend="Solid sleeve: the operator. Solid hand: the one they work with.",
    fault="{tray}, {row}: what is missing or in the wrong place?",
    lay="{tray}, {row}: put each in its slot. {items}.",
    lay_spoken="Lay the {row}. Say an item and its slot.",
    listen="Listen.",
    slot="slot {at}",
    number="number {at}",
    either="{some} or {last}",
    called="{name} (the {usual})",
    next_step="Next: {step}.",
    missing="The {item} is missing from {at}.",
    swapped="The {one} and the {other} have swapped places.",
    stranger="{at} holds the {stranger}; the {item} belongs there.",
    right="Right.",
    wrong="No.",
    again="Say it again, please.",
    unclear="That came across as “{said}”.",
    or_else="You may also type it or touch it.",
    repeat="Once more.",
    answered="Answered: {said}.",
    aside="Set aside for now.",
    left_for_later="Left for later.",
    name_right="The name is right, the slot is not.",
    slot_right="The slot is right, the name is not: you said the {named}, and it was the {item}.",
    both_wrong="Neither is right, slot nor name: you said the {named}, and it was the {item}.",
    not_there="Not there.",
    slot_is_for="{at} is for the {item}.",
    belongs_in="The {item} belongs in {at}, beside the {beside}.",
    asked_for_in="It is asked for most in the step “{step}”.",
    objected="Noted: your lead will look at this answer. The count stays as it is until then.",
    still_open="Still open: {count}",
    slots="slots: {slots}",
    score="{right} of {asked} right.",
    pace="Half of the right answers began within {seconds} s.",
    done="Done for now",
    look_again="Worth another look",
    nothing_answered="Nothing was answered this time.",
    learnt="You know now",
    day_by_day="Day by day",
    known_now="{count} known this evening, {before} on the first of these days.",
    comes_again="What comes again, and when",
    tomorrow="Tomorrow",
    in_days="In {days} days",
    and_more="and {count} more",
    no_voice="No voice is installed to read the questions out (try espeak-ng).",
    not_heard="Answers are typed or touched.",
    story_read="Read it instead",
    story_hear="Hear it instead",
    story_again="Hear it again",
    story_ask_again="Say that again.",
    story_play="Play",
    story_no_voice="No voice is installed to speak the requests, so they are written.",
    story_silent="Speech is switched off here, so the requests are written.",
    story_was="What you heard:",
    type_answer="Type your answer",
    type_placing="Type an item and its slot",
    take_one="Take one, then touch its slot",
    to_be_laid="Still to place",
    empty="empty",
    what_belongs="What belongs in the empty slot?",
    touch_fault="Touch what is wrong, or name it.",
    choose="Choose from a few names",
    recall="Hide the names",
    number_keys="Touch one, or press its number.",
    as_it_came="as it came; your clinic has not confirmed how it lies here",
    dont_know="I don't know",
    i_was_right="I was right",
)

SPANISH = Wordings(
    # A pack does not say a name's gender, so no article stands before one.
    requests=("{}, por favor.", "Por favor, {}.", "Ahora, {}.", "{}, cuando puedas.", "{}."),
    kinds={
        "slot": "¿Dónde está?",
        "name": "¿Cómo se llama?",
        "apart": "¿Cuál de los dos?",
        "next": "¿Qué viene ahora?",
        "lay": "Colocar la fila",
        "fault": "¿Qué está mal aquí?",
        "fact": "Números",
        "pass": "¿Cómo se entrega?",
    },
    sides=(("izquierda", "el de la izquierda", "primero"), ("derecha", "el de la derecha", "segundo")),
    stands={
        "chair": ("junto al sillón", "sillón", "al lado del sillón"),
        "counter": ("en la encimera", "encimera", "en la mesa", "mesa"),
        "tray": ("en la propia bandeja", "en la bandeja", "bandeja"),
    },
    sketches={
        "grasp=pen": ("toma en lápiz", "Una mano lo sujeta entre el pulgar y dos dedos, como un lápiz."),
        "grasp=palm": ("toma palmar", "Un puño alrededor del mango, con el pulgar cerrado sobre los dedos."),
        "grasp=palm and thumb": (
            "toma de palma y pulgar",
            "Un puño alrededor del mango, con el pulgar extendido a lo largo del instrumento.",
        ),
        "hand=working": ("a la mano de trabajo", "Llega a la mano con la que trabaja el operador."),
        "hand=other": ("a la otra mano", "Llega a la otra mano del operador."),
        "end=offered": ("por delante, {offered}", "Se ofrece al operador con {offered} por delante."),
        "end=part": ("por delante, {part}", "Se ofrece al operador con {part} por delante."),
        "exchange=one hand": (
            "intercambio con una mano",
            "Una mano de quien asiste recoge el instrumento usado y entrega el siguiente.",
        ),
        "exchange=two hands": (
            "intercambio con dos manos",
            "Una mano de quien asiste recoge el instrumento usado y la otra entrega el siguiente.",
        ),
        "exchange=neutral zone": (
            "zona neutra",
            "Está en una bandeja entre los dos, y nada pasa de mano a mano.",
        ),
        "faces=up": ("{part} hacia arriba", "Con {part} hacia arriba, hacia los dientes superiores."),
        "faces=down": ("{part} hacia abajo", "Con {part} hacia abajo, hacia los dientes inferiores."),
        "where=chest": ("sobre el pecho", "Cambia de manos por lo bajo, sobre el pecho del paciente."),
        "where=face": ("sobre la cara", "Cambia de manos sobre la cara del paciente."),
    },
    which_slot="«{said}» ¿En qué hueco está?",
    where_in_kit="«{said}» {kit}: ¿en qué lugar?",
    where_kit="{kit}: ¿dónde está?",
    kit_stands="{kit}: {where}.",
    what_called="{clue} ¿Cómo se llama?",
    which_of_two="«{said}» ¿Cuál de los dos?",
    next_request="¿Qué se pedirá ahora?",
    next_after="{procedure}. Se ha pedido, por este orden: {items}. ¿Qué se pedirá ahora?",
    pass_item="Piden: {item}. ¿Cómo se entrega?",
    pass_upper="Piden, para un diente superior: {item}. ¿Cómo se entrega?",
    pass_lower="Piden, para un diente inferior: {item}. ¿Cómo se entrega?",
    pass_source="Práctica habitual, sin fuente; deciden las normas locales.",
    pass_legend="Manga maciza: el operador. Mano maciza: la mano con la que trabaja.",
    fault="{tray}, {row}: ¿qué falta o está fuera de su sitio?",
    lay="{tray}, {row}: cada cosa en su hueco. {items}.",
    lay_spoken="Coloca cada cosa en su hueco: {row}.",
    listen="Escucha.",
    slot="hueco {at}",
    number="número {at}",
    either="{some} o {last}",
    called="{name} ({usual})",
    next_step="Sigue: {step}.",
    missing="En {at} falta: {item}.",
    swapped="Han cambiado de sitio: {one} y {other}.",
    stranger="{at}: hay {stranger}; ahí va {item}.",
    right="Correcto.",
    wrong="No.",
    again="Repite, por favor.",
    unclear="Se ha entendido «{said}».",
    or_else="También se puede escribir o tocar.",
    repeat="Otra vez.",
    answered="Respuesta: {said}.",
    aside="Se deja por ahora.",
    left_for_later="Queda para después.",
    name_right="El nombre es correcto; el hueco, no.",
    slot_right="El hueco es correcto; el nombre, no: has dicho {named}, y era {item}.",
    both_wrong="Ni el hueco ni el nombre son correctos: has dicho {named}, y era {item}.",
    not_there="Ahí no.",
    slot_is_for="{at} es para: {item}.",
    belongs_in="{item}: va en {at}, junto a {beside}.",
    asked_for_in="Se pide sobre todo en el paso «{step}».",
    objected="Anotado: lo verá quien dirige la práctica. Hasta entonces la cuenta no cambia.",
    still_open="Quedan: {count}",
    slots="huecos: {slots}",
    score="{right} de {asked} correctas.",
    pace="La mitad de las respuestas correctas empezó antes de {seconds} s.",
    done="Listo por ahora",
    look_again="Para repasar",
    nothing_answered="Esta vez no se ha respondido nada.",
    learnt="Ya lo sabes",
    day_by_day="Día a día",
    known_now="Sabes {count} cosas hoy; el primero de estos días, {before}.",
    comes_again="Qué vuelve, y cuándo",
    tomorrow="Mañana",
    in_days="Dentro de {days} días",
    and_more="y {count} más",
    no_voice="No hay ninguna voz en español instalada que lea las preguntas (por ejemplo, espeak-ng).",
    not_heard="Se responde escribiendo o tocando.",
    story_read="Leerlo en vez de oírlo",
    story_hear="Oírlo en vez de leerlo",
    story_again="Oírlo otra vez",
    story_ask_again="Otra vez.",
    story_play="Reproducir",
    story_no_voice="No hay ninguna voz instalada que diga las peticiones; por eso van escritas.",
    story_silent="Aquí la voz está apagada; por eso las peticiones van escritas.",
    story_was="Lo que se ha oído:",
    type_answer="Escribe la respuesta",
    type_placing="Escribe una cosa y su hueco",
    take_one="Toma una cosa y toca su hueco",
    to_be_laid="Por colocar",
    empty="vacío",
    what_belongs="¿Qué va en el hueco vacío?",
    touch_fault="Toca lo que está mal, o di su nombre.",
    choose="Elegir entre unos pocos nombres",
    recall="Ocultar los nombres",
    number_keys="Toca una opción o pulsa su número.",
    as_it_came="tal como vino; la clínica no ha confirmado cómo se coloca aquí",
    dont_know="No lo sé",
    i_was_right="Yo tenía razón",
)

BY_LANGUAGE: Mapping[str, Wordings] = {"en": ENGLISH, "es": SPANISH}


def wordings(language: str) -> Wordings:
    """What is asked and told in packs of this language."""
    return BY_LANGUAGE.get(language, ENGLISH)
