"""From events to plain words: one module a decision, texts apart, everything pure.

`decide.advise(scene)` says what is wanted now; `lifecycle.reconcile(open, wanted, now)` turns that into advisories that
are raised once, updated in place and closed.
"""
