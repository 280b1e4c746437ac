"""How the dentist of a rehearsal talks in English, and what the trainee is told."""

from __future__ import annotations

from listen.practice.choices import FETCH
from listen.practice.rehearsal.lines import NAME, Lines
from listen.practice.rehearsal.outcomes import Came, Where
from listen.practice.rehearsal.wordings import Wordings
from vocab.pack.schema import Pack

_ASKS = frozenset(("can", "could", "may", "would"))


def _plain(pack: Pack) -> tuple[str, ...]:
    """The pack's own openers that end in "the", as sentences; and the name alone."""
    asked = [f"{NAME}, please.", f"{NAME}."]
    for cue in pack.speech.cues:
        if cue.endswith(" the"):
            text = cue.replace("i ", "I ", 1) if cue.startswith("i ") else cue.replace(" i ", " I ")
            ends = "?" if cue.split()[0] in _ASKS else "."
            asked.append(f"{text[:1].upper()}{text[1:]} {NAME}{ends}")
    return tuple(asked)


LINES = Lines(
    plain=_plain,
    everyday=(
        "Right, I'm ready for the {} now.",
        "Okay, on to the {}, if you would.",
        "I could do with the {} about now.",
        "Would you find me the {}, please?",
        "Good. So, the {} to me.",
        "Whenever you're set, slide me the {}.",
        "That'll do, thanks. The {} next, please.",
        "Have you got the {} handy for me?",
        "Nearly there, just the {} now.",
        "Sorry, would you reach me the {}?",
        "So what I want here, I think, would be the {}.",
    ),
    everyday_of_tools=(
        "And now I'd like the {} in my right hand.",
        "Could you swap this for the {}, please?",
        "Let me try that with the {}.",
        "Hmm, I'll go in with the {} this time.",
        "I want to go over this once with the {}.",
    ),
    passing=(
        "Looks dry enough to me, so let's carry on. The {}, please.",
        "A bit wider for me, that's lovely, and I'll have the {}.",
        "Tilt your chin up a little for me. Thank you. Could I get the {}?",
        "We're about halfway, you're doing really well. Then the {}, please.",
        "Hold the suction right there, that's perfect, and the {} with your free hand.",
        "Yes, I'll ring them back at lunch, not now. Where were we? The {}, please.",
        "Mind the cheek there. Good. I'd better have the {} for this bit.",
        "That's come up nicely, hasn't it? All right, the {} and then we can move on.",
        "Stay just like that for me. While I've got a clear view, pass the {}.",
    ),
    passing_of_tools=(
        "There's a rough spot on this side, do you see it? I'll take the {} to that.",
        "I don't like how that margin feels, so give me the {} and we'll tidy it up.",
        "It's the back corner I can't quite get at, so I'll need the {}.",
    ),
    chatter=(
        "You're doing very well, we're nearly through the worst of it.",
        "Did they ever fix the heating in room two?",
        "I was stuck behind a tractor the whole way in this morning.",
        "Let me know if anything feels sharp, just lift your hand.",
        "Remind me to ring the lab before they close.",
        "Has the half past three arrived yet, do you know?",
        "It's always this one corner that takes the time.",
        "My niece is getting married in June, somewhere up by the lakes.",
        "That's a lovely clean surface, look at that.",
        "Is that light in your eyes? Sorry, I'll move it.",
        "Somebody's parked across the ambulance bay again.",
        "We'll give it a few seconds and then have another look.",
        "I should have brought a sandwich, I'm starving.",
        "Breathe through your nose for me, nice and slow.",
        "No, it's fine, carry on, I was only thinking aloud.",
    ),
    mentions=(
        "The price they want for the {} these days, honestly.",
        "I trained with somebody who never once cleaned the {} properly.",
        "Last Tuesday we couldn't find the {} for ten minutes.",
        "The {} went back to the workshop twice before they got it right.",
        "When I was a student I was terrified of the {}.",
        "Kim was telling me the {} came in a new box this time.",
        "You'll read about the {} in chapter six, but nobody explains it well.",
    ),
    corrections=(
        "No, sorry, the other one. The {}.",
        "Not that. I meant the {}.",
        "Wait, no. The {}, please.",
        "Actually, leave that, make it the {}.",
        "Oh, no, I need the {} first.",
    ),
    drops=(
        "Oh, I've dropped it. Give me another, please.",
        "Sorry, that's gone on the floor. Another one, please.",
        "Butterfingers. It's on the floor, I need another.",
        "That slipped right out of my glove. Can I have another one?",
    ),
    backs=(
        "Here, take the {} back, please.",
        "I'm done with the {}, you can have it back.",
        "Would you take the {} off me?",
        "That's me finished with the {}, put it away, please.",
    ),
    keeps=(
        "I'll hang on to the {}, I want it in my other hand.",
        "I'm keeping the {} with me for now.",
        "I want the {} to stay in my left hand, don't wait for it.",
    ),
    stays=(
        "Right, I'm leaving the {} in the mouth for now.",
        "Let's leave the {} in, remember that one.",
        "I want the {} to stay in the mouth until I say.",
    ),
    taken_out=(
        "I've got the {} out of the mouth.",
        "Out comes the {}. That one's back with you.",
    ),
)

WORDINGS = Wordings(
    item="the {}",
    called="the {} (the {usual})",
    at="{name}, {places}",
    met="{where}: right",
    met_in="{where}: right, {seconds} s",
    slow="{where}: not within {seconds} s",
    instead="{where}, not {other}.",
    no_other="{name} fell and the tray has no other: {fetch}",
    left="Nothing was asked for, and you left it alone.",
    alarm="Nothing was asked for. “{said}”",
    taken_back="Taken back before you could have passed it.",
    unheard="This could not be spoken, so it does not count.",
    fetch=FETCH,
    listen="Listen.",
    unclear="That was not clear. Give the slot again.",
    once_more="Say again",
    fetch_one="Fetch a sterile one",
    type_slot="or type the slot",
    place="A slot’s number or place",
    enter="Pass",
    not_heard="",
    count="The count: where is it now?",
    count_note=(
        "From what you heard; what was passed came back with the next request unless you heard otherwise. "
        "At a chair everything is counted by hand; local rules and the person responsible decide."
    ),
    done="Done",
    places={where: where.value for where in Where},
    how=(
        "Type the slot (“7”, “bur kit 3”) or the name, and Enter. “back”: it is given back. “fetch”: a "
        "sterile one from outside the tray. “again”: say it once more. “end”: stop here. To "
        "talk, answer nothing."
    ),
    back=("back", "put back", "put it back", "take it back", "it's back"),
    fetched=("fetch", "fetch it", "fetch one", "fetch another", "sterile", "fetch a sterile one"),
    end=("end", "stop", "quit"),
    came={came: came.value for came in Came} | {Came.TAKEN_BACK: "taken back in time"},
    of="{some} of {all}",
    alarms="false alarms",
    half_within="half of the right ones within",
    the_count="the count",
    and_one=", and one ",
    you_said="{where}; you said {answered}",
    nothing="nothing",
    nothing_to_count="Nothing was to be counted.",
    line_by_line="Line by line",
    course="How long each request waited, over time; the list below says the same",
    course_note=(
        "The whole of it from left to right: the higher, the longer you took. The dashed line across is a "
        "hesitation of {slow} s; the other colour was wrong or too slow, dotted down is a false alarm."
    ),
    bar_note=(
        "The bar is how long you took from the end of the line; the whole width is {longest} s, and the mark "
        "your usual time. From {slow} s on it counts as a hesitation."
    ),
    hesitated="hesitated",
    asked_again="asked again",
    to_remember="to be remembered",
)
