"""English: the words about numbers, names, requests and talk at the chair that no pack needs to give.

Only tables. A pack in another language comes with a module like this one.
"""

from __future__ import annotations

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


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


def _phrases(text: str) -> tuple[str, ...]:
    return tuple(phrase.strip() for phrase in text.split(","))


# --- numbers (vocab.language.tokens) ---------------------------------------------------------------------

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = _phrases("ten, eleven, twelve, thirteen, fourteen, fifteen, sixteen, seventeen, eighteen, nineteen")
TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
HUNDRED = "hundred"
POINT = "point"
OH = _words("oh o")
OH_WORD = "oh"
ZERO = _words("zero")
AND = "and"
ONE_WORDS = _words("a one 1")
FRACTIONS = {"quarter": "1/4", "quarters": "1/4", "half": "1/2", "halves": "1/2"}
FRACTION_WORDS = {"1/4": ("quarter", "one quarter"), "1/2": ("half", "one half"), "3/4": ("three quarter",)}
BY = _words("by x")
BY_WORD = "by"
NUMBER = "number"
SIZE_LETTERS = _words("l")
"""Letters that belong to the number before them: a 169L is the long form of a 169."""
LETTERS = SIZE_LETTERS | _words("a")
"""The same where it is written without a gap: a 14A is a clamp, "a" after a gap is mostly the article."""
SIGNS = {"#": NUMBER, "%": "percent", "&": AND}

# --- names (vocab.requests.lexicon) ----------------------------------------------------------------------

NAME_ARTICLES = _words("the a an")
BUR = "bur"
GENERIC = _words("bur instrument size type kind")
"""Words that may be added to any name without changing it ("the discoid instrument")."""
PLAIN = _words(
    "small large big little high low slow fast hard soft hand long short fine medium coarse air water "
    "side end left right front back plain universal safety patient dental clear temporary single double "
    "straight round white black blue red green yellow gold number no of for and with in on to from up "
    "down out over under tooth teeth working wet dry new old first second third next other class mesial "
    "distal buccal lingual occlusal facial palatal incisal proximal upper lower"
)
"""Words too plain to name an item alone, unless they are a whole name."""
SHADE_LETTERS = _words("a b c d")
"""With a digit behind them they are a shade."""
NO_PLURAL = _words("glasses")
SPELLINGS = {
    "disk": "disc",
    "dentin": "dentine",
    "anesthetic": "anaesthetic",
    "anesthesia": "anaesthesia",
    "burr": "bur",
    "mold": "mould",
    "fiber": "fibre",
    "sterilizing": "sterilising",
    "sterilization": "sterilisation",
    "color": "colour",
}

# --- requests (vocab.requests.understand) -------------------------------------------------------------------

HESITATIONS = _words("um uh er erm ah hm hmm mm uhm")
MILLIMETRES = "mm"
FILLERS = _phrases(
    "okay, ok, alright, all right, right, so, well, now, yeah, yes, yep, good, great, perfect, lets "
    "see, let me see, i think, and, and then, then, oh, hey, also, maybe, just, please, there we go"
)
LAST_FILLERS = _phrases("okay, ok, then, too, right, yeah, there, as well, this time, real quick")
ARTICLES = _words("the a an some my our your")
POINTERS = _words("that this those these his her one")
POLITE = _words("please just quickly also")
QUESTIONS = _phrases(
    "where is, wheres, where are, where do i find, which slot is, which slot has, what slot is, which "
    "slot are, which one is, what is, whats, what are, what does, what do we use, which is, show me, "
    "find, find me, look up, tell me about, how do i pass, how do i hand, how do i hold, how do you "
    "pass"
)
QUESTION_ENDINGS = _phrases(
    "for, used for, for again, look like, looks like, in, at, on, called, kept, do, again, on tray"
)
NOT = "not"
NO = "no"
BUT = _words("but its i want need meant said rather")
MORE = _words("more another")
THEM = (
    ("of", "those"),
    ("of", "these"),
    ("of", "that"),
    ("of", "them"),
    ("those",),
    ("these",),
    ("them",),
    ("same",),
)
OF = "of"
SITE_PREPOSITIONS = _words("on for at in to around over under before after")
SITES = _words(
    "tooth teeth number upper lower left right mesial distal buccal lingual occlusal facial palatal "
    "incisal side molar premolar bicuspid canine incisor quadrant class surface margin box floor "
    "proximal back front this that these those other one first second third next here there seconds "
    "minute minutes i ii iii iv v mm enamel dentine dentin cavity cusp restoration filling prep "
    "preparation gum cheek tongue patient her him us b c d e f g h j k l m n o p q r s t"
)
DEVICES = _words(
    "slow low high fast speed straight contra angle contraangle latch handpiece nose piece hand motor turbine"
)
LAST_TOOTH = 48
"""Permanent teeth are numbered up to here in the two-digit system of ISO 3950; larger numbers are sizes."""
BABY_TEETH = frozenset(10 * quadrant + tooth for quadrant in (5, 6, 7, 8) for tooth in (1, 2, 3, 4, 5))
"""Their numbers in the same system; other systems give them the letters A to T."""

