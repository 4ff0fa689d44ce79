# 40 s on, 20 s off, five times: five minutes, 3:20 of them work.
# Times: common practice. The powers are our own choice.
title     40/20
length    3:00..7:00

warm-up   2:00  power 40..55 %cp    cadence 75..100 rpm
rounds 5
  work    0:40  power 108..120 %cp  cadence 80..105 rpm
  rest    0:20  power 35..55 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
