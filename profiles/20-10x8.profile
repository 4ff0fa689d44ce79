# 20 s on, 10 s off, eight times: four minutes, 2:40 of them work.
# The times are those of Tabata et al. 1996 (Med Sci Sports Exerc 28:1327), whose riders went to
# exhaustion. The powers here are far below theirs and our own choice: by the usual model a rider
# with 200 W and 15 kJ above them keeps half of those at the upper ends.
title     20/10
length    3:00..7:00

warm-up   1:00  power 40..55 %cp    cadence 75..100 rpm
rounds 8
  work    0:20  power 117..131 %cp  cadence 85..110 rpm
  rest    0:10  power 30..50 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
