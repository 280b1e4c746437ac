"""Practice: questions about a pack, answers judged by voice, text or touch, and what to ask when.

`knowledge` and `questions` make what is asked, `judging` decides on an answer, `schedule` and `session` say
what comes when, `store` keeps it, `progress`, `reports`, `ability` and `signoff` say what it amounts to.
"""
