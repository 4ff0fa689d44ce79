# 20 s on, 10 s off, and a little more than last time: each block asks for a share of what the last
# one like it came to. The first one, with none before it, is an easy one.
# Times: Tabata et al. 1996 (Med Sci Sports Exerc 28:1327), whose riders went to exhaustion. A rise
# by 2 to 10 % when the last one was done in full: ACSM position stand (Ratamess et al. 2009, Med
# Sci Sports Exerc 41:687), written for lifting; that it serves for this is our own choice.
title     20/10 and more
length    3:00..7:00

warm-up   2:00  power 40..55 %cp      cadence 75..100 rpm
rounds fit
  work    0:20  power 98..109 %mark   cadence 85..110 rpm  cue A little more than last time
  rest    0:10  power 25..40 %mark    cadence 70..100 rpm
end
cool-down 3:00  power 25..40 %cp      cadence 60..90 rpm  cue Keep the legs turning
