# 20 s hard, 2 minutes easy, three times: seven minutes, one of them hard.
# Times: common practice, where the hard part is all that one has. The powers here are our own,
# gentler choice.
title     20/120
length    3:00..7:00

warm-up   2:00  power 40..50 to 60..70 %cp  cadence 75..100 rpm
rounds 3
  work    0:20  power 150..180 %cp  cadence 85..115 rpm
  rest    2:00  power 30..50 %cp    cadence 60..95 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
