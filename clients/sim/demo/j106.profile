# What the instruments of OW-04 show during J-106, in seconds from their start (the job begins
# about 3 s later). Shape of the pull as in the fleet scenario, shortened for the demo.
0     speed      0
0     course     90
0     line.pull  0
0     line.out   12.0
0     deck.tilt  11
17    line.pull  0
18    line.pull  900
24    line.pull  900
25    line.pull  7600
26    line.out   12.0
34    line.out   7.6
34    line.pull  8300
35    line.pull  600
42    line.pull  600
43    line.pull  0
36    deck.tilt  11
38    deck.tilt  0
46    speed      0
47    speed      4
50    speed      4
51    speed      0
