"""Waiting: parts that are not here yet, what waits for them, and when each step can be done.

Days are whole days, counted from anywhere as long as all are counted from there.

| name | symbol | SI | meaning |
|---|---|---|---|
| arrival | - | day | between which days a part is here by what was said, soonest and latest; never a day nobody named |
| lead time | - | day | from order to arrival, least and most; a week is 7 days |
| reading that waits | - | - | what a bench reads or works out as soon as the parts it takes are here |
| step | - | - | work that takes days, the parts it needs and the steps that come before it |
| soonest pass, latest pass | - | - | all days figured with every part coming at its soonest, and at its latest |
| deciding chain | - | - | the parts and steps one after another that set the finish |
| slack | - | day | how much later a part or step may be without moving the finish |
| bench plan | - | - | one order of the steps that take the bench, one at a time, the longest chain after it first |
"""