OF_ANOTHER = _words("upper lower left")
"""Right before a name they make it another thing's ("upper cowhorn")."""
ALSO_ADJECTIVES = _words("light round flat clear plain fine short long slow sharp white green brown")
"""Names that are adjectives in most sentences."""
BEFORE_A_THING = _words("the a my your that this some no his her our")
AFTER_A_THING = _words(
    "please over here now for on in to and if when then while up back off thanks at by from"
)
"""What may stand before and after such a word where it is a thing that is asked for."""

# --- talk at the chair (listen.chairside) ------------------------------------------------------------------

TIMERS = TimerWords(
    forms={
        "start": (
            "start N timer",
            "start timer for N",
            "start timing N",
            "start timer on N",
            "begin N timer",
            "set N timer",
            "run N timer",
            "time N",
            "N timer",
            "start timer",
            "start clock",
            "start timing",
            "time it",
            "time that",
            "time this",
        ),
        "stop": (
            "stop N timer",
            "stop timer for N",
            "stop timing N",
            "cancel N timer",
            "end N timer",
            "N timer off",
            "turn off N timer",
            "turn N timer off",
            "stop timer",
            "stop clock",
            "stop timing",
            "timer off",
            "turn off timer",
            "turn timer off",
            "cancel timer",
            "end timer",
            "silence timer",
        ),
        "tell": (
            "how long left on N",
            "how long left for N",
            "how long left on N timer",
            "how much longer on N",
            "how much longer for N",
            "how much time left on N",
            "how much time on N timer",
            "how long on N timer",
            "how long is N timer",
            "time left on N",
            "how long left on timer",
            "how much time left on timer",
            "how long on timer",
            "time left on timer",
        ),
    },
    briefly=_phrases(
        "how long, how long left, how long is left, how long to go, how long now, how much longer, how much "
        "time left, how much time is left, how many seconds, how many seconds left, time left, seconds left"
    ),
    aliases={
        "etching": "etch",
        "etchant": "etch",
        "acid": "etch",
        "curing": "cure",
        "curing light": "cure",
        "light": "cure",
        "light cure": "cure",
        "bonding": "bond",
        "bonding agent": "bond",
        "topical": "topical anaesthetic",
        "topical anesthetic": "topical anaesthetic",
        "dentin": "dentine",
        "flow": "flowable",
        "increment": "composite",
        "layer": "composite",
        "adhesive": "bond",
        "setting": "set",
        "mixing": "mix",
    },
    timer=_words("timer"),
    singular={"timers": "timer"},
    every=_words("all every"),
    dropped=ARTICLES | HESITATIONS,
    skipped=_words("please now thanks okay ok and so can you could is"),
)

TIMER_REPLIES = TimerReplies(
    none_running="No timer is running.",
    one_running="No {name} timer is running.",
    stopped="{names} stopped.",
    started="{name}: {seconds:g} seconds, the time set by the clinic.",
    left="{name}: {seconds:.0f} seconds left.",
    over="{name}: time is up.",
    which="Which timer: {first} or {last}? Say its full name.",
    which_of_all="Which timer? Say its name, such as “start the etch timer”.",
    known="Times are set for: {names}.",
    no_time="No time is set for {name}. First set the maker's time for the material in use; none is "
    "built in.",
    cautions={
        "etch": "On dentine at most about 15 seconds; have the suction ready before the rinse.",
        "etch sealant": "On uncut enamel often 15 to 30 seconds; have the suction ready before the rinse.",
        "etch enamel": "Have the suction ready before the rinse.",
        "cure": "Do not look into the beam; hold the orange shield in front of the eyes.",
        "topical anaesthetic": "Dry the tissue first.",
    },
)

