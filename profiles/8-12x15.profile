# 8 s fast, 12 s easy, fifteen times: five minutes, two of them fast.
# Times: common practice, shortened from twenty minutes. The powers are our own choice.
title     8/12
length    3:00..7:00

warm-up   2:00  power 40..50 to 65..75 %cp  cadence 75..100 rpm
rounds fit
  work    0:08  power 135..150 %cp  cadence 90..120 rpm
  rest    0:12  power 35..50 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
