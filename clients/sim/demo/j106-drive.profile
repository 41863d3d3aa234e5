# How OW-04 drives during J-106, in seconds from the receiver's start.
0     course     90
0     speed      0
41    speed      0
42    speed      4
44    speed      4
45    speed      0
