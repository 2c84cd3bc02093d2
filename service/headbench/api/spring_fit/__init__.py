"""Spring fit: the gaps around the springs of a valve, from pocket to seal."""
