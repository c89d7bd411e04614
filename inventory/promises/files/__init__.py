"""Sign-ups and orders from files as shops give them out: columns told once, rows looked through, then taken in."""
