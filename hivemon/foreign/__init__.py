"""Other people's tables, CSV or spreadsheet, into readings: recognised, shown, asked about, and only then taken.

`sheet` reads cells, `figures` numbers and `dates` moments as people write them, `layout` finds what each column is,
`plan` puts it together with the questions that are left, and `convert` makes readings of it. Pure but for `sheet`.
"""
