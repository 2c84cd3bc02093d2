"""Guide boss: what to cut off guide tops, bosses and spring pockets, before the parts are there.

| name | symbol | SI | meaning |
|---|---|---|---|
| guide height | g | m | top of the guide above the spring seat as it is before any cut |
| retainer underside | u | m | underside of the retainer, above its spring step; negative where it hangs lower |
| seal height | s | m | top of the seal over the top of the guide it sits on |
| guide cut | x | m | what comes off the guide's top |
| guide in seal | - | m | how much of the guide stands inside the seal, over the boss |
| shim wish | t | m | room for shims that the pocket is to leave |
| fit diameter | - | m | diameter of guide or boss that the seal is pressed on |
| locator room | - | m | pocket diameter less the locator's outside diameter |
"""
