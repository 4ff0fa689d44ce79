# 60 s on, 60 s off, three times: six minutes, three of them work.
# Times: common practice, shortened from ten rounds. The powers are our own choice.
title     60/60
length    3:00..7:00

warm-up   2:00  power 40..50 to 60..70 %cp  cadence 75..100 rpm
rounds 3
  work    1:00  power 112..125 %cp  cadence 80..105 rpm
  rest    1:00  power 30..50 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
