"""Load log: what springs lose through heat cycles and runs, each held against its own first reading.

| name | symbol | SI | meaning |
|---|---|---|---|
| test | - | - | one time a spring was on the tester, after so many runs |
| loss | - | percent | of the load of its own first test, at the height it works at with the valve closed |
| settled from | - | - | test that losses are compared from: the first heat cycle, else the first of all |
| settled loss | - | percent | loss since then |
| loss per ten runs | - | percent | slope of the line of least squares through the losses since then, over the runs |
| falling fast | - | - | losing more than twice the median of its set, and more than a tester tells |
| spread drift | - | N | how much further apart the loads of a set are now than at their first tests |
"""
