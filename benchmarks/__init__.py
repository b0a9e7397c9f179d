"""Written benchmark protocols, runnable by anyone."""
