"""Published values that ship with the program, for the check of an installation."""
