"""Stems: how tall the valves' tips stand, and what makes them stand alike.

| name | symbol | SI | meaning |
|---|---|---|---|
| stem height | h | m | tip above the spring seat, or above the rail: the reading less its datum's |
| datum | - | m | reading of the spring seat or rail under one valve, where readings start from elsewhere |
| tip grind | x | m | what comes off a tip now; tip ground: what came off before |
| sink left | Y | m | how much deeper a valve may still sit, along its axis |
| seat cut | t | m | what comes off a seat square to its face: the sink times the cosine of the seat angle |
| window | - | m | where the new heights of one kind of valve lie, as wide as the spread wanted |
| retainer to tip | - | m | stem height less installed height, plus what was ground off: alike on valves of one set |
"""
