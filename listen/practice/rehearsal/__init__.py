"""A rehearsal: a whole procedure, or a part of it, played as sound and answered in real time.

`lines` is how the dentist talks, `levels` how hard it is, `script` what will be said in which order,
`running` plays it and judges what the trainee does, `timeline` is what it came to, `sound` speaks, and
`seats` keeps those that are open.
"""
