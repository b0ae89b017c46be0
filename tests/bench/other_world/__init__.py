"""A second maker of hive recordings with truth, for scoring what was never developed on.

It shares nothing with `sample_streams` but the form of the files. It counts bees: departures and returns are random
counts, scales have heavy-tailed noise, beekeepers are clumsy and loggers lose rows. Published figures are named beside
the numbers; the others are this package's guesses at what yards look like.

`season.make(family, seed, folder)` writes `readings.csv.gz`, `logbook.csv`, `hivemon.toml` and `truth.json`.

The order of the story: `clock`, `sky` (weather), `colony` (bees and brood by day), `forage` (bees out and nectar in),
`leaving` (swarms), `trouble` (robbing and worse), `keeper` (visits), `nest`, `lid`, `lived` (all of that together),
`scale`, `logger`, `measure` (what arrives), `yard_truth` and `hive_truth`, `families`, `season`.
"""
