# What load cell, rope counter and tilt sensor of OW-04 show during J-106, in seconds from the
# device's start (the job begins 2 to 3 s later). Shape as in the fleet scenario, shortened.
0     line.pull  0
15    line.pull  0
16    line.pull  900
21    line.pull  900
22    line.pull  7600
29    line.pull  8300
30    line.pull  600
37    line.pull  600
38    line.pull  0
0     line.out   12.0
23    line.out   12.0
29    line.out   8.4
0     deck.tilt  11
32    deck.tilt  11
34    deck.tilt  0
