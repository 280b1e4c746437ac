"""Commands about what practice teaches and how typed or spoken answers and requests are judged."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from listen.bench.commands.common import (
    JobsOption,
    KeepOption,
    LevelsOption,
    VocabularyOption,
    app,
    keep_counts,
    levels_db,
)
from listen.speech.voices import Side
from vocab.errors import TraycallError
from vocab.pack.load import open_pack

MOST_SIMULATED = 200
"""Trainees of a simulated class."""


@app.command()
def prediction(
    context: typer.Context,
    seed: Annotated[int, typer.Option(min=0, help="Of the dentists and their days.")] = 2024,
    teachers: Annotated[int, typer.Option(min=1, help="Other dentists of the clinic.")] = 12,
    held_out: Annotated[int, typer.Option(min=1, help="Dentists that are scored.")] = 6,
    lessons: Annotated[int, typer.Option(min=1, help="Sessions of each teacher and procedure.")] = 3,
    earlier: Annotated[str, typer.Option(metavar="N,N", help="Own sessions seen before.")] = "0,1,3,5,10",
    unruly: Annotated[
        float, typer.Option(min=0.0, help="Days so many times as unruly; 0 plays each dentist's script.")
    ] = 1.0,
    watched: Annotated[
        int, typer.Option(min=0, help="Sessions seen by who watched the scored dentist; 0: leave it out.")
    ] = 0,
    step_time: Annotated[
        bool, typer.Option("--step-time", help="Time a step with 500 items and 20 procedures instead.")
    ] = False,
    pack: VocabularyOption = "operative",
    keep_as: KeepOption = None,
) -> None:
    """Measure next-item predictions against baselines on simulated dentists (about a minute)."""
    import time

    import numpy as np

    from listen.bench.prediction import as_text, compare, counts
    from listen.bench.simulated_dentists import COMMON
    from listen.bench.vocabulary_size import big_pack, step_times_s

    rng = np.random.default_rng(seed)
    if step_time:
        big = big_pack(rng)
        times_s = step_times_s(big, rng, time.perf_counter)
        print(
            f"{len(big.items)} items, {len(big.procedures)} procedures, seed {seed}, {len(times_s)} steps: "
            f"update and prediction take {1e3 * float(np.median(times_s)):.2f} ms (median), "
            f"{1e3 * float(np.quantile(times_s, 0.95)):.2f} ms (95 % of steps below)"
        )
        return
    try:
        sessions = tuple(int(part) for part in earlier.split(","))
    except ValueError:
        raise TraycallError(f"--earlier takes numbers such as 0,3,10, not {earlier!r}.") from None
    if min(sessions) < 0:
        raise TraycallError("--earlier takes numbers from 0.")
    whims = COMMON.of_a_day(unruly)
    scores = compare(open_pack(pack), rng, whims, teachers, held_out, lessons, sessions, watched)
    print(
        f"Pack {pack}, seed {seed}: {held_out} dentists held out, {teachers} others taught {lessons} times, "
        f"days {unruly:g} times as unruly as usual."
    )
    print(as_text(scores))
    keep_counts(context, keep_as, counts(scores), engine="none takes part")


@app.command("class")
def simulated_class(
    context: typer.Context,
    procedure: Annotated[
        str,
        typer.Option("--procedure", metavar="ID", help='What is practised; "all" for the whole field.'),
    ] = "composite_class_two",
    minutes: Annotated[
        list[float] | None,
        typer.Option(min=1, max=120, help="Minutes a day; may be given again. [default: 10]"),
    ] = None,
    weeks: Annotated[int, typer.Option(min=1, max=52, help="So many weeks of five days.")] = 2,
    trainees: Annotated[int, typer.Option(min=2, max=MOST_SIMULATED, help="How many.")] = 20,
    decay: Annotated[float, typer.Option(min=0.05, max=1.0, help="How fast they forget.")] = 0.177,
    seed: Annotated[int, typer.Option(min=0, help="Draw the same class again.")] = 0,
    keep_as: KeepOption = None,
    pack: VocabularyOption = "operative",
) -> None:
    """Does practice teach? Simulated trainees practise five days a week, with a test 30 days later: topics
    scheduled, as today's practice offers them, in fixed rotation, in random order, in a weekly quiz."""

    from listen.bench import simulated_class as simulated
    from listen.practice.facts import facts_beside

    loaded = open_pack(pack)
    topics, course, use = simulated.single_topics(
        loaded, facts_beside(pack, loaded), None if procedure == "all" else procedure
    )
    found = {}
    for each in minutes or [10.0]:
        plan = simulated.ClassPlan.of_weeks(weeks, each, trainees)
        results = simulated.simulate(topics, course, use, plan, seed, simulated.Memory(decay=decay))
        found[f"{each:g}"] = simulated.counts(results, len(topics), seed)
        print(f"{each:g} minutes a day\n{simulated.table(results, len(topics), seed)}")
    keep_counts(
        context, keep_as, {"weeks": weeks, "trainees": trainees, "minutes": found}, engine="none takes part"
    )


