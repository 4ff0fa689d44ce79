# 60 s on, 30 s off, three times: four and a half minutes, three of them work.
# Times: Chidnok et al. 2012 (intermittent exercise in the severe domain), shortened. The powers are
# our own choice: a rider with 200 W and 15 kJ above them keeps more than half of those.
title     60/30
length    3:00..7:00

warm-up   2:00  power 40..50 to 60..70 %cp  cadence 75..100 rpm
rounds 3
  work    1:00  power 108..120 %cp  cadence 80..105 rpm
  rest    0:30  power 30..50 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
