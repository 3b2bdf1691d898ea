"""Birds and their forebears: pedigree, inbreeding, matings."""
