"""Boost: what pressure in the ports asks of valve springs, and what an exhaust valve opens against.

| name | symbol | SI | meaning |
|---|---|---|---|
| boost, back pressure | p | Pa | mean gauge pressure in the intake and in the exhaust ports, engine under load |
| lifting pressure | - | Pa | what is higher in the port than in the cylinder, pushing a closed valve off its seat |
| pressure load | - | N | lifting pressure over the seat's area, less the stem's |
| wanted, needed seat load | - | N | what the valve wants without pressure, and with the pressure load on top |
| lobe load | - | N | load at the valve as it opens times the rocker ratio; a pushrod's too |
| pivot load | - | N | what a rocker's shaft or stud, or a finger's pivot carries meanwhile |
"""
