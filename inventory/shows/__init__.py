"""Shows and fairs: what is taken, and what comes back."""
