"""Train: rockers, lobes and lifts between cam and valve."""
