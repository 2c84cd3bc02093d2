"""Listening: sockets, processes, connections and logs of the service while it runs, and what of HTTP is theirs."""
