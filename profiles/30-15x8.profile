# 30 s on, 15 s off, eight times: six minutes, four of them work.
# One set, shortened from 13 rounds: Rønnestad et al. 2015 (Scand J Med Sci Sports 25:143), with the
# rest near half of the work. The powers are our own choice.
title     30/15
length    3:00..7:00

warm-up   1:30  power 40..55 %cp    cadence 75..100 rpm
rounds 8
  work    0:30  power 108..120 %cp  cadence 80..105 rpm
  rest    0:15  power 45..60 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
