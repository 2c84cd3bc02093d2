"""Lash: shims between cam and valve of overhead-cam heads, dealt over the whole head.

| name | symbol | SI | meaning |
|---|---|---|---|
| lash shim | s | m | what sets the lash: on the bucket, under it, a pad, or on the tip under a finger |
| lash read, lash after | g | m | clearance read cold on the cam's base circle, and what it comes to with another shim |
| lash aimed at | g_0 | m | lash wanted inside its range: the middle, for exhaust valves toward the wide end |
| shim ratio | r | - | how far the shim's point moves for the lash where it is read: 1 direct, another under a finger |
| shim wanted | - | m | s + r (g - g_0) |
| move | - | - | one shim out and another in, in the order in which each is free when it is wanted |
"""
