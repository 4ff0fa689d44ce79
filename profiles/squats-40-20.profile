# Ten squats, slowly, then 40 s on and 20 s off: the block follows floor work.
# Times and tempo: common practice. The powers are below those of the block without squats, and our
# own choice.
title     Squats, 40/20
length    3:00..7:00

floor     10 x 3010  cue Squats, heels down
floor     0:45  cue Breathe, then mount
warm-up   1:00  power 40..50 to 60..70 %cp  cadence 75..100 rpm
rounds fit
  work    0:40  power 104..116 %cp  cadence 80..105 rpm
  rest    0:20  power 35..55 %cp    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
