"""How the dentist of a rehearsal talks: requests, corrections, what falls or goes back, and talk that asks
nothing.

Sentences with braces for a name come out; whoever fills them takes care that "the" fits before it. They were
written for this, and stand in none of the sets by which hearing is measured (a test looks). English only: a
pack in another language has no rehearsal yet.
"""

from __future__ import annotations

from enum import StrEnum

from vocab.pack.schema import Pack

LANGUAGE = "en"
NAME = "{}"


class Manner(StrEnum):
    """How a request is worded: PLAIN in the pack's own words ("hand me the ..."), EVERYDAY in a sentence of
    one's own, PASSING in the middle of other talk."""

    PLAIN = "plain"
    EVERYDAY = "everyday"
    PASSING = "passing"


EVERYDAY = (
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
)
EVERYDAY_OF_TOOLS = (
    "And now I'd like the {} in my right hand.",
    "Could you swap this for the {}, please?",
    "Let me try that with the {}.",
    "Hmm, I'll go in with the {} this time.",
    "I want to go over this once with the {}.",
)
PASSING = (
    "Looks dry enough to me, so let's carry on. The {}, please.",
    "A bit wider for me, that's lovely, and I'll have the {}.",
    "Tilt your chin up a little for me. Thank you. Could I get the {}?",
    "We're about halfway, you're doing really well. Then the {}, please.",
    "Hold the suction right there, that's perfect, and the {} with your free hand.",
    "Yes, I'll ring them back at lunch, not now. Where were we? The {}, please.",
    "Mind the cheek there. Good. I'd better have the {} for this bit.",
    "That's come up nicely, hasn't it? All right, the {} and then we can move on.",
    "Stay just like that for me. While I've got a clear view, pass the {}.",
)
PASSING_OF_TOOLS = (
    "There's a rough spot on this side, do you see it? I'll take the {} to that.",
    "I don't like how that margin feels, so give me the {} and we'll tidy it up.",
    "It's the back corner I can't quite get at, so I'll need the {}.",
)
_WORDED = {
    Manner.EVERYDAY: (EVERYDAY, EVERYDAY_OF_TOOLS),
    Manner.PASSING: (PASSING, PASSING_OF_TOOLS),
}

CHATTER = (
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
)
MENTIONS = (
    "The price they want for the {} these days, honestly.",
    "I trained with somebody who never once cleaned the {} properly.",
    "Last Tuesday we couldn't find the {} for ten minutes.",
    "The {} went back to the workshop twice before they got it right.",
    "When I was a student I was terrified of the {}.",
    "Don't worry about the {}, I've finished with that for today.",
    "Kim was telling me the {} came in a new box this time.",
    "You'll read about the {} in chapter six, but nobody explains it well.",
)
"""Talk that names an instrument and asks for nothing."""
CORRECTIONS = (
    "No, sorry, the other one. The {}.",
    "Not that. I meant the {}.",
    "Wait, no. The {}, please.",
    "Actually, leave that, make it the {}.",
    "Oh, no, I need the {} first.",
)
DROPS = (
    "Oh, I've dropped it. Give me another, please.",
    "Sorry, that's gone on the floor. Another one, please.",
    "Butterfingers. It's on the floor, I need another.",
    "That slipped right out of my glove. Can I have another one?",
)
BACKS = (
    "Here, take the {} back, please.",
    "I'm done with the {}, you can have it back.",
    "Would you take the {} off me?",
    "That's me finished with the {}, put it away, please.",
)
KEEPS = (
    "I'll hang on to the {}, I want it in my other hand.",
    "I'm keeping the {} with me for now.",
    "I want the {} to stay in my left hand, don't wait for it.",
)
STAYS = (
    "Right, I'm leaving the {} in the mouth for now.",
    "Let's leave the {} in, remember that one.",
    "I want the {} to stay in the mouth until I say.",
)
TAKEN_OUT = (
    "I've got the {} out of the mouth.",
    "Out comes the {}. That one's back with you.",
)


def every_line() -> tuple[str, ...]:
    """All sentences, the pack's own ways of asking apart."""
    asked = (EVERYDAY, EVERYDAY_OF_TOOLS, PASSING, PASSING_OF_TOOLS)
    some = (*asked, CHATTER, MENTIONS, CORRECTIONS, DROPS, BACKS, KEEPS, STAYS, TAKEN_OUT)
    return tuple(line for lines in some for line in lines)


def requests(manner: Manner, tool: bool, pack: Pack) -> tuple[str, ...]:
    """The sentences of a manner that fit an instrument (`tool`) or anything else."""
    if manner is Manner.PLAIN:
        return tuple(_plain(pack))
    any_item, of_tools = _WORDED[manner]
    return (*any_item, *of_tools) if tool else any_item


def _plain(pack: Pack) -> list[str]:
    """The pack's own openers that end in "the", as sentences; and the name alone."""
    asked = [f"{NAME}, please.", f"{NAME}."]
    for cue in pack.speech.cues:
        if cue.endswith(" the"):
            text = cue.replace("i ", "I ", 1) if cue.startswith("i ") else cue.replace(" i ", " I ")
            ends = "?" if cue.split()[0] in _ASKS else "."
            asked.append(f"{text[:1].upper()}{text[1:]} {NAME}{ends}")
    return asked


_ASKS = frozenset(("can", "could", "may", "would"))