RETURNS = ReturnWords(
    forms={
        "returned": (
            "N back",
            "N returned",
            "N came back",
            "N has come back",
            "N coming back",
            "N back on tray",
            "N on tray again",
            "got N back",
            "take N back",
            "taking N back",
            "took N back",
            "put N back",
            "can have N back",
            "heres N back",
            "here N back",
            "done with N",
            "im done with N",
            "finished with N",
            "im finished with N",
            "put away N",
            "put N away",
            "take away N",
            "take N away",
        ),
        "dropped": (
            "dropped N",
            "N dropped",
            "N fell",
            "N fell down",
            "N fell on floor",
            "N fell off tray",
            "N fell off",
            "N fallen",
            "N on floor",
            "N hit floor",
            "N touched floor",
            "N contaminated",
            "contaminated N",
        ),
        "wiped": ("wiped N", "N wiped", "wiped N off", "N wiped off", "wiped off N"),
        "used_up": (
            "N empty",
            "N used up",
            "used up N",
            "used N up",
            "N all gone",
            "N ran out",
            "that last N",
            "that was last N",
            "threw away N",
            "threw N away",
            "threw out N",
            "emptied N",
        ),
        "in_mouth": ("N in", "N on", "N in place", "N in mouth", "placed N", "N placed"),
        "out_of_mouth": (
            "N out",
            "N off",
            "N out of mouth",
            "took N out",
            "taking N out",
            "took N off",
            "taking N off",
            "N removed",
            "removed N",
        ),
        "broken": (
            "N broke",
            "N broken",
            "broke N",
            "N snapped",
            "snapped N",
            "N tore",
            "N torn",
            "tore N",
            "N ripped",
            "N cracked",
            "N split",
            "N fractured",
            "N came apart",
            "N in 2",
            "N in 2 pieces",
            "N in pieces",
        ),
        "short": (
            "were short N",
            "we are short N",
            "im short N",
            "were missing N",
            "we are missing N",
            "im missing N",
            "missing N",
            "N missing",
            "N gone missing",
            "lost N",
            "N lost",
        ),
        "added": (
            "add N to tray",
            "added N",
            "added N to tray",
            "N added",
            "N added to tray",
            "put N on tray",
            "opened N",
            "brought N",
            "replaced N",
            "N replaced",
            "new N on tray",
            "sterile N on tray",
            "fresh N on tray",
        ),
        "passed": ("passed N", "N passed", "handed over N", "gave her N", "gave him N", "doctor has N"),
    },
    all_of=("out of N", "ran out of N", "run out of N", "all out of N"),
    alone={"wiped": ("wiped [off]",), "used_up": ("used up",), "dropped": ("dropped",)},
    undo=("undo [that]", "undo last one", "scratch that"),
    please=("N please",),
    orders=_words("take put add undo"),
    pointers=("it", "that|this [one]", "them|those|these"),
    joiners=_words("and"),
    dropped=ARTICLES - _words("my your"),
    articles=frozenset(),
    endings=_words("now already again thanks sorry okay ok"),
    openers=HESITATIONS
    | _words("now already again thanks sorry okay ok oh oops ah so well and then alright yes yeah"),
    contracted={"its": "it", "thats": "that", "thatll": "that", "theyre": "them"},
    subjects=_words("i ive we weve were he hes she shes they you youve just have already"),
    auxiliaries=_words("is are has have was were just got been all now"),
    questions=_words(
        "is are did does do was has can could where who when what why how if should will would wheres whos"
    ),
    not_here=_words(
        "not isnt arent never no hasnt havent didnt dont wont wasnt cant yet unless until almost nearly my "
        "your his need want get give hand pass bring please ill id lets can could may"
    ),
    every=_words("all both"),
    more=_words("more another new fresh sterile spare extra"),
    more_after=frozenset(),
    misheard=("back", "fell", "dropped", "wiped"),
    as_written=_words("bad"),
    wipe="wipe",
    wipe_it="wipe it",
    wipe_one="wipe the {}",
)

