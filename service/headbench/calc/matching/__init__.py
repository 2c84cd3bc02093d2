"""Matching: which spring goes where, and on which shims, so that loads are alike.

| name | symbol | SI | meaning |
|---|---|---|---|
| pocket | p | - | a position that a spring is looked for: its height without shims, its lift, what is wanted there |
| choice | (p, s, t) | - | one spring in one pocket on one stack of shims, which passes everything that is asked |
| deviation | d | N | how far the load of a choice is from the load wanted, either way |
| worst | - | N | the largest deviation of all positions |
| spread | - | N | largest less smallest load of the valves of one kind |
| height window | w | m | how far a spring may stand from its target height so that its load is right |
| left empty | - | - | positions that no spring is left for |
"""
