# 5 s fast, 10 s easy, twenty times: five minutes, 1:40 of them fast.
# Times: Glaister et al. 2003 (J Strength Cond Res 17:781), whose riders gave all they had. The
# powers here are far below that and our own choice. Five seconds are short for a brake: the load is
# there for the second half of them.
title     5/10
length    3:00..7:00

warm-up   2:00  power 40..50 to 65..75 %cp  cadence 75..100 rpm
rounds fit
  work    0:05  power 140..155 %cp  cadence 90..120 rpm
  rest    0:10  power 40..55 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
