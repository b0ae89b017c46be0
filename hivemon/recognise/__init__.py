"""What other people's devices and files mean: quantities from names, units from ranges, said with how sure and why.

Pure functions for `hivemon setup` and `hivemon import`. Nothing here decides: it proposes, and a person says yes.
"""