CHOICES = ChoiceWords(
    places={
        "1": ("first|1st|1|won|left|top",),
        "2": ("second|2nd|2|two|too",),
        "3": ("third|3rd|3|three",),
        "last": ("last",),
        "middle": ("middle",),
        "right": ("right",),
    },
    one=("[number|option|choice] one",),
    frame=_words("the one number option choice please that thats its take um uh"),
    yes=_phrases(
        "yes, yeah, yep, yes please, correct, right, thats right, that is right, thats correct, confirmed, "
        "confirm, read back, label read, label read back, checked"
    ),
    none=_phrases(
        "none, neither, none of these, none of those, none of them, neither one, no, nope, never mind, "
        "nevermind, cancel, forget it, not those, no neither"
    ),
)

# --- answers in a drill (listen.practice.answers) -----------------------------------------------------------

ANSWERS = AnswerWords(
    hesitations=_phrases(
        "um, uh, er, erm, hm, hmm, oh, ah, well, so, okay, let me see, let's see, let me think"
    ),
    frames=_phrases(
        "it's, it is, that's, that is, this is, they're, that would be, that'd be, it would be, it'd be, "
        "that's called, it's called, the answer is, you mean, i'd say, i would say, i'd say it's, i'd say "
        "that's"
    ),
    hedges=_phrases(
        "i think, i think it's, i think that's, i think that is, i think it is, i think that would be, i "
        "guess, i guess it's, i guess that's, i believe it's, i believe that's, is it, is that, would that "
        "be, maybe, maybe it's, perhaps, perhaps it's, probably, it's probably, that's probably, it might "
        "be, it could be"
    ),
    usual=("it's", "that's", "that would be"),
    placed=("it's",),
    articles=("the", "a", "an"),
    places=("in", "in the", "in slot", "in the slot", "slot"),
    about=("about",),
    doubts=_phrases("i think, i guess, maybe, or not, i believe"),
    endings=("please",),
    unknown=_phrases(
        "i don't know, don't know, i do not know, i don't remember, i can't remember, i forgot, i have no "
        "idea, no idea, not sure, i'm not sure, tell me, skip it, nothing, help"
    ),
    repeat=_phrases(
        "repeat, repeat that, please repeat, say that again, say it again, say again, can you say that "
        "again, can you repeat that, could you repeat that, what was that, one more time, once more, pardon, "
        "again please"
    ),
    please=("please",),
    between=_phrases("in, in slot, slot, goes in, goes in slot, on, at, to, into"),
    doubtful=_phrases(
        "i think, i guess, guess, guessing, a guess, maybe, perhaps, probably, might be, could be, could "
        "it be, might that be, would it be, would that be, would she want, would he want, is it, is this "
        "the, is that the, isn't that, isn't it, shouldn't there, not sure, not so sure, not entirely, not "
        "certain, not totally, not a hundred percent, don't know, dunno, do not know, suppose, reckon, "
        "don't quote me, as far as i know, or am i wrong, i'm wrong, be wrong, probably wrong, or not, or "
        "something, something like, torn, if i've got that right, if i remember, pretty sure, fairly sure, "
        "a stab, in the dark, how do you say, want to say, would know, i believe, must be roughly, "
        "roughly, somewhere around, no idea, no clue"
    ),
    at_a_loss=_phrases(
        "no idea, not idea, have idea, no clue, a clue, the faintest, the foggiest, don't know, do not "
        "know, not know, didn't know, never knew, dunno, don't remember, do not remember, can't remember, "
        "cannot remember, can't recall, don't recall, forgot, forget, forgotten, slipped my mind, my mind, "
        "mind went, gone blank, went blank, a blank, brain, brains, can't think, not coming, won't come, "
        "doesn't come, on the tip, isn't coming, pass, skip, skip it, next one, next question, something "
        "else, give up, i'm out, i'm lost, lost me, lost, stumped, beats me, got me there, you got me, "
        "you've got me, good as mine, got nothing, have nothing, couldn't tell you, couldn't say, can't "
        "say, can't tell, tell me, just tell, show me the answer, the answer please, what is it, a hint, "
        "phone a friend, not sure, rather not, don't want to, never had, never heard, never seen, never "
        "learned, didn't learn, did not learn, haven't learned, not learn, haven't had, no answer, don't "
        "have the answer, do not have the answer, not have the answer, i don't, gone now"
    ),
    once_more=_phrases(
        "repeat, again, one more time, once more, one more go, rewind, come again, more slowly, slowly, "
        "slower, louder, pardon, what was that, what was it, what was the question, what's the question, "
        "what is the question, the question, which one did you, what did you, you ask for, you ask, did "
        "you say, did you ask, what you say, say what, missed that, missed it, didn't hear, did not hear, "
        "couldn't hear, can't hear, didn't catch, did not catch, didn't get that, did not get that, didn't "
        "understand, did not understand, don't understand, wasn't listening, wasn't paying attention, "
        "excuse me i"
    ),
    denied=_phrases(
        "not, isn't, is not, wasn't, was not, aren't, can't be, cannot be, never, don't think it's, don't "
        "think that's, don't think it is, doubt it's"
    ),
    landmarks=_phrases(
        "next to, beside, besides, near, behind, in front of, opposite, left of, right of, right after, "
        "after, before, between, from, instead of, rather than, unlike, than, where"
    ),
    joining=("or", "or maybe", "or else", "or is it", "or it's", "and", "and then"),
    taken_back=_phrases(
        "no, wait, hang on, hold on, i mean, i meant, or rather, make that, scratch that, that's wrong, "
        "actually"
    ),
    assured=_phrases(
        "no doubt, no question, no problem, no worries, no way, no idea, no clue, no other, no more"
    ),
    one="one",
    before_one=_words(
        "the that this these those which other another last first second third next same right wrong any "
        "every each no some small big long short little such what my your her his a"
    ),
    after_one=_words("of next beside with by near that which moment second minute more go"),
    units={
        "mm": "millimetre",
        "millimeter": "millimetre",
        "micrometer": "micrometre",
        "micron": "micrometre",
        "s": "second",
        "sec": "second",
        "%": "percent",
    },
    unit_words=_words("millimetre micrometre second percent degree turn minute"),
    small_words=_words("the a an in about around roughly of is it up usually some for per"),
    spelled={"%": "percent", "rpm": "turns a minute"},
    thousands=",",
    thousand="thousand",
    joined=AND,
    to="to",
)

