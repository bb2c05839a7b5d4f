"""Who may come in from the shop's network: the passcode, the devices that have it, and what stops the rest.

Nothing of it is kept in the logbook: a copy of the book carries no secret, and a book that is put back locks
nobody out.
"""
