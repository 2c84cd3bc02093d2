"""Computing: the processes that work out what is asked, so that the one that serves connections only moves bytes."""
