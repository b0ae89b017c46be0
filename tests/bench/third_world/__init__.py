"""A third maker of hive recordings with truth, for scoring what was never developed on.

It was written without sight of how the program infers and of the other two makers (`sample_streams`, `other_world`),
and shares with them only the form of the files. Colonies live by the day, weather and weights run on one grid of 5
minutes (1 where the scale is read each minute). Published figures are named beside the numbers, with "from memory"
where they were not looked up; the others are this package's guesses at what yards look like. It needs numpy alone.

`season.make(family, seed, folder)` writes `readings.csv.gz`, `logbook.csv`, `hivemon.toml` and `truth.json`.

The order of the story: `places` (the words a family is made of), `families`, `sky` (time, sun, weather), `bees`
(colonies and their fates), `day` (bees out, nectar in), `keeper` (visits and the logbook), `mishaps` (robbing and
worse), `elements` (rain and snow), `nest`, `scale`, `yard_truth` and `brood_truth`, `folder` (the files), `season` (all
of that together).

Short names mean the same in every file: `g` the grid, `w` the weather, `c` the colonies, `n` the nests; `h` is the
number of a hive, `d` of a hive day, `at` and `stop` are grid steps, and every draw comes from the one `rng` of the
season.
"""
