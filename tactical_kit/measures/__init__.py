"""Numbers on a match: who has the ball, what a selection holds, networks, progression, pressure, defending.

Nothing here draws.  Build a `MatchIndex` once with `index_match`; every measure then takes
(index, selection) and answers in milliseconds.  Import from the modules: `measures.index`,
`measures.selection`, `measures.pass_network` and so on.
"""
