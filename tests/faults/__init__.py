"""What a shop survives: killed servers, a killed database, a full disk, tablets that send everything again.

``make faults`` starts the server as a shop does, lets ten tablets tap over HTTP and breaks things. Every tap that was
answered has to be on record, once and whole; none may be there by half; every chain has to hold.
"""