@app.command()
def judge(
    context: typer.Context,
    side: Annotated[Side | None, typer.Option(help="Whose voices. [default: test; tune with --fit]")] = None,
    answers: Annotated[int, typer.Option(min=1, help="How many.")] = 1000,
    seed: Annotated[int, typer.Option(min=0, help="Draw the same answers again.")] = 5,
    speaker: Annotated[str | None, typer.Option(metavar="NAME", help="Only this person's voices.")] = None,
    adapter: Annotated[
        Path | None,
        typer.Option(help="Hear with this one; for --fit one taught without the speaker."),
    ] = None,
    natural: Annotated[bool, typer.Option("--natural", help="In people's own words.")] = False,
    typed: Annotated[bool, typer.Option("--typed", help="The same, typed instead of said.")] = False,
    levels: LevelsOption = "quiet,20,10",
    turns: Annotated[int, typer.Option(min=1, help="How often each natural way, with other names.")] = 1,
    jobs: JobsOption = 1,
    fit: Annotated[bool, typer.Option("--fit", help="Fit the weights, on tuning voices only.")] = False,
    write: Annotated[Path, typer.Option(help="With --fit: where to.")] = Path("judge.json"),
    mistakes: Annotated[bool, typer.Option("--mistakes", help="List what was not judged fairly.")] = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Speech and hearings.")] = Path("bench_answers"),
) -> None:
    """Measure how spoken practice answers are judged, on synthesized voices; with --fit, fit the judge.

    With --natural every way of people's own words is said right and wrong, at the levels in turn; or typed.
    """
    from listen.bench import judge as judging
    from listen.bench import judge_fit

    if fit and keep_as:
        raise TraycallError("--keep is for what is measured on test voices; leave --fit or --keep out")
    if fit and side == "test":
        raise TraycallError("nothing is fitted on test voices; leave --side out")
    whose: Side = side or ("tune" if fit else "test")
    if typed:
        marked = judging.typed(whose, turns)
        print(judging.report(marked))
        if mistakes:
            print(judging.mistakes(marked))
        keep_counts(context, keep_as, judging.counts(marked), engine="none takes part")
        return
    if natural:
        heard = judging.heard_naturally(whose, levels_db(levels), turns, adapter, jobs, out)
    else:
        heard = judging.heard(whose, answers, seed, speaker, adapter, jobs, out)
    if fit:
        print(judge_fit.write(judge_fit.fit(heard), heard, write))
    else:
        marked = judging.judged(heard)
        print(judging.report(marked))
        if mistakes:
            print(judging.mistakes(marked))
        if natural:
            settled = judging.once_more(marked, whose, adapter, jobs, out)
            print(f"\nwhat was asked again, said once more:\n{judging.report(settled)}")
            after = judging.counts(settled)
            keep_counts(context, keep_as, {**judging.counts_by_part(marked), "once more": after})
        else:
            keep_counts(context, keep_as, judging.counts(marked))


@app.command()
def trial(
    context: typer.Context,
    field: Annotated[list[str] | None, typer.Option(metavar="ID", help="Only these fields.")] = None,
    missed: Annotated[bool, typer.Option("--missed", help="List what went wrong or was missed.")] = False,
    unseen: Annotated[
        bool, typer.Option("--unseen", help="The second set of requests, at which no rule was made.")
    ] = False,
    keep_as: KeepOption = None,
) -> None:
    """Type each field's trial requests into sessions that know all fields (half a minute)."""
    from listen.bench import trial as typed

    of: typed.Set = "unseen" if unseen else "first"
    known = typed.fields(of)
    for wanted in field or ():
        if wanted not in known:
            raise TraycallError(f"there is no trial of {wanted!r}; there are: {', '.join(known)}.")
    sessions = typed.TrialSessions()
    tried = [sessions.tried(one) for name in field or known for one in typed.trials(name, of)]
    counts = typed.tally(tried)
    print(typed.as_text(counts))
    for one in tried if missed else ():
        if one.outcome in ("wrong", "missed", "asked"):
            wanted = " and ".join(" or ".join(sorted(ids)) for ids in one.trial.wanted) or "nothing"
            print(
                f"{one.outcome:7} {one.trial.field}: {one.trial.text!r} is {wanted}; {', '.join(one.items)}"
            )
    sized = {name: {**sessions.size(name), **of} for name, of in counts.items()}
    keep_counts(context, keep_as, sized, engine="none takes part")
