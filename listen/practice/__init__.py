"""Practice: questions about a pack, answers judged by voice, text or touch, and what to ask when.

`topics` and `questions` make what is asked, `judging` decides on an answer, `schedule` and `session` say what
comes when, `store` keeps it (in `tables`, with a trainee's own code by `codes`) and counts it (`tallies`);
`progress`, `reports`, `matrix`, `ability` and `signoff` say what it amounts to.
"""
