"""When to do what: finite capacity over working hours. Pure: no Django, no clock, no database."""
