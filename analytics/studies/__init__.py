"""One file per question a breeder asks; the only place where store and numbers meet."""
