"""Every sentence a beekeeper reads, apart from the decisions, one file a subject; all pass `words.say`."""
