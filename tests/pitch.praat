# Praat's pitch of a recording, every 10 ms: its time (s) and Hz, a line each; no line where there is none.
form args
  sentence infile
  sentence outfile
  real lo 75
  real hi 500
endform
Read from file: infile$
p = To Pitch: 0.01, lo, hi
n = Get number of frames
writeFile: outfile$, ""
for i to n
  f = Get value in frame: i, "Hertz"
  if f <> undefined
    t = Get time from frame number: i
    appendFileLine: outfile$, fixed$ (t, 4), " ", fixed$ (f, 3)
  endif
endfor
