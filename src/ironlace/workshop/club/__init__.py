"""A survey that a club keeps together in a database of its own; see decision 0053.

`ledger` is the club's database: a list of changes that only grows, and a tray of what was sent in.
`exchange` sends what a workshop has to tell and takes in what is new there. All that is computed is
computed at home, on the workshop's own survey or on the table that `counts` draws from the ledger.
"""
