"""One file per board; each offers the same functions and the same class `Board`."""
