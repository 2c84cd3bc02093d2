"""Ways out: other locks, retainers, locators, valves or deeper pockets that put a kind of valve right.

| name | symbol | SI | meaning |
|---|---|---|---|
| offset | o | m | how much higher other locks, or another retainer, carry the spring; negative = lower |
| length change | l | m | how much longer than the fitted one another valve is, seat to lock groove and tip |
| pocket depth | q | m | how much deeper a spring pocket is cut |
| tip above retainer | - | m | how far the valve's tip stands over the retainer's top |
| pocket floor | - | m | metal between the spring pocket and what lies under it, water or oil |
| way | - | - | a choice of parts that all valves of one kind get alike |
| blocker | - | - | the valve and the check that keep every way from putting a kind of valve right |
"""
