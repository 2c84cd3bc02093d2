"""Spring fit: the gaps around the springs of one valve, from pocket to seal, as they stand and as the coils close.

| name | symbol | SI | meaning |
|---|---|---|---|
| radial gap | - | m | half of what two diameters differ by; negative where parts press on each other |
| nest | - | - | springs and dampers under one retainer, from the outside in |
| centering gap | - | m | radial gap of a spring on its locator or the retainer's step, of a locator in its pocket |
| pitch | p | m | from wire to wire of the working coils, spring free |
| growth | dD | m | how much wider a coil is with its wires on each other |
| ends held, ends free | - | - | whether the ends of a spring are kept from turning as it closes |
| out of square | - | m | how far the top coil leans off a square beside it, at most, turned once around |
"""
