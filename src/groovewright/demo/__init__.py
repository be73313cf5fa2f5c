"""An invented workshop to look at: decks whose true state is known, and a job book that they fill.

Only `groovewright demo`, the tests and the benchmarks use it; a verdict never does.
"""
