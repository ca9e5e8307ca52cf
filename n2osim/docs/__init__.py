"""Documentation that ships with the package, and the scripts that keep parts of it true."""
