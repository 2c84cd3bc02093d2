"""Movement: how far head, deck and valves go when metal comes off."""