COUNTS = CountWords(
    whole=_phrases("complete, completed, all here, all there, all present, all in place"),
    but=_phrases(
        "but not, except for, apart from, but, except, without, minus, only, missing, short of, short"
    ),
    gone=_phrases("not here, not there, missing, short, gone, less, fewer, lost, out"),
    joiners=_words("and"),
    dropped=_words("the a an is are its it was were all okay ok so now we um uh with please of still just"),
    kit="kit",
)

# --- typed requests (vocab.requests.typed_request) ---------------------------------------------------------

TYPED = TypedWords(
    short={
        "pls": "please", "plz": "please", "thx": "thanks", "ty": "thank you", "w/": "with", "&": "and",
        "lemme": "let me", "thru": "through", "cuz": "because", "em": "them",
    },
    openings={"need": "i need", "want": "i want"},
    orders=_words("hang pull swing blow start fetch toss throw slide pop bring grab snap roll"),
    articles=ARTICLES | {"that"},
    behind=_words(
        "for to so because cause since while going gonna im i'm we're there's it's on in at from "
        "when if right"
    ),
    purpose=_words("for to that that'll that's which"),
    so=("so",),
    joining=_words("and plus also then or"),
    telling=_words(
        "is was are were has have had does did do goes go went which who whose comes came stays stay "
        "can could "
        "will would should isn't wasn't aren't weren't doesn't didn't looks feels needs broke fell"
    ),
    denials=_words(
        "no not never none don't dont didn't doesn't won't can't isn't aren't wasn't without nobody nothing "
        "yesterday nevermind"
    ),
    small=_words(
        "i me you he she we they it its it's that's this that these those here there who what where which no "
        "not less put one two come get on off of is was are be been has have had do did do would "
        "will can could "
        "and or but with"
    ),
    vague=_words("something thing things thingy stuff whatever whatsit gadget gizmo whatchamacallit"),
    after_vague=_words("for to that that'll that's which with you we i people from of off in on over at"),
)  # fmt: skip

TABLES = Tables(TIMERS, TIMER_REPLIES, RETURNS, CHOICES, ANSWERS, COUNTS, TYPED)
