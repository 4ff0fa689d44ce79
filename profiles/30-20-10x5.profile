# 30 s easy, 20 s steady, 10 s hard, five times: five minutes, 50 s of them hard.
# One set of a protocol in the literature on running and cycling (table in BMJ Open Sport & Exercise
# Medicine), where the hard part is all that one has. The powers here are our own, gentler choice.
title     30-20-10
length    3:00..7:00

warm-up   2:00  power 40..55 %cp    cadence 75..100 rpm
rounds 5
  rest    0:30  power 40..55 %cp    cadence 70..95 rpm
  rest    0:20  power 75..90 %cp    cadence 75..100 rpm
  work    0:10  power 140..170 %cp  cadence 85..115 rpm
end
cool-down 3:00  power 25..40 %cp    cadence 60..90 rpm
